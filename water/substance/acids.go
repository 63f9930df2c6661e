package substance

// Densities at 20 degC. The points of lactic, citric, phosphoric and sulfuric acid at 1, 5, 10, 20 … % agree with the
// CRC Handbook's table "Concentrative properties of aqueous solutions" as reprinted in public density tables (read in
// 2026); the points between and beyond, and those of hydrochloric acid, are Perry's Chemical Engineers' Handbook, tables
// of densities of aqueous inorganic solutions, from memory. Tests compare them with the published molarities.

const (
	goldberg      = "Goldberg, Kishore & Lennen, J. Phys. Chem. Ref. Data 31 (2002) 231; heat capacity from memory"
	foodGradeAcid = "food grade only, with a certificate for the lot (Food Chemicals Codex or the food-additive specification in force, EU: Regulation (EU) No 231/2012); technical, battery and cleaning acids hold heavy metals"
	cautionAcid   = "acid into water, never water into acid; goggles, gloves, apron; add half the computed dose, mix, measure the pH, then add the rest; never together with hypochlorite, sulfite or lime; store low and closed; neutralise a spill with baking soda; follow the safety data sheet and the local code"
)

var acids = []Substance{
	{
		Key: "lactic_acid", Name: "lactic acid", Kind: Acid, Formula: "C3H6O3", Liquid: true,
		Ions: []Ion{{"lactate", 1}}, Alkalinity: -1, Assay: 80, AssayHalfWidth: 1, AssayNote: "usual strengths are 80 and 88 % w/w; the stronger holds part of its acid as lactoyl lactate, which takes time after dilution to act",
		Dissociation: []Dissociation{{3.86, -0.33, 0, "CRC Handbook, dissociation constants of organic acids, 25 degC; enthalpy " + goldberg + "; both from memory"}},
		Densities: []DensityPoint{
			{0, 0.9982}, {1, 1.0002}, {5, 1.0086}, {10, 1.0199}, {20, 1.0439}, {40, 1.0915}, {60, 1.1392}, {70, 1.1586},
			{80, 1.1848}, {90, 1.206},
		},
		DensitySource: "CRC Handbook (D-lactic acid) to 80 %; 90 %: mid of the pharmacopoeia's 1.20 to 1.21",
		Caution:       cautionAcid + "; burns the eyes", FoodGrade: foodGradeAcid,
	},
	{
		Key: "phosphoric_acid", Name: "phosphoric acid", Kind: Acid, Formula: "H3PO4", Liquid: true,
		Ions: []Ion{{"phosphate", 1}}, Alkalinity: -1, Assay: 75, AssayHalfWidth: 1, AssayNote: "sold at 10, 75 and 85 %: the label decides",
		Dissociation: []Dissociation{{2.148, -8.0, -0.141, goldberg}, {7.198, 3.6, -0.230, goldberg}, {12.35, 16.0, -0.242, goldberg}},
		Densities: []DensityPoint{
			{0, 0.9982}, {1, 1.0038}, {5, 1.0254}, {10, 1.0531}, {14, 1.0764}, {20, 1.1135}, {26, 1.1529}, {30, 1.1804},
			{35, 1.216}, {40, 1.2536}, {50, 1.335}, {75, 1.579}, {85, 1.689},
		},
		DensitySource: "CRC Handbook to 40 %; 14, 26, 35 and 50 % on: Perry's, from memory",
		Caution:       cautionAcid + "; 75 and 85 % burn the skin; with hard water it can precipitate calcium phosphate", FoodGrade: foodGradeAcid,
	},
	{
		Key: "hydrochloric_acid", Name: "hydrochloric acid", Kind: Acid, Formula: "HCl", Liquid: true,
		Ions: []Ion{{"chloride", 1}}, Alkalinity: -1, Assay: 10, AssayHalfWidth: 0.5, AssayNote: "sold from 10 to 37 %: the label decides",
		Densities: []DensityPoint{
			{0, 0.9982}, {1, 1.0032}, {2, 1.0082}, {4, 1.0181}, {6, 1.0279}, {8, 1.0376}, {10, 1.0474}, {12, 1.0574},
			{14, 1.0675}, {16, 1.0776}, {18, 1.0878}, {20, 1.0980}, {22, 1.1083}, {24, 1.1187}, {26, 1.1290}, {28, 1.1392},
			{30, 1.1493}, {32, 1.1593}, {34, 1.1691}, {36, 1.1789}, {38, 1.1885}, {40, 1.1980},
		},
		DensitySource: "Perry's Chemical Engineers' Handbook, hydrochloric acid, from memory",
		Caution:       cautionAcid + "; fumes above 20 %, corrodes stainless steel", FoodGrade: foodGradeAcid,
	},
	{
		Key: "sulfuric_acid", Name: "sulfuric acid", Kind: Acid, Formula: "H2SO4", Liquid: true,
		Ions: []Ion{{"sulfate", 1}}, Alkalinity: -2, Assay: 10, AssayHalfWidth: 0.5, AssayNote: "buy it diluted; the label decides",
		Densities: []DensityPoint{
			{0, 0.9982}, {1, 1.0049}, {5, 1.0318}, {10, 1.0661}, {15, 1.1020}, {20, 1.1398}, {25, 1.1783}, {30, 1.2191},
			{35, 1.2599}, {40, 1.3028}, {45, 1.3476}, {50, 1.3952}, {55, 1.4453}, {60, 1.4983}, {65, 1.5533}, {70, 1.6105},
			{75, 1.6692}, {80, 1.7272}, {85, 1.7786}, {90, 1.8144}, {92, 1.8240}, {94, 1.8312}, {95, 1.8337}, {96, 1.8355},
			{98, 1.8361}, {100, 1.8305},
		},
		DensitySource: "CRC Handbook at 1, 5, 10 … 50, 70 and 100 %; between: Perry's, from memory",
		Caution:       cautionAcid + "; dilution boils and spits: leave the strong acid to a chemical supplier; it chars skin and clothes", FoodGrade: foodGradeAcid,
	},
	{
		Key: "citric_acid_monohydrate", Name: "citric acid monohydrate", Kind: Acid, Formula: "C6H8O7.H2O",
		Ions: []Ion{{"citrate", 1}}, Alkalinity: -1, Assay: 99.5, AssayHalfWidth: 0.5, AssayNote: pureAssay,
		Dissociation: citric, Solubility: 1600, SolubilityAt: 20, SolubilitySource: crcMemory,
		Caution: cautionAcid, FoodGrade: foodGradeAcid,
	},
	{
		Key: "citric_acid_anhydrous", Name: "citric acid, anhydrous", Kind: Acid, Formula: "C6H8O7",
		Ions: []Ion{{"citrate", 1}}, Alkalinity: -1, Assay: 99.5, AssayHalfWidth: 0.5, AssayNote: pureAssay,
		Dissociation: citric, Solubility: 1450, SolubilityAt: 20, SolubilitySource: crcMemory,
		Densities:     []DensityPoint{{0, 0.9982}, {1, 1.0022}, {5, 1.0189}, {10, 1.0402}, {20, 1.0858}, {30, 1.1346}},
		DensitySource: "CRC Handbook, as reprinted in public density tables",
		Caution:       cautionAcid, FoodGrade: foodGradeAcid,
	},
}

var citric = []Dissociation{{3.128, 4.07, -0.131, goldberg}, {4.761, 2.23, -0.178, goldberg}, {6.396, -3.38, -0.254, goldberg}}
