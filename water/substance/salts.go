package substance

// Solubilities marked "from memory" are the handbook's figures as remembered, not read again: they set warnings, never
// a computed saturation. Gypsum and chalk dissolve by equilibrium; see the package equilibrium.

const (
	foodGradeSalt = "ask for food grade: a certificate of analysis to the Food Chemicals Codex or the food-additive specification in force where you brew (EU: Regulation (EU) No 231/2012), dated, for the lot"
	cautionSalt   = "weigh, do not scoop; keep dry and closed; avoid breathing the dust"
	cautionHot    = "gives off much heat in water: add it slowly to plenty of cold water, never water to it; gloves and eye protection"
	crcMemory     = "CRC Handbook, aqueous solubility of inorganic compounds, from memory"
	pureAssay     = "labels of food-grade products state 98 to 101 %; common practice, no source"
	wetAssay      = "takes up water from the air, so an opened pack is weaker than its label; ask for form and assay. Half width: common practice, no source"
)

var salts = []Substance{
	{
		Key: "gypsum", Name: "gypsum (calcium sulfate dihydrate)", Kind: Salt, Formula: "CaSO4.2H2O",
		Ions: []Ion{{"calcium", 1}, {"sulfate", 1}}, Assay: 98, AssayHalfWidth: 2, AssayNote: pureAssay,
		Solubility: 2.4, SolubilityAt: 10, SolubilitySource: "rounded from the gypsum constant of Plummer & Busenberg and Nordstrom et al. 1990 in PHREEQC 3 (Parkhurst & Appelo 2013): 2.41 g per kg water at 10 degC, 2.57 at 25",
		Caution: cautionSalt + "; dissolves slowly in cold water", FoodGrade: foodGradeSalt + "; plaster of Paris is not food grade",
	},
	{
		Key: "anhydrite", Name: "anhydrite (calcium sulfate, anhydrous)", Kind: Salt, Formula: "CaSO4",
		Ions: []Ion{{"calcium", 1}, {"sulfate", 1}}, Assay: 98, AssayHalfWidth: 2, AssayNote: pureAssay,
		Solubility: 2.0, SolubilityAt: 25, SolubilitySource: "2.05 g CaSO4 per litre; " + crcMemory,
		Caution: cautionSalt + "; dissolves very slowly, and is 1.26 times as strong as gypsum by mass", FoodGrade: foodGradeSalt,
	},
	{
		Key: "calcium_chloride_anhydrous", Name: "calcium chloride, anhydrous", Kind: Salt, Formula: "CaCl2",
		Ions: []Ion{{"calcium", 1}, {"chloride", 2}}, Assay: 95.5, AssayHalfWidth: 3, AssayNote: "products sold as anhydrous hold 94 to 97 % CaCl2; " + wetAssay,
		Densities: calciumChlorideDensity, DensitySource: calciumChlorideDensitySource,
		Solubility: 745, SolubilityAt: 20, SolubilitySource: "74.5 g per 100 g water; " + crcMemory,
		Caution: cautionHot, FoodGrade: foodGradeSalt + "; road salt is not food grade",
	},
	{
		Key: "calcium_chloride_monohydrate", Name: "calcium chloride monohydrate", Kind: Salt, Formula: "CaCl2.H2O",
		Ions: []Ion{{"calcium", 1}, {"chloride", 2}}, Assay: 97, AssayHalfWidth: 5, AssayNote: wetAssay,
		Caution: cautionHot, FoodGrade: foodGradeSalt,
	},
	{
		Key: "calcium_chloride_dihydrate", Name: "calcium chloride dihydrate", Kind: Salt, Formula: "CaCl2.2H2O",
		Ions: []Ion{{"calcium", 1}, {"chloride", 2}}, Assay: 100, AssayHalfWidth: 10, AssayNote: "pure dihydrate is 75.5 % CaCl2 and flake sold as dihydrate is 77 to 80 % (an assay of 102 to 106 % of the formula); " + wetAssay,
		Caution: cautionSalt + "; warms the water", FoodGrade: foodGradeSalt + "; road salt is not food grade",
	},
	{
		Key: "calcium_chloride_hexahydrate", Name: "calcium chloride hexahydrate", Kind: Salt, Formula: "CaCl2.6H2O",
		Ions: []Ion{{"calcium", 1}, {"chloride", 2}}, Assay: 99, AssayHalfWidth: 3, AssayNote: "melts near 30 degC; " + wetAssay,
		Caution: cautionSalt, FoodGrade: foodGradeSalt,
	},
	{
		Key: "epsom_salt", Name: "Epsom salt (magnesium sulfate heptahydrate)", Kind: Salt, Formula: "MgSO4.7H2O",
		Ions: []Ion{{"magnesium", 1}, {"sulfate", 1}}, Assay: 99.5, AssayHalfWidth: 1.5, AssayNote: "loses water of crystallisation in dry air, which makes it stronger; " + pureAssay,
		Solubility: 700, SolubilityAt: 20, SolubilitySource: crcMemory,
		Caution: cautionSalt + "; laxative in quantity", FoodGrade: foodGradeSalt + "; bath salt is not food grade",
	},
	{
		Key: "magnesium_sulfate_anhydrous", Name: "magnesium sulfate, anhydrous", Kind: Salt, Formula: "MgSO4",
		Ions: []Ion{{"magnesium", 1}, {"sulfate", 1}}, Assay: 98, AssayHalfWidth: 3, AssayNote: wetAssay,
		Solubility: 337, SolubilityAt: 20, SolubilitySource: "33.7 g per 100 g water; " + crcMemory,
		Caution: cautionHot, FoodGrade: foodGradeSalt,
	},
	{
		Key: "magnesium_chloride_hexahydrate", Name: "magnesium chloride hexahydrate", Kind: Salt, Formula: "MgCl2.6H2O",
		Ions: []Ion{{"magnesium", 1}, {"chloride", 2}}, Assay: 99, AssayHalfWidth: 3, AssayNote: wetAssay,
		Caution: cautionSalt, FoodGrade: foodGradeSalt,
	},
	{
		Key: "table_salt", Name: "table salt (sodium chloride)", Kind: Salt, Formula: "NaCl",
		Ions: []Ion{{"sodium", 1}, {"chloride", 1}}, Assay: 99, AssayHalfWidth: 1, AssayNote: pureAssay,
		Solubility: 359, SolubilityAt: 20, SolubilitySource: "35.9 g per 100 g water; " + crcMemory,
		Caution: cautionSalt, FoodGrade: "food-grade salt without iodide and without anti-caking agent",
	},
	{
		Key: "potassium_chloride", Name: "potassium chloride", Kind: Salt, Formula: "KCl",
		Ions: []Ion{{"potassium", 1}, {"chloride", 1}}, Assay: 99, AssayHalfWidth: 1, AssayNote: pureAssay,
		Solubility: 340, SolubilityAt: 20, SolubilitySource: "34.0 g per 100 g water; " + crcMemory,
		Caution: cautionSalt + "; people on a low-potassium diet must be informed", FoodGrade: foodGradeSalt,
	},
	{
		Key: "sodium_sulfate", Name: "sodium sulfate, anhydrous", Kind: Salt, Formula: "Na2SO4",
		Ions: []Ion{{"sodium", 2}, {"sulfate", 1}}, Assay: 99, AssayHalfWidth: 1, AssayNote: pureAssay,
		Solubility: 195, SolubilityAt: 20, SolubilitySource: "19.5 g per 100 g water; " + crcMemory,
		Caution: cautionSalt, FoodGrade: foodGradeSalt,
	},
}

var others = []Substance{
	{
		Key: "baking_soda", Name: "baking soda (sodium hydrogen carbonate)", Kind: Base, Formula: "NaHCO3",
		Ions: []Ion{{"sodium", 1}}, Alkalinity: 1, InorganicCarbon: 1, Assay: 99.5, AssayHalfWidth: 0.5, AssayNote: pureAssay,
		Solubility: 96, SolubilityAt: 20, SolubilitySource: "9.6 g per 100 g water; " + crcMemory,
		Caution: cautionSalt, FoodGrade: foodGradeSalt,
	},
	{
		Key: "soda_ash", Name: "soda ash (sodium carbonate, anhydrous)", Kind: Base, Formula: "Na2CO3",
		Ions: []Ion{{"sodium", 2}}, Alkalinity: 2, InorganicCarbon: 1, Assay: 99, AssayHalfWidth: 1, AssayNote: "takes up water and CO2 from the air; " + pureAssay,
		Solubility: 215, SolubilityAt: 20, SolubilitySource: "21.5 g per 100 g water; " + crcMemory,
		Caution: "irritates eyes and skin; gloves and eye protection; never onto acid", FoodGrade: foodGradeSalt + "; washing soda is a hydrate and not food grade",
	},
	{
		Key: "chalk", Name: "chalk (calcium carbonate)", Kind: Base, Formula: "CaCO3",
		Ions: []Ion{{"calcium", 1}}, Alkalinity: 2, InorganicCarbon: 1, Assay: 99, AssayHalfWidth: 1, AssayNote: pureAssay,
		Solubility: 0.05, SolubilityAt: 25, SolubilitySource: "calcite open to air, log pCO2 -3.5: PHREEQC 3 (Parkhurst & Appelo 2013) with the constants of Plummer & Busenberg 1982; 0.012 g/L without air",
		Caution: cautionSalt + "; in water it hardly dissolves without acid or CO2", FoodGrade: foodGradeSalt,
	},
	{
		Key: "slaked_lime", Name: "slaked lime (calcium hydroxide)", Kind: Base, Formula: "Ca(OH)2",
		Ions: []Ion{{"calcium", 1}}, Alkalinity: 2, Assay: 95, AssayHalfWidth: 4, AssayNote: "takes up CO2 from the air and turns to chalk; a fresh product holds 95 % or more. Common practice, no source",
		Solubility: 1.7, SolubilityAt: 20, SolubilitySource: "0.17 g per 100 g water, less in hot water; " + crcMemory,
		Caution:   "caustic: it can blind; goggles, gloves, no dust; do not mix up with quicklime, which boils water; wash eyes for 15 minutes and see a doctor; never onto strong acid",
		FoodGrade: foodGradeSalt + "; builder's lime is not food grade",
	},
	{
		// S2O5 2- + H2O -> 2 HSO3-, and with free chlorine HSO3- + HOCl -> SO4 2- + Cl- + 2 H+: the ions below are the
		// metal and the sulfite as dosed. What the chlorine makes of it depends on the chlorine that was there.
		Key: "sodium_metabisulfite", Name: "sodium metabisulfite", Kind: Sulfite, Formula: "Na2S2O5",
		Ions: []Ion{{"sodium", 2}, {"sulfite", 2}}, Assay: 97, AssayHalfWidth: 2, AssayNote: "loses strength with age and damp; common practice, no source",
		Caution: cautionSulfite, FoodGrade: foodGradeSalt,
	},
	{
		Key: "potassium_metabisulfite", Name: "potassium metabisulfite", Kind: Sulfite, Formula: "K2S2O5",
		Ions: []Ion{{"potassium", 2}, {"sulfite", 2}}, Assay: 97, AssayHalfWidth: 2, AssayNote: "loses strength with age and damp; common practice, no source",
		Caution: cautionSulfite, FoodGrade: foodGradeSalt,
	},
}

const cautionSulfite = "gives sulfur dioxide with acid, which hurts the lungs: never together with an acid, never by an asthmatic, only with fresh air; sulfites are an allergen with a duty to declare in many countries: follow the local code"

// calciumChlorideDensity is for solutions of CaCl2 by w/w per cent of anhydrous salt.
var calciumChlorideDensity = []DensityPoint{
	{0, 0.9982}, {1, 1.0065}, {2, 1.0148}, {5, 1.0402}, {10, 1.0835}, {15, 1.1292}, {20, 1.1775}, {25, 1.2284},
	{30, 1.2816}, {35, 1.3373}, {40, 1.3957},
}

const calciumChlorideDensitySource = "CRC Handbook, concentrative properties of aqueous solutions, 20 degC, from memory"
