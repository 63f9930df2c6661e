package equilibrium

// Species names a dissolved species of the model.
type Species int

// The species. The first thirteen are the components, chosen at the zero level of protons of an alkalinity titration to
// the CO2 end point (Dickson, Deep-Sea Res. 28 (1981) 609: acids with pK below 4.5 count as given off, others as bound):
// CO2, H2PO4-, NH4+, H4SiO4, SO4 2-, F-, lactate-, H2 citrate-. With that choice total alkalinity is minus the total of
// the component H+.
const (
	Hydrogen Species = iota
	Calcium
	Magnesium
	Sodium
	Potassium
	Ammonium
	Sulfate
	Fluoride
	CarbonDioxide
	DihydrogenPhosphate
	Lactate
	DihydrogenCitrate
	Silica
	componentCount
)

// The other species, formed from the components.
const (
	Hydroxide = componentCount + iota
	Bicarbonate
	Carbonate
	CalciumBicarbonate
	CalciumCarbonate
	MagnesiumBicarbonate
	MagnesiumCarbonate
	SodiumBicarbonate
	CalciumSulfate
	MagnesiumSulfate
	SodiumSulfate
	PotassiumSulfate
	Bisulfate
	AmmoniumSulfate
	CalciumHydroxide
	MagnesiumHydroxide
	Ammonia
	SilicateOne
	SilicateTwo
	HydrogenFluoride
	CalciumFluoride
	MagnesiumFluoride
	PhosphoricAcid
	PhosphateOne
	PhosphateTwo
	CalciumDihydrogenPhosphate
	CalciumHydrogenPhosphate
	CalciumPhosphate
	MagnesiumDihydrogenPhosphate
	MagnesiumHydrogenPhosphate
	MagnesiumPhosphate
	SodiumHydrogenPhosphate
	PotassiumHydrogenPhosphate
	LacticAcid
	CalciumLactate
	MagnesiumLactate
	CitricAcid
	CitrateOne
	CitrateTwo
	CalciumCitrate
	CalciumHydrogenCitrate
	CalciumDihydrogenCitrate
	MagnesiumCitrate
	MagnesiumHydrogenCitrate
	MagnesiumDihydrogenCitrate
	SodiumCitrate
	PotassiumCitrate
	// Chloride and Nitrate take part in no equilibrium; they carry charge, ionic strength and current.
	Chloride
	Nitrate
	speciesCount
)

// activityClass picks the activity formula of a species.
type activityClass int8

// Ions with Truesdell & Jones parameters use log g = -A z^2 sqrt(I)/(1 + B a sqrt(I)) + b I (Truesdell & Jones, J. Res.
// USGS 2 (1974) 233, Table 5 for the ions below; a in angstrom); other ions use Davies (Ion Association, 1962) with 0.3 I;
// neutral species log g = 0.1 I (Harned & Owen 1958; the convention of Parkhurst & Appelo 2013). Water's own activity is
// taken as 1: at 0.1 mol/L it is 0.998. This is the choice of the WATEQ4F compilation, whose constants are used.
const (
	neutral activityClass = iota
	davies1
	davies2
	davies3
	likeHydrogen
	likeCalcium
	likeMagnesium
	likeSodium
	likePotassium
	likeSulfate
	likeBicarbonate
	likeCarbonate
	likeHydroxide
	classCount
)

type activityParameter struct {
	charge  float64
	size, b float64 // size 0 means Davies
}

var activityParameters = [classCount]activityParameter{
	davies1: {charge: 1}, davies2: {charge: 2}, davies3: {charge: 3},
	likeHydrogen: {1, 9.0, 0}, likeCalcium: {2, 5.0, 0.165}, likeMagnesium: {2, 5.5, 0.20}, likeSodium: {1, 4.0, 0.075},
	likePotassium: {1, 3.5, 0.015}, likeSulfate: {2, 5.0, -0.04}, likeBicarbonate: {1, 5.4, 0},
	likeCarbonate: {2, 5.4, 0}, likeHydroxide: {1, 3.5, 0},
}

// term is a stoichiometric coefficient of a component in a species.
type term struct {
	component Species
	number    float64
}

type speciesRow struct {
	name   string
	charge float64
	class  activityClass
	terms  []term
}

const (
	hy, ca, mg, na, ka, am, su, fl = Hydrogen, Calcium, Magnesium, Sodium, Potassium, Ammonium, Sulfate, Fluoride
	co, po, la, ci, si             = CarbonDioxide, DihydrogenPhosphate, Lactate, DihydrogenCitrate, Silica
)

var speciesTable = [speciesCount]speciesRow{
	Hydrogen:            {"H+", 1, likeHydrogen, []term{{hy, 1}}},
	Calcium:             {"Ca2+", 2, likeCalcium, []term{{ca, 1}}},
	Magnesium:           {"Mg2+", 2, likeMagnesium, []term{{mg, 1}}},
	Sodium:              {"Na+", 1, likeSodium, []term{{na, 1}}},
	Potassium:           {"K+", 1, likePotassium, []term{{ka, 1}}},
	Ammonium:            {"NH4+", 1, davies1, []term{{am, 1}}},
	Sulfate:             {"SO4 2-", -2, likeSulfate, []term{{su, 1}}},
	Fluoride:            {"F-", -1, davies1, []term{{fl, 1}}},
	CarbonDioxide:       {"CO2", 0, neutral, []term{{co, 1}}},
	DihydrogenPhosphate: {"H2PO4-", -1, davies1, []term{{po, 1}}},
	Lactate:             {"lactate-", -1, davies1, []term{{la, 1}}},
	DihydrogenCitrate:   {"H2 citrate-", -1, davies1, []term{{ci, 1}}},
	Silica:              {"H4SiO4", 0, neutral, []term{{si, 1}}},

	Hydroxide:            {"OH-", -1, likeHydroxide, []term{{hy, -1}}},
	Bicarbonate:          {"HCO3-", -1, likeBicarbonate, []term{{co, 1}, {hy, -1}}},
	Carbonate:            {"CO3 2-", -2, likeCarbonate, []term{{co, 1}, {hy, -2}}},
	CalciumBicarbonate:   {"CaHCO3+", 1, davies1, []term{{ca, 1}, {co, 1}, {hy, -1}}},
	CalciumCarbonate:     {"CaCO3", 0, neutral, []term{{ca, 1}, {co, 1}, {hy, -2}}},
	MagnesiumBicarbonate: {"MgHCO3+", 1, davies1, []term{{mg, 1}, {co, 1}, {hy, -1}}},
	MagnesiumCarbonate:   {"MgCO3", 0, neutral, []term{{mg, 1}, {co, 1}, {hy, -2}}},
	SodiumBicarbonate:    {"NaHCO3", 0, neutral, []term{{na, 1}, {co, 1}, {hy, -1}}},

	CalciumSulfate:     {"CaSO4", 0, neutral, []term{{ca, 1}, {su, 1}}},
	MagnesiumSulfate:   {"MgSO4", 0, neutral, []term{{mg, 1}, {su, 1}}},
	SodiumSulfate:      {"NaSO4-", -1, davies1, []term{{na, 1}, {su, 1}}},
	PotassiumSulfate:   {"KSO4-", -1, davies1, []term{{ka, 1}, {su, 1}}},
	Bisulfate:          {"HSO4-", -1, davies1, []term{{su, 1}, {hy, 1}}},
	AmmoniumSulfate:    {"NH4SO4-", -1, davies1, []term{{am, 1}, {su, 1}}},
	CalciumHydroxide:   {"CaOH+", 1, davies1, []term{{ca, 1}, {hy, -1}}},
	MagnesiumHydroxide: {"MgOH+", 1, davies1, []term{{mg, 1}, {hy, -1}}},

	Ammonia:           {"NH3", 0, neutral, []term{{am, 1}, {hy, -1}}},
	SilicateOne:       {"H3SiO4-", -1, davies1, []term{{si, 1}, {hy, -1}}},
	SilicateTwo:       {"H2SiO4 2-", -2, davies2, []term{{si, 1}, {hy, -2}}},
	HydrogenFluoride:  {"HF", 0, neutral, []term{{fl, 1}, {hy, 1}}},
	CalciumFluoride:   {"CaF+", 1, davies1, []term{{ca, 1}, {fl, 1}}},
	MagnesiumFluoride: {"MgF+", 1, davies1, []term{{mg, 1}, {fl, 1}}},

	PhosphoricAcid:               {"H3PO4", 0, neutral, []term{{po, 1}, {hy, 1}}},
	PhosphateOne:                 {"HPO4 2-", -2, davies2, []term{{po, 1}, {hy, -1}}},
	PhosphateTwo:                 {"PO4 3-", -3, davies3, []term{{po, 1}, {hy, -2}}},
	CalciumDihydrogenPhosphate:   {"CaH2PO4+", 1, davies1, []term{{ca, 1}, {po, 1}}},
	CalciumHydrogenPhosphate:     {"CaHPO4", 0, neutral, []term{{ca, 1}, {po, 1}, {hy, -1}}},
	CalciumPhosphate:             {"CaPO4-", -1, davies1, []term{{ca, 1}, {po, 1}, {hy, -2}}},
	MagnesiumDihydrogenPhosphate: {"MgH2PO4+", 1, davies1, []term{{mg, 1}, {po, 1}}},
	MagnesiumHydrogenPhosphate:   {"MgHPO4", 0, neutral, []term{{mg, 1}, {po, 1}, {hy, -1}}},
	MagnesiumPhosphate:           {"MgPO4-", -1, davies1, []term{{mg, 1}, {po, 1}, {hy, -2}}},
	SodiumHydrogenPhosphate:      {"NaHPO4-", -1, davies1, []term{{na, 1}, {po, 1}, {hy, -1}}},
	PotassiumHydrogenPhosphate:   {"KHPO4-", -1, davies1, []term{{ka, 1}, {po, 1}, {hy, -1}}},

	LacticAcid:       {"lactic acid", 0, neutral, []term{{la, 1}, {hy, 1}}},
	CalciumLactate:   {"Ca lactate+", 1, davies1, []term{{ca, 1}, {la, 1}}},
	MagnesiumLactate: {"Mg lactate+", 1, davies1, []term{{mg, 1}, {la, 1}}},

	CitricAcid:                 {"citric acid", 0, neutral, []term{{ci, 1}, {hy, 1}}},
	CitrateOne:                 {"H citrate 2-", -2, davies2, []term{{ci, 1}, {hy, -1}}},
	CitrateTwo:                 {"citrate 3-", -3, davies3, []term{{ci, 1}, {hy, -2}}},
	CalciumCitrate:             {"Ca citrate-", -1, davies1, []term{{ca, 1}, {ci, 1}, {hy, -2}}},
	CalciumHydrogenCitrate:     {"CaH citrate", 0, neutral, []term{{ca, 1}, {ci, 1}, {hy, -1}}},
	CalciumDihydrogenCitrate:   {"CaH2 citrate+", 1, davies1, []term{{ca, 1}, {ci, 1}}},
	MagnesiumCitrate:           {"Mg citrate-", -1, davies1, []term{{mg, 1}, {ci, 1}, {hy, -2}}},
	MagnesiumHydrogenCitrate:   {"MgH citrate", 0, neutral, []term{{mg, 1}, {ci, 1}, {hy, -1}}},
	MagnesiumDihydrogenCitrate: {"MgH2 citrate+", 1, davies1, []term{{mg, 1}, {ci, 1}}},
	SodiumCitrate:              {"Na citrate 2-", -2, davies2, []term{{na, 1}, {ci, 1}, {hy, -2}}},
	PotassiumCitrate:           {"K citrate 2-", -2, davies2, []term{{ka, 1}, {ci, 1}, {hy, -2}}},

	Chloride: {"Cl-", -1, likePotassium, nil},
	Nitrate:  {"NO3-", -1, davies1, nil},
}

// String returns the name of the species, such as "CaHCO3+".
func (s Species) String() string {
	if s < 0 || s >= speciesCount {
		return "unknown species"
	}
	return speciesTable[s].name
}

// Charge returns the charge number of the species.
func (s Species) Charge() float64 {
	if s < 0 || s >= speciesCount {
		return 0
	}
	return speciesTable[s].charge
}
