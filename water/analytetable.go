package water

import "wj/water/spelling"

// The analytes that formulas and rules name. An analyte that none names needs no
// constant: its row at the end of measured is enough.
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
)

// NumAnalytes is how many analytes can be read; the values that are only
// computed are numbered behind them.
const NumAnalytes = ID(len(measured))

// The values that are only computed.
const (
	ResidualAlkalinity = NumAnalytes + iota
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
	NitrateRatios
	OxidizedNitrogen
)

// NumNames is how many analytes and computed values there are. As an ID it names
// none.
const NumNames = NumAnalytes + ID(len(computed))

var (
	hardnessBases   = []Basis{AsCaCO3, AsCaO, AsCa}
	alkalinityBases = []Basis{AsCaCO3, AsHCO3, AsCaO}
)

// measured are the rows of the analytes that can be read. A row and a page
// (pages/KEY.md) are all that an analyte needs: sums, units, queries, exports and
// the JSON Schema come from here. A new one goes to the end. Exchange names are those of the WQX 3.0
// characteristic list; CAS numbers are those of the ions (from memory, except
// where a public list was consulted: calcium, sulfate, chloride; a test holds
// their check digits).
var measured = [...]Analyte{
	PHValue: {Key: "pH", Title: "pH", Unit: None, entity: notCountable, UCUM: "[pH]", Exchange: "pH",
		Typical: Accuracy{Absolute: 0.2}, Also: []string{"acidity", "reaction"}, Doc: "negative decimal logarithm of the activity of hydrogen ions"},
	Alkalinity: {Key: "alkalinity", Title: "alkalinity", Unit: MgLCaCO3, Formula: "CaCO3", Bases: alkalinityBases, Degrees: AlkalinityDegree, entity: acidCapacity,
		UCUM: "mg/L{CaCO3}", Exchange: "Alkalinity, total", Speciation: "as CaCO3", CAS: "471-34-1",
		Typical: Accuracy{Absolute: 5, Relative: 0.05}, Also: []string{"alk", "TA", "total alkalinity", "m-alkalinity", "m alk", "acid capacity", "KS4.3", "KH", "ANC"}, Doc: "total alkalinity: the acid that the water takes up to about pH 4.3–4.5"},
	CalciumHardness: {Key: "calcium_hardness", Title: "calcium hardness", Unit: MgLCaCO3, Formula: "CaCO3", Charge: 2, Bases: hardnessBases, Degrees: HardnessDegree, entity: divalentIon,
		UCUM: "mg/L{CaCO3}", Exchange: "Hardness, calcium", Speciation: "as CaCO3", CAS: "471-34-1",
		Typical: Accuracy{Absolute: 5, Relative: 0.05}, Also: []string{"CaH", "calcium as CaCO3", "Ca hardness"}, Doc: "the part of the hardness that is calcium"},
	TotalHardness: {Key: "total_hardness", Title: "total hardness", Unit: MgLCaCO3, Formula: "CaCO3", Charge: 2, Bases: hardnessBases[:2], Degrees: HardnessDegree, entity: divalentIon,
		UCUM: "mg/L{CaCO3}", Exchange: "Hardness, Ca, Mg", Speciation: "as CaCO3", CAS: "471-34-1",
		Typical: Accuracy{Absolute: 5, Relative: 0.05}, Also: []string{"hardness", "TH", "GH", "dGH", "general hardness", "water hardness"}, Doc: "calcium and magnesium together"},
	MagnesiumHardness: {Key: "magnesium_hardness", Title: "magnesium hardness", Unit: MgLCaCO3, Formula: "CaCO3", Charge: 2, Bases: []Basis{AsCaCO3, AsCaO, AsMg}, Degrees: HardnessDegree, entity: divalentIon,
		UCUM: "mg/L{CaCO3}", Exchange: "Hardness, magnesium", Speciation: "as CaCO3", CAS: "471-34-1",
		Typical: Accuracy{Absolute: 5, Relative: 0.05}, Also: []string{"MgH", "Mg hardness"}, Doc: "the part of the hardness that is magnesium"},
	Calcium: {Key: "calcium", Title: "calcium", Unit: MilligramLitre, Formula: "Ca", Charge: 2, Plain: true, Bases: []Basis{AsCa, AsCaCO3, AsCaO},
		UCUM: "mg/L", Exchange: "Calcium", Speciation: "as Ca", CAS: "14127-61-8", Typical: Accuracy{Absolute: 2, Relative: 0.05}, Also: []string{"Ca", "Ca2+", "Ca++"}, Doc: "dissolved calcium, as the ion"},
	Magnesium: {Key: "magnesium", Title: "magnesium", Unit: MilligramLitre, Formula: "Mg", Charge: 2, Plain: true, Bases: []Basis{AsMg, AsCaCO3, AsCaO},
		UCUM: "mg/L", Exchange: "Magnesium", Speciation: "as Mg", CAS: "22537-22-0", Typical: Accuracy{Absolute: 1, Relative: 0.05}, Also: []string{"Mg", "Mg2+", "Mg++"}, Doc: "dissolved magnesium, as the ion"},
	Sodium: {Key: "sodium", Title: "sodium", Unit: MilligramLitre, Formula: "Na", Charge: 1, Plain: true, Bases: []Basis{AsNa},
		Ion: MajorIon, UCUM: "mg/L", Exchange: "Sodium", Speciation: "as Na", CAS: "17341-25-2", Typical: Accuracy{Absolute: 1, Relative: 0.05}, Also: []string{"Na", "Na+", "natrium", "salt"}, Doc: "dissolved sodium; by difference it includes potassium and all errors"},
	Potassium: {Key: "potassium", Title: "potassium", Unit: MilligramLitre, Formula: "K", Charge: 1, Plain: true, Bases: []Basis{AsK},
		Ion: MinorIon, UCUM: "mg/L", Exchange: "Potassium", Speciation: "as K", CAS: "24203-36-9", Typical: Accuracy{Absolute: 0.5, Relative: 0.05}, Also: []string{"K", "K+", "kalium"}, Doc: "dissolved potassium"},
	Chloride: {Key: "chloride", Title: "chloride", Unit: MilligramLitre, Formula: "Cl", Charge: -1, Plain: true, Bases: []Basis{AsCl},
		Ion: MajorIon, UCUM: "mg/L", Exchange: "Chloride", Speciation: "as Cl", CAS: "16887-00-6", Typical: Accuracy{Absolute: 2, Relative: 0.05}, Also: []string{"Cl", "Cl-", "chlorides", "salt"}, Doc: "dissolved chloride"},
	Sulfate: {Key: "sulfate", Title: "sulfate", Unit: MilligramLitre, Formula: "SO4", Charge: -2, Plain: true, Bases: []Basis{AsSO4, AsS},
		Ion: MajorIon, UCUM: "mg/L", Exchange: "Sulfate", Speciation: "as SO4", CAS: "14808-79-8", Typical: Accuracy{Absolute: 5, Relative: 0.08}, Also: []string{"SO4", "SO42-", "SO4--", "sulfates", "sulfur"}, Doc: "dissolved sulfate"},
	Bicarbonate: {Key: "bicarbonate", Title: "bicarbonate", Unit: MilligramLitre, Formula: "HCO3", Charge: -1, Plain: true, Bases: []Basis{AsHCO3, AsCaCO3},
		UCUM: "mg/L", Exchange: "Bicarbonate", Speciation: "as HCO3", CAS: "71-52-3", Typical: Accuracy{Absolute: 6, Relative: 0.05}, Also: []string{"HCO3", "HCO3-", "hydrogencarbonate", "hydrogen carbonate"}, Doc: "hydrogencarbonate ion; from alkalinity and pH where it was not reported"},
	Carbonate: {Key: "carbonate", Title: "carbonate", Unit: MilligramLitre, Formula: "CO3", Charge: -2, Plain: true, Bases: []Basis{AsCO3, AsCaCO3},
		UCUM: "mg/L", Exchange: "Carbonate", Speciation: "as CO3", CAS: "3812-32-6", Typical: Accuracy{Absolute: 1, Relative: 0.1}, Also: []string{"CO3", "CO32-"}, Doc: "carbonate ion; from alkalinity and pH where it was not reported"},
	Nitrate: {Key: "nitrate", Title: "nitrate", Unit: MilligramLitre.With(AsNO3), Formula: "NO3", Charge: -1, Bases: []Basis{AsNO3, AsN},
		Ion: MinorIon, UCUM: "mg/L{NO3}", Exchange: "Nitrate", Speciation: "as NO3", CAS: "14797-55-8", Typical: Accuracy{Absolute: 1, Relative: 0.08}, Also: []string{"NO3", "NO3-", "nitrates"}, Doc: "nitrate ion; always with its basis, as NO3 or as N"},
	Nitrite: {Key: "nitrite", Title: "nitrite", Unit: MilligramLitre.With(AsNO2), Formula: "NO2", Charge: -1, Bases: []Basis{AsNO2, AsN},
		Ion: MinorIon, Total: "nitrate", UCUM: "mg/L{NO2}", Exchange: "Nitrite", Speciation: "as NO2", CAS: "14797-65-0", Typical: Accuracy{Absolute: 0.02, Relative: 0.08}, Also: []string{"NO2", "NO2-", "nitrites"}, Doc: "nitrite ion; always with its basis, as NO2 or as N"},
	Ammonium: {Key: "ammonium", Title: "ammonium", Unit: MilligramLitre.With(AsNH4), Formula: "NH4", Charge: 1, Bases: []Basis{AsNH4, AsN},
		Ion: MinorIon, UCUM: "mg/L{NH4}", Exchange: "Ammonium", Speciation: "as NH4", CAS: "14798-03-9", Typical: Accuracy{Absolute: 0.05, Relative: 0.1}, Also: []string{"NH4", "NH4+", "ammonia", "NH3"}, Doc: "ammonium ion; always with its basis, as NH4 or as N"},
	Fluoride: {Key: "fluoride", Title: "fluoride", Unit: MilligramLitre, Formula: "F", Charge: -1, Plain: true, Bases: []Basis{AsF},
		Ion: MinorIon, UCUM: "mg/L", Exchange: "Fluoride", Speciation: "as F", CAS: "16984-48-8", Typical: Accuracy{Absolute: 0.05, Relative: 0.1}, Also: []string{"F", "F-", "fluorides"}, Doc: "dissolved fluoride"},
	Phosphate: {Key: "phosphate", Title: "phosphate", Unit: MilligramLitre.With(AsPO4), Formula: "PO4", Bases: []Basis{AsPO4, AsP},
		Ion: MinorIon, IonCharge: -1, UCUM: "mg/L{PO4}", Exchange: "Orthophosphate", Speciation: "as PO4", CAS: "14265-44-2", Typical: Accuracy{Absolute: 0.1, Relative: 0.1}, Also: []string{"PO4", "PO43-", "orthophosphate", "phosphates"}, Doc: "orthophosphate; always with its basis, as PO4 or as P"},
	Silica: {Key: "silica", Title: "silica", Unit: MilligramLitre.With(AsSiO2), Formula: "SiO2", Bases: []Basis{AsSiO2, AsSi},
		UCUM: "mg/L{SiO2}", Exchange: "Silica", Speciation: "as SiO2", CAS: "7631-86-9", Typical: Accuracy{Absolute: 1, Relative: 0.1}, Also: []string{"SiO2", "silicate", "silicon"}, Doc: "dissolved silica; always with its basis, as SiO2 or as Si"},
	Iron: {Key: "iron", Title: "iron", Unit: MilligramLitre, Formula: "Fe", Charge: 2, Plain: true, Bases: []Basis{AsFe},
		UCUM: "mg/L", Exchange: "Iron", Speciation: "as Fe", CAS: "7439-89-6", Typical: Accuracy{Absolute: 0.02, Relative: 0.1}, Also: []string{"Fe", "ferrous", "ferric"}, Doc: "total iron"},
	Manganese: {Key: "manganese", Title: "manganese", Unit: MilligramLitre, Formula: "Mn", Charge: 2, Plain: true, Bases: []Basis{AsMn},
		UCUM: "mg/L", Exchange: "Manganese", Speciation: "as Mn", CAS: "7439-96-5", Typical: Accuracy{Absolute: 0.02, Relative: 0.1}, Also: []string{"Mn"}, Doc: "total manganese"},
	Copper: {Key: "copper", Title: "copper", Unit: MilligramLitre, Formula: "Cu", Charge: 2, Plain: true, Bases: []Basis{AsCu},
		UCUM: "mg/L", Exchange: "Copper", Speciation: "as Cu", CAS: "7440-50-8", Typical: Accuracy{Absolute: 0.05, Relative: 0.1}, Also: []string{"Cu"}, Doc: "total copper"},
	Zinc: {Key: "zinc", Title: "zinc", Unit: MilligramLitre, Formula: "Zn", Charge: 2, Plain: true, Bases: []Basis{AsZn},
		UCUM: "mg/L", Exchange: "Zinc", Speciation: "as Zn", CAS: "7440-66-6", Typical: Accuracy{Absolute: 0.05, Relative: 0.1}, Also: []string{"Zn"}, Doc: "total zinc"},
	FreeChlorine: {Key: "free_chlorine", Title: "free chlorine", Unit: MilligramLitre, Formula: "Cl2", Plain: true, Bases: []Basis{AsCl2},
		UCUM: "mg/L{Cl2}", Exchange: "Free available chlorine", Speciation: "as Cl2", CAS: "7782-50-5", Typical: Accuracy{Absolute: 0.03, Relative: 0.1}, Also: []string{"chlorine", "FAC", "FC", "free available chlorine", "free Cl2"}, Doc: "chlorine as hypochlorous acid and hypochlorite, expressed as Cl2"},
	TotalChlorine: {Key: "total_chlorine", Title: "total chlorine", Unit: MilligramLitre, Formula: "Cl2", Plain: true, Bases: []Basis{AsCl2},
		UCUM: "mg/L{Cl2}", Exchange: "Total residual chlorine", Speciation: "as Cl2", CAS: "7782-50-5", Typical: Accuracy{Absolute: 0.03, Relative: 0.1}, Also: []string{"chlorine", "TC", "TRC", "total residual chlorine", "total Cl2"}, Doc: "free chlorine and chloramines together, expressed as Cl2"},
	ElectricalConductivity: {Key: "conductivity", Title: "conductivity", Unit: MicrosiemensCm, entity: notCountable,
		UCUM: "uS/cm", Exchange: "Specific conductance", Typical: Accuracy{Absolute: 2, Relative: 0.03}, Also: []string{"EC", "conductance", "specific conductance", "cond", "SC"}, Doc: "electrical conductivity at 25 degC"},
	DissolvedSolids: {Key: "dissolved_solids", Title: "dissolved solids", Unit: MilligramLitre, entity: notCountable, Plain: true,
		UCUM: "mg/L", Exchange: "Total dissolved solids", Typical: Accuracy{Absolute: 5, Relative: 0.1}, Also: []string{"TDS", "total dissolved solids", "dry residue", "residue"}, Doc: "total dissolved solids; say how they were obtained"},
	TurbidityValue: {Key: "turbidity", Title: "turbidity", Unit: TurbidityUnit, entity: notCountable,
		UCUM: "{NTU}", Exchange: "Turbidity", Typical: Accuracy{Absolute: 0.2, Relative: 0.1}, Also: []string{"NTU", "cloudiness", "FNU"}, Doc: "cloudiness by scattered light"},
	SampleTemperature: {Key: "temperature", Title: "temperature", Unit: DegreeCelsius, entity: notCountable,
		UCUM: "Cel", Exchange: "Temperature, water", Typical: Accuracy{Absolute: 0.5}, Also: []string{"temp", "T", "degC"}, Doc: "temperature of the water as sampled"},
}

// computed are the rows of the values that are only computed.
var computed = [...]Analyte{
	ResidualAlkalinity - NumAnalytes: {Key: "residual_alkalinity", Title: "residual alkalinity", Unit: MgLCaCO3, Formula: "CaCO3", Bases: []Basis{AsCaCO3, AsCaO, AsHCO3}, Degrees: AlkalinityDegree, entity: mixedHardness,
		UCUM: "mg/L{CaCO3}", Also: []string{"RA"}, Doc: "alkalinity left after calcium and magnesium have reacted with malt phosphate"},
	CarbonateHardness - NumAnalytes: {Key: "carbonate_hardness", Title: "carbonate hardness", Unit: MgLCaCO3, Formula: "CaCO3", Charge: 2, Bases: hardnessBases[:2], Degrees: HardnessDegree, entity: divalentIon,
		UCUM: "mg/L{CaCO3}", Exchange: "Hardness, carbonate", Speciation: "as CaCO3", Also: []string{"temporary hardness", "KH"}, Doc: "the smaller of total hardness and alkalinity: what boiling can remove"},
	NoncarbonateHardness - NumAnalytes: {Key: "noncarbonate_hardness", Title: "noncarbonate hardness", Unit: MgLCaCO3, Formula: "CaCO3", Charge: 2, Bases: hardnessBases[:2], Degrees: HardnessDegree, entity: divalentIon,
		UCUM: "mg/L{CaCO3}", Exchange: "Hardness, non-carbonate", Speciation: "as CaCO3", Also: []string{"permanent hardness", "NKH"}, Doc: "total hardness less alkalinity, where that is more than nothing"},
	SulfateChlorideRatio - NumAnalytes: {Key: "sulfate_chloride_ratio", Title: "sulfate to chloride ratio", Unit: None, entity: notCountable, UCUM: "1", Also: []string{"SO4/Cl", "sulfate to chloride", "ratio"}, Doc: "by mass; says little when both are low"},
	CarbonDioxide - NumAnalytes: {Key: "carbon_dioxide", Title: "carbon dioxide", Unit: MilligramLitre, Formula: "CO2", Plain: true,
		UCUM: "mg/L", Exchange: "Carbon dioxide", Speciation: "as CO2", CAS: "124-38-9", Also: []string{"CO2"}, Doc: "dissolved carbon dioxide with carbonic acid, from alkalinity and pH"},
	IonicStrength - NumAnalytes:   {Key: "ionic_strength", Title: "ionic strength", Unit: MillimolLitre, entity: notCountable, UCUM: "mmol/L", Also: []string{"I", "mu"}, Doc: "half the sum of concentration times charge squared"},
	CationSum - NumAnalytes:       {Key: "cation_sum", Title: "sum of cations", Unit: MilliequivLitre, entity: notCountable, UCUM: "meq/L", Also: []string{"cations"}, Doc: "measured cations in milliequivalents"},
	AnionSum - NumAnalytes:        {Key: "anion_sum", Title: "sum of anions", Unit: MilliequivLitre, entity: notCountable, UCUM: "meq/L", Also: []string{"anions"}, Doc: "measured anions in milliequivalents"},
	ChargeBalance - NumAnalytes:   {Key: "charge_balance", Title: "charge balance", Unit: Percent, entity: notCountable, UCUM: "%", Also: []string{"balance", "ion balance", "electroneutrality", "CBE"}, Doc: "100 × (cations − anions) / (cations + anions); only where sodium was measured"},
	SaturationIndex - NumAnalytes: {Key: "saturation_index", Title: "calcite saturation index", Unit: None, entity: notCountable, UCUM: "1", Exchange: "Langelier index", Also: []string{"SI", "LSI", "Langelier", "Langelier index"}, Doc: "logarithm of the ion product of calcite over its solubility product"},
	CombinedChlorine - NumAnalytes: {Key: "combined_chlorine", Title: "combined chlorine", Unit: MilligramLitre, Formula: "Cl2", Plain: true, Bases: []Basis{AsCl2},
		UCUM: "mg/L{Cl2}", Exchange: "Combined chlorine", Speciation: "as Cl2", Also: []string{"chloramine", "chloramines", "monochloramine", "CC"}, Doc: "total less free chlorine: chloramines"},
	NitrateRatios - NumAnalytes: {Key: "nitrate_nitrite_ratios", Title: "nitrate and nitrite ratios", Unit: None, entity: notCountable, UCUM: "1", Also: []string{"sum of ratios", "nitrate ratio"}, Doc: "nitrate/50 + nitrite/3, in mg/L of the ions: the joint limit of the EU and the WHO is 1"},
	OxidizedNitrogen - NumAnalytes: {Key: "nitrate_nitrite_nitrogen", Title: "nitrate and nitrite nitrogen", Unit: MilligramLitre.With(AsN), Formula: "N", Bases: []Basis{AsN},
		UCUM: "mg/L{N}", Exchange: "Inorganic nitrogen (nitrate and nitrite)", Speciation: "as N", Also: []string{"total oxidized nitrogen", "TON", "NOx-N", "total nitrate and nitrite"}, Doc: "the nitrogen of nitrate and nitrite together"},
}

// table is every row by its number.
var table = func() (all [NumNames]Analyte) {
	copy(all[:], measured[:])
	copy(all[NumAnalytes:], computed[:])
	for i := range all {
		a := &all[i]
		a.ID = ID(i)
		if a.Formula != "" {
			a.MolarMass = molarMass(a.Formula)
		}
		if a.entity == acidCapacity || a.entity == mixedHardness {
			a.MolarMass /= 2
		}
		if a.IonCharge == 0 {
			a.IonCharge = a.Charge
		}
		if own, ok := basisNamed(a.Formula); ok && a.entity == ownIon && len(a.Bases) == 0 && a.ID < NumAnalytes {
			a.Bases = []Basis{own}
		}
	}
	return all
}()

func init() {
	for i := range table {
		spelling.Learn(table[i].Key, append(table[i].Also, table[i].Title)...)
	}
}
