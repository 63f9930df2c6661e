package water

import (
	"fmt"
	"math"
	"strings"
)

// ID numbers the analytes and derived values in the order in which they are
// shown. The numbers are not stored anywhere: names are.
type ID uint8

// The analytes that can be read, then the values that are only computed.
const (
	PHValue ID = iota
	Alkalinity
	CalciumHardness
	TotalHardness
	MagnesiumHardness
	Calcium
	Magnesium
	Sodium
	Potassium
	Chloride
	Sulfate
	Bicarbonate
	Carbonate
	Nitrate
	Nitrite
	Ammonium
	Fluoride
	Phosphate
	Silica
	Iron
	Manganese
	Copper
	Zinc
	FreeChlorine
	TotalChlorine
	ElectricalConductivity
	DissolvedSolids
	TurbidityValue
	SampleTemperature

	ResidualAlkalinity
	CarbonateHardness
	NoncarbonateHardness
	SulfateChlorideRatio
	CarbonDioxide
	IonicStrength
	CationSum
	AnionSum
	ChargeBalance
	SaturationIndex
	CombinedChlorine

	NumNames
	NumAnalytes = ResidualAlkalinity
)

// entity is what an amount of the analyte counts.
type entity uint8

const (
	ownIon        entity = iota // one ion or molecule of the analyte
	divalentIon                 // one Ca2+ or Mg2+: hardness
	acidCapacity                // one H+ taken up: alkalinity
	notCountable                // pH, conductivity, ratios
	mixedHardness               // alkalinity less hardness: meq only
)

// Analyte is one row of the analyte table: a thing that is measured in a water
// or computed from what was measured.
type Analyte struct {
	ID    ID
	Key   string // the one name, everywhere
	Title string // in words
	Unit  Unit   // the standard unit, in which queries and exports give the value

	// MolarMass is that of the species that the standard unit counts, g/mol, and
	// Charge its charge number with sign; 0 where neither applies.
	MolarMass float64
	Charge    int

	// Plain says whether mg/L without a basis is understood: as the ion itself.
	// Where two bases are in common use it is not, and the basis must be said.
	Plain bool
	Bases []Basis // the bases that fit, for mg/L

	Degrees Family // which German degree fits: hardness, alkalinity or none
	entity  entity

	UCUM       string // the standard unit's UCUM code
	Exchange   string // characteristic name in the EPA/USGS water-quality exchange (WQX 3.0) domain list
	Speciation string // its method speciation there
	CAS        string // CAS registry number of the species

	// Typical is the 95 % accuracy that a bench photometer or pen reaches when
	// nothing is declared for the meter or method: absolute part in the standard
	// unit and part of the reading. Common practice, no source.
	Typical Accuracy

	Also []string // other names that people use for it; wj/water/spelling finds it by them
	Doc  string   // one sentence: what it is
}

var (
	hardnessBases   = []Basis{AsCaCO3, AsCaO, AsCa}
	alkalinityBases = []Basis{AsCaCO3, AsHCO3, AsCaO}
)

// table is the analyte table. Exchange names are those of the WQX 3.0
// characteristic list; CAS numbers are those of the ions (from memory, except
// where a public list was consulted: calcium, sulfate, chloride; a test holds
// their check digits).
var table = [NumNames]Analyte{
	PHValue: {Key: "pH", Title: "pH", Unit: None, entity: notCountable, UCUM: "[pH]", Exchange: "pH",
		Typical: Accuracy{Absolute: 0.2}, Also: []string{"acidity", "reaction"}, Doc: "negative decimal logarithm of the activity of hydrogen ions"},
	Alkalinity: {Key: "alkalinity", Title: "alkalinity", Unit: MgLCaCO3, MolarMass: massCaCO3 / 2, Bases: alkalinityBases, Degrees: AlkalinityDegree, entity: acidCapacity,
		UCUM: "mg/L{CaCO3}", Exchange: "Alkalinity, total", Speciation: "as CaCO3", CAS: "471-34-1",
		Typical: Accuracy{Absolute: 5, Relative: 0.05}, Also: []string{"alk", "TA", "total alkalinity", "m-alkalinity", "m alk", "acid capacity", "KS4.3", "KH", "ANC"}, Doc: "total alkalinity: the acid that the water takes up to about pH 4.3–4.5"},
	CalciumHardness: {Key: "calcium_hardness", Title: "calcium hardness", Unit: MgLCaCO3, MolarMass: massCaCO3, Charge: 2, Bases: hardnessBases, Degrees: HardnessDegree, entity: divalentIon,
		UCUM: "mg/L{CaCO3}", Exchange: "Hardness, calcium", Speciation: "as CaCO3", CAS: "471-34-1",
		Typical: Accuracy{Absolute: 5, Relative: 0.05}, Also: []string{"CaH", "calcium as CaCO3", "Ca hardness"}, Doc: "the part of the hardness that is calcium"},
	TotalHardness: {Key: "total_hardness", Title: "total hardness", Unit: MgLCaCO3, MolarMass: massCaCO3, Charge: 2, Bases: hardnessBases[:2], Degrees: HardnessDegree, entity: divalentIon,
		UCUM: "mg/L{CaCO3}", Exchange: "Hardness, Ca, Mg", Speciation: "as CaCO3", CAS: "471-34-1",
		Typical: Accuracy{Absolute: 5, Relative: 0.05}, Also: []string{"hardness", "TH", "GH", "dGH", "general hardness", "water hardness"}, Doc: "calcium and magnesium together"},
	MagnesiumHardness: {Key: "magnesium_hardness", Title: "magnesium hardness", Unit: MgLCaCO3, MolarMass: massCaCO3, Charge: 2, Bases: []Basis{AsCaCO3, AsCaO, AsMg}, Degrees: HardnessDegree, entity: divalentIon,
		UCUM: "mg/L{CaCO3}", Exchange: "Hardness, magnesium", Speciation: "as CaCO3", CAS: "471-34-1",
		Typical: Accuracy{Absolute: 5, Relative: 0.05}, Also: []string{"MgH", "Mg hardness"}, Doc: "the part of the hardness that is magnesium"},
	Calcium: {Key: "calcium", Title: "calcium", Unit: MilligramLitre, MolarMass: massCa, Charge: 2, Plain: true, Bases: []Basis{AsCa, AsCaCO3, AsCaO},
		UCUM: "mg/L", Exchange: "Calcium", Speciation: "as Ca", CAS: "14127-61-8", Typical: Accuracy{Absolute: 2, Relative: 0.05}, Also: []string{"Ca", "Ca2+", "Ca++"}, Doc: "dissolved calcium, as the ion"},
	Magnesium: {Key: "magnesium", Title: "magnesium", Unit: MilligramLitre, MolarMass: massMg, Charge: 2, Plain: true, Bases: []Basis{AsMg, AsCaCO3, AsCaO},
		UCUM: "mg/L", Exchange: "Magnesium", Speciation: "as Mg", CAS: "22537-22-0", Typical: Accuracy{Absolute: 1, Relative: 0.05}, Also: []string{"Mg", "Mg2+", "Mg++"}, Doc: "dissolved magnesium, as the ion"},
	Sodium: {Key: "sodium", Title: "sodium", Unit: MilligramLitre, MolarMass: massNa, Charge: 1, Plain: true, Bases: []Basis{AsNa},
		UCUM: "mg/L", Exchange: "Sodium", Speciation: "as Na", CAS: "17341-25-2", Typical: Accuracy{Absolute: 1, Relative: 0.05}, Also: []string{"Na", "Na+", "natrium", "salt"}, Doc: "dissolved sodium; by difference it includes potassium and all errors"},
	Potassium: {Key: "potassium", Title: "potassium", Unit: MilligramLitre, MolarMass: massK, Charge: 1, Plain: true, Bases: []Basis{AsK},
		UCUM: "mg/L", Exchange: "Potassium", Speciation: "as K", CAS: "24203-36-9", Typical: Accuracy{Absolute: 0.5, Relative: 0.05}, Also: []string{"K", "K+", "kalium"}, Doc: "dissolved potassium"},
	Chloride: {Key: "chloride", Title: "chloride", Unit: MilligramLitre, MolarMass: massCl, Charge: -1, Plain: true, Bases: []Basis{AsCl},
		UCUM: "mg/L", Exchange: "Chloride", Speciation: "as Cl", CAS: "16887-00-6", Typical: Accuracy{Absolute: 2, Relative: 0.05}, Also: []string{"Cl", "Cl-", "chlorides", "salt"}, Doc: "dissolved chloride"},
	Sulfate: {Key: "sulfate", Title: "sulfate", Unit: MilligramLitre, MolarMass: massSO4, Charge: -2, Plain: true, Bases: []Basis{AsSO4, AsS},
		UCUM: "mg/L", Exchange: "Sulfate", Speciation: "as SO4", CAS: "14808-79-8", Typical: Accuracy{Absolute: 5, Relative: 0.08}, Also: []string{"SO4", "SO42-", "SO4--", "sulfates", "sulfur"}, Doc: "dissolved sulfate"},
	Bicarbonate: {Key: "bicarbonate", Title: "bicarbonate", Unit: MilligramLitre, MolarMass: massHCO3, Charge: -1, Plain: true, Bases: []Basis{AsHCO3, AsCaCO3},
		UCUM: "mg/L", Exchange: "Bicarbonate", Speciation: "as HCO3", CAS: "71-52-3", Typical: Accuracy{Absolute: 6, Relative: 0.05}, Also: []string{"HCO3", "HCO3-", "hydrogencarbonate", "hydrogen carbonate"}, Doc: "hydrogencarbonate ion; from alkalinity and pH where it was not reported"},
	Carbonate: {Key: "carbonate", Title: "carbonate", Unit: MilligramLitre, MolarMass: massCO3, Charge: -2, Plain: true, Bases: []Basis{AsCO3, AsCaCO3},
		UCUM: "mg/L", Exchange: "Carbonate", Speciation: "as CO3", CAS: "3812-32-6", Typical: Accuracy{Absolute: 1, Relative: 0.1}, Also: []string{"CO3", "CO32-"}, Doc: "carbonate ion; from alkalinity and pH where it was not reported"},
	Nitrate: {Key: "nitrate", Title: "nitrate", Unit: MilligramLitre.With(AsNO3), MolarMass: massNO3, Charge: -1, Bases: []Basis{AsNO3, AsN},
		UCUM: "mg/L{NO3}", Exchange: "Nitrate", Speciation: "as NO3", CAS: "14797-55-8", Typical: Accuracy{Absolute: 1, Relative: 0.08}, Also: []string{"NO3", "NO3-", "nitrates"}, Doc: "nitrate ion; always with its basis, as NO3 or as N"},
	Nitrite: {Key: "nitrite", Title: "nitrite", Unit: MilligramLitre.With(AsNO2), MolarMass: massNO2, Charge: -1, Bases: []Basis{AsNO2, AsN},
		UCUM: "mg/L{NO2}", Exchange: "Nitrite", Speciation: "as NO2", CAS: "14797-65-0", Typical: Accuracy{Absolute: 0.02, Relative: 0.08}, Also: []string{"NO2", "NO2-", "nitrites"}, Doc: "nitrite ion; always with its basis, as NO2 or as N"},
	Ammonium: {Key: "ammonium", Title: "ammonium", Unit: MilligramLitre.With(AsNH4), MolarMass: massNH4, Charge: 1, Bases: []Basis{AsNH4, AsN},
		UCUM: "mg/L{NH4}", Exchange: "Ammonium", Speciation: "as NH4", CAS: "14798-03-9", Typical: Accuracy{Absolute: 0.05, Relative: 0.1}, Also: []string{"NH4", "NH4+", "ammonia", "NH3"}, Doc: "ammonium ion; always with its basis, as NH4 or as N"},
	Fluoride: {Key: "fluoride", Title: "fluoride", Unit: MilligramLitre, MolarMass: massF, Charge: -1, Plain: true, Bases: []Basis{AsF},
		UCUM: "mg/L", Exchange: "Fluoride", Speciation: "as F", CAS: "16984-48-8", Typical: Accuracy{Absolute: 0.05, Relative: 0.1}, Also: []string{"F", "F-", "fluorides"}, Doc: "dissolved fluoride"},
	Phosphate: {Key: "phosphate", Title: "phosphate", Unit: MilligramLitre.With(AsPO4), MolarMass: massPO4, Bases: []Basis{AsPO4, AsP},
		UCUM: "mg/L{PO4}", Exchange: "Orthophosphate", Speciation: "as PO4", CAS: "14265-44-2", Typical: Accuracy{Absolute: 0.1, Relative: 0.1}, Also: []string{"PO4", "PO43-", "orthophosphate", "phosphates"}, Doc: "orthophosphate; always with its basis, as PO4 or as P"},
	Silica: {Key: "silica", Title: "silica", Unit: MilligramLitre.With(AsSiO2), MolarMass: massSiO2, Bases: []Basis{AsSiO2, AsSi},
		UCUM: "mg/L{SiO2}", Exchange: "Silica", Speciation: "as SiO2", CAS: "7631-86-9", Typical: Accuracy{Absolute: 1, Relative: 0.1}, Also: []string{"SiO2", "silicate", "silicon"}, Doc: "dissolved silica; always with its basis, as SiO2 or as Si"},
	Iron: {Key: "iron", Title: "iron", Unit: MilligramLitre, MolarMass: massFe, Charge: 2, Plain: true, Bases: []Basis{AsFe},
		UCUM: "mg/L", Exchange: "Iron", Speciation: "as Fe", CAS: "7439-89-6", Typical: Accuracy{Absolute: 0.02, Relative: 0.1}, Also: []string{"Fe", "ferrous", "ferric"}, Doc: "total iron"},
	Manganese: {Key: "manganese", Title: "manganese", Unit: MilligramLitre, MolarMass: massMn, Charge: 2, Plain: true, Bases: []Basis{AsMn},
		UCUM: "mg/L", Exchange: "Manganese", Speciation: "as Mn", CAS: "7439-96-5", Typical: Accuracy{Absolute: 0.02, Relative: 0.1}, Also: []string{"Mn"}, Doc: "total manganese"},
	Copper: {Key: "copper", Title: "copper", Unit: MilligramLitre, MolarMass: massCu, Charge: 2, Plain: true, Bases: []Basis{AsCu},
		UCUM: "mg/L", Exchange: "Copper", Speciation: "as Cu", CAS: "7440-50-8", Typical: Accuracy{Absolute: 0.05, Relative: 0.1}, Also: []string{"Cu"}, Doc: "total copper"},
	Zinc: {Key: "zinc", Title: "zinc", Unit: MilligramLitre, MolarMass: massZn, Charge: 2, Plain: true, Bases: []Basis{AsZn},
		UCUM: "mg/L", Exchange: "Zinc", Speciation: "as Zn", CAS: "7440-66-6", Typical: Accuracy{Absolute: 0.05, Relative: 0.1}, Also: []string{"Zn"}, Doc: "total zinc"},
	FreeChlorine: {Key: "free_chlorine", Title: "free chlorine", Unit: MilligramLitre, MolarMass: massCl2, Plain: true, Bases: []Basis{AsCl2},
		UCUM: "mg/L{Cl2}", Exchange: "Free available chlorine", Speciation: "as Cl2", CAS: "7782-50-5", Typical: Accuracy{Absolute: 0.03, Relative: 0.1}, Also: []string{"chlorine", "FAC", "FC", "free available chlorine", "free Cl2"}, Doc: "chlorine as hypochlorous acid and hypochlorite, expressed as Cl2"},
	TotalChlorine: {Key: "total_chlorine", Title: "total chlorine", Unit: MilligramLitre, MolarMass: massCl2, Plain: true, Bases: []Basis{AsCl2},
		UCUM: "mg/L{Cl2}", Exchange: "Total residual chlorine", Speciation: "as Cl2", CAS: "7782-50-5", Typical: Accuracy{Absolute: 0.03, Relative: 0.1}, Also: []string{"chlorine", "TC", "TRC", "total residual chlorine", "total Cl2"}, Doc: "free chlorine and chloramines together, expressed as Cl2"},
	ElectricalConductivity: {Key: "conductivity", Title: "conductivity", Unit: MicrosiemensCm, entity: notCountable,
		UCUM: "uS/cm", Exchange: "Specific conductance", Typical: Accuracy{Absolute: 2, Relative: 0.03}, Also: []string{"EC", "conductance", "specific conductance", "cond", "SC"}, Doc: "electrical conductivity at 25 degC"},
	DissolvedSolids: {Key: "dissolved_solids", Title: "dissolved solids", Unit: MilligramLitre, entity: notCountable, Plain: true,
		UCUM: "mg/L", Exchange: "Total dissolved solids", Typical: Accuracy{Absolute: 5, Relative: 0.1}, Also: []string{"TDS", "total dissolved solids", "dry residue", "residue"}, Doc: "total dissolved solids; say how they were obtained"},
	TurbidityValue: {Key: "turbidity", Title: "turbidity", Unit: TurbidityUnit, entity: notCountable,
		UCUM: "{NTU}", Exchange: "Turbidity", Typical: Accuracy{Absolute: 0.2, Relative: 0.1}, Also: []string{"NTU", "cloudiness", "FNU"}, Doc: "cloudiness by scattered light"},
	SampleTemperature: {Key: "temperature", Title: "temperature", Unit: DegreeCelsius, entity: notCountable,
		UCUM: "Cel", Exchange: "Temperature, water", Typical: Accuracy{Absolute: 0.5}, Also: []string{"temp", "T", "degC"}, Doc: "temperature of the water as sampled"},

	ResidualAlkalinity: {Key: "residual_alkalinity", Title: "residual alkalinity", Unit: MgLCaCO3, MolarMass: massCaCO3 / 2, Bases: []Basis{AsCaCO3, AsCaO, AsHCO3}, Degrees: AlkalinityDegree, entity: mixedHardness,
		UCUM: "mg/L{CaCO3}", Also: []string{"RA"}, Doc: "alkalinity left after calcium and magnesium have reacted with malt phosphate"},
	CarbonateHardness: {Key: "carbonate_hardness", Title: "carbonate hardness", Unit: MgLCaCO3, MolarMass: massCaCO3, Charge: 2, Bases: hardnessBases[:2], Degrees: HardnessDegree, entity: divalentIon,
		UCUM: "mg/L{CaCO3}", Exchange: "Hardness, carbonate", Speciation: "as CaCO3", Also: []string{"temporary hardness", "KH"}, Doc: "the smaller of total hardness and alkalinity: what boiling can remove"},
	NoncarbonateHardness: {Key: "noncarbonate_hardness", Title: "noncarbonate hardness", Unit: MgLCaCO3, MolarMass: massCaCO3, Charge: 2, Bases: hardnessBases[:2], Degrees: HardnessDegree, entity: divalentIon,
		UCUM: "mg/L{CaCO3}", Exchange: "Hardness, non-carbonate", Speciation: "as CaCO3", Also: []string{"permanent hardness", "NKH"}, Doc: "total hardness less alkalinity, where that is more than nothing"},
	SulfateChlorideRatio: {Key: "sulfate_chloride_ratio", Title: "sulfate to chloride ratio", Unit: None, entity: notCountable, UCUM: "1", Also: []string{"SO4/Cl", "sulfate to chloride", "ratio"}, Doc: "by mass; says little when both are low"},
	CarbonDioxide: {Key: "carbon_dioxide", Title: "carbon dioxide", Unit: MilligramLitre, MolarMass: massCO2, Plain: true,
		UCUM: "mg/L", Exchange: "Carbon dioxide", Speciation: "as CO2", CAS: "124-38-9", Also: []string{"CO2"}, Doc: "dissolved carbon dioxide with carbonic acid, from alkalinity and pH"},
	IonicStrength:   {Key: "ionic_strength", Title: "ionic strength", Unit: MillimolLitre, entity: notCountable, UCUM: "mmol/L", Also: []string{"I", "mu"}, Doc: "half the sum of concentration times charge squared"},
	CationSum:       {Key: "cation_sum", Title: "sum of cations", Unit: MilliequivLitre, entity: notCountable, UCUM: "meq/L", Also: []string{"cations"}, Doc: "measured cations in milliequivalents"},
	AnionSum:        {Key: "anion_sum", Title: "sum of anions", Unit: MilliequivLitre, entity: notCountable, UCUM: "meq/L", Also: []string{"anions"}, Doc: "measured anions in milliequivalents"},
	ChargeBalance:   {Key: "charge_balance", Title: "charge balance", Unit: Percent, entity: notCountable, UCUM: "%", Also: []string{"balance", "ion balance", "electroneutrality", "CBE"}, Doc: "100 × (cations − anions) / (cations + anions); only where sodium was measured"},
	SaturationIndex: {Key: "saturation_index", Title: "calcite saturation index", Unit: None, entity: notCountable, UCUM: "1", Exchange: "Langelier index", Also: []string{"SI", "LSI", "Langelier", "Langelier index"}, Doc: "logarithm of the ion product of calcite over its solubility product"},
	CombinedChlorine: {Key: "combined_chlorine", Title: "combined chlorine", Unit: MilligramLitre, MolarMass: massCl2, Plain: true, Bases: []Basis{AsCl2},
		UCUM: "mg/L{Cl2}", Exchange: "Combined chlorine", Speciation: "as Cl2", Also: []string{"chloramine", "chloramines", "monochloramine", "CC"}, Doc: "total less free chlorine: chloramines"},
}

func init() {
	for i := range table {
		table[i].ID = ID(i)
	}
}

var byKey = func() map[string]ID {
	m := make(map[string]ID, NumNames)
	for i := range table {
		m[table[i].Key] = ID(i)
	}
	return m
}()

// Info is the row of the analyte table.
func (id ID) Info() *Analyte { return &table[id] }

// Scales reports whether a reading in a diluted sample, times the dilution, is
// the sample's own: of everything that a volume holds an amount of. pH is a
// logarithm and a temperature a state, and no factor brings them back.
// Conductivity is the sum over the ions, and scales but for what the ions lose by
// standing closer together: a 1:1 dilution of drinking water overstates it by 3
// to 5 % (Kohlrausch's square-root law; a test computes it), where no factor at
// all would halve it.
func (id ID) Scales() bool { return id != PHValue && id != SampleTemperature }

// Dilutable reports whether a test may be repeated on a diluted sample when it
// was beyond the range: not what does not scale; nor conductivity and turbidity,
// which do so only nearly; nor chlorine, which is lost or eaten up by the
// dilution water (common practice, no source).
func (id ID) Dilutable() bool {
	switch id {
	case ElectricalConductivity, TurbidityValue, FreeChlorine, TotalChlorine:
		return false
	}
	return id.Scales()
}

// String is the key of the analyte or derived value.
func (id ID) String() string {
	if id >= NumNames {
		return fmt.Sprintf("ID(%d)", uint8(id))
	}
	return table[id].Key
}

// Lookup finds an analyte or derived value by its exact key.
func Lookup(key string) (ID, bool) {
	id, ok := byKey[key]
	return id, ok
}

// LookupAnalyte finds one that can be read, not only computed.
func LookupAnalyte(key string) (ID, bool) {
	id, ok := byKey[key]
	return id, ok && id < NumAnalytes
}

// AnalyteKeys lists the keys of all analytes that can be read.
func AnalyteKeys() []string { return keys(0, NumAnalytes) }

// Keys lists the keys of all analytes and derived values.
func Keys() []string { return keys(0, NumNames) }

func keys(from, to ID) []string {
	out := make([]string, 0, to-from)
	for id := from; id < to; id++ {
		out = append(out, table[id].Key)
	}
	return out
}

// equivalents is the charge equivalents that one counted entity stands for.
func (a *Analyte) equivalents() float64 {
	switch a.entity {
	case divalentIon:
		return 2
	case acidCapacity, mixedHardness:
		return 1
	}
	return math.Abs(float64(a.Charge))
}

// perMole is how many counted entities one mole of the basis stands for.
func (a *Analyte) perMole(b Basis) float64 {
	switch b {
	case AsCaCO3, AsCaO:
		return 2 / a.equivalents()
	}
	if a.entity != ownIon {
		return bases[b].eq / a.equivalents()
	}
	return 1
}

// toMillimole converts v in unit u to mmol/L of what the analyte counts. ok is
// false where the unit does not fit the analyte.
func (a *Analyte) toMillimole(u Unit) (factor float64, ok bool) {
	if a.entity == notCountable {
		return 0, false
	}
	row := &unitTable[u.id]
	switch row.family {
	case MassPerVolume:
		b := u.basis
		if b == NoBasis {
			if !a.Plain {
				return 0, false
			}
			return row.factor / a.MolarMass, true
		}
		for _, fits := range a.Bases {
			if fits == b {
				return row.factor / bases[b].mass * a.perMole(b), true
			}
		}
		return 0, false
	case AmountPerVolume:
		if a.entity == mixedHardness {
			return 0, false
		}
		return row.factor, true
	case ChargePerVolume:
		if eq := a.equivalents(); eq > 0 {
			return row.factor / eq, true
		}
		return 0, false
	case HardnessDegree, AlkalinityDegree:
		// Residual alkalinity is told in either German degree: it is made of both.
		if a.Degrees == row.family || a.entity == mixedHardness {
			return row.factor / massCaO * a.perMole(AsCaO), true
		}
	case CarbonateDegree:
		if a.Degrees != NoFamily {
			return row.factor / massCaCO3 * a.perMole(AsCaCO3), true
		}
	}
	return 0, false
}

// Convert brings a value of the analyte from one unit to another. It fails
// where either unit does not fit the analyte.
func (a *Analyte) Convert(v float64, from, to Unit) (float64, error) {
	if from == to {
		return v, nil
	}
	if err := a.FitUnit(from); err != nil {
		return math.NaN(), err
	}
	if err := a.FitUnit(to); err != nil {
		return math.NaN(), err
	}
	if a.entity == notCountable {
		return to.fromBase(from.base(v)), nil
	}
	in, _ := a.toMillimole(from)
	out, _ := a.toMillimole(to)
	return v * in / out, nil
}

// fits reports whether the unit can be said of the analyte.
func (a *Analyte) fits(u Unit) bool {
	switch {
	case a.Unit == u:
		return true
	case u.IsNone() || a.Unit.IsNone():
		return false
	case a.entity == notCountable:
		return u.Family() == a.Unit.Family() && u.basis == NoBasis
	}
	_, ok := a.toMillimole(u)
	return ok
}

// FitUnit says why the unit cannot be said of the analyte; nil if it can.
// Errors are *QuantityError with FaultNoUnit, FaultKind or FaultBasis, without
// a place.
func (a *Analyte) FitUnit(u Unit) error {
	if a.fits(u) {
		return nil
	}
	if u.IsNone() {
		return &QuantityError{Fault: FaultNoUnit, Message: fmt.Sprintf("%s has no unit", a.Key), Help: "as read: " + a.choices()}
	}
	if a.Unit.IsNone() {
		return &QuantityError{Fault: FaultKind, Message: fmt.Sprintf("%s is a number without a unit, not one in %s", a.Key, u), Help: "leave the unit away"}
	}
	if u.Family() == MassPerVolume && u.basis == NoBasis && !a.Plain && a.entity != notCountable {
		return &QuantityError{Fault: FaultBasis, Message: fmt.Sprintf("%s in %s does not say as what", a.Key, u), Help: "as read: " + a.basisChoices(u)}
	}
	return &QuantityError{Fault: FaultKind, Message: fmt.Sprintf("%s cannot be in %s", a.Key, u), Help: "it is read in " + a.choices()}
}

// Fit is FitUnit for a quantity, and refuses what cannot be said of any
// reading.
func (a *Analyte) Fit(q Quantity) error { return a.FitUnit(q.Unit) }

// Standard is the quantity's value in the analyte's standard unit. The unit
// must fit.
func (a *Analyte) Standard(q Quantity) float64 {
	if q.Unit == a.Unit {
		return q.Value
	}
	v, err := a.Convert(q.Value, q.Unit, a.Unit)
	if err != nil {
		return math.NaN()
	}
	return v
}

// Units lists the units that fit the analyte, the standard unit first.
func (a *Analyte) Units() []Unit {
	units := []Unit{a.Unit}
	add := func(u Unit) {
		if u != a.Unit && a.fits(u) {
			units = append(units, u)
		}
	}
	for id := noUnit + 1; id < numUnits; id++ {
		add(Unit{id: id})
		if unitTable[id].family == MassPerVolume {
			for _, b := range a.Bases {
				add(Unit{id, b})
			}
		}
	}
	return units
}

// choices names the commonest units that fit, for messages.
func (a *Analyte) choices() string {
	var names []string
	for _, u := range a.Units() {
		if u.id == ugL || u.id == gL || u.id == mScm {
			continue
		}
		if names = append(names, u.String()); len(names) == 6 {
			break
		}
	}
	return strings.Join(names, ", ") + "?"
}

func (a *Analyte) basisChoices(u Unit) string {
	names := make([]string, 0, len(a.Bases))
	for _, b := range a.Bases {
		names = append(names, u.With(b).String())
	}
	return strings.Join(names, " or ") + "?"
}

// Accuracy is what a meter or method promises, as the half-width of a 95 %
// interval: an absolute part in the analyte's standard unit and a part of the
// reading, added; and the step of its display.
type Accuracy struct {
	Absolute   float64
	Relative   float64
	Resolution float64
}

// Uncertainty is the standard uncertainty of a reading x (before dilution d is
// applied) in the standard unit: the parts of the promise are added first and
// halved then, and the display adds a rectangular resolution/√12 (GUM 4.3.7,
// F.2.2.1); dilution multiplies all of it.
func (a Accuracy) Uncertainty(x, dilution float64) float64 {
	u := (a.Absolute + a.Relative*math.Abs(x)) / 2
	r := a.Resolution / math.Sqrt(12)
	return math.Hypot(u, r) * dilution
}
