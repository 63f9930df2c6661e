// Package water holds what a water analysis is made of: quantities with
// units and uncertainty, the analytes and the units that fit them, and the
// values that follow from the readings of one sample. It is pure: numbers in,
// numbers out, nothing read, nothing written.
package water

// Standard atomic weights, g/mol, abridged to five figures: IUPAC Commission
// on Isotopic Abundances and Atomic Weights; Prohaska et al., Pure and Applied
// Chemistry 94 (2022) 573, table 2.
const (
	massH  = 1.008
	massC  = 12.011
	massN  = 14.007
	massO  = 15.999
	massF  = 18.998
	massNa = 22.990
	massMg = 24.305
	massSi = 28.085
	massP  = 30.974
	massS  = 32.06
	massCl = 35.45
	massK  = 39.098
	massCa = 40.078
	massMn = 54.938
	massFe = 55.845
	massCu = 63.546
	massZn = 65.38
)

// Molar masses of the species that a result may be expressed as, g/mol. The
// mass of the electron is left out: it is 0.0005 g/mol.
const (
	massCaCO3 = massCa + massC + 3*massO
	massCaO   = massCa + massO
	massHCO3  = massH + massC + 3*massO
	massCO3   = massC + 3*massO
	massCO2   = massC + 2*massO
	massNO3   = massN + 3*massO
	massNO2   = massN + 2*massO
	massNH4   = massN + 4*massH
	massPO4   = massP + 4*massO
	massSO4   = massS + 4*massO
	massSiO2  = massSi + 2*massO
	massCl2   = 2 * massCl
)

// Basis is the species that a concentration by mass is expressed as: the
// "CaCO3" of "118 mg/L CaCO3". The zero Basis is the analyte's own species.
type Basis uint8

// The bases in use for water analyses.
const (
	NoBasis Basis = iota
	AsCaCO3
	AsCaO
	AsHCO3
	AsCO3
	AsCa
	AsMg
	AsNa
	AsK
	AsCl
	AsCl2
	AsSO4
	AsS
	AsN
	AsNO3
	AsNO2
	AsNH4
	AsP
	AsPO4
	AsSiO2
	AsSi
	AsF
	AsFe
	AsMn
	AsCu
	AsZn
	numBases
)

// bases holds for each basis its written name, its molar mass (g/mol), the
// charge equivalents in one mole of it, and other spellings. Equivalents are
// those of hardness and alkalinity (1 mol CaCO3 = 2 eq); for elements that
// stand for one ion each (N, P, S, Si) they are not used.
var bases = [numBases]struct {
	name      string
	mass      float64
	eq        float64
	spellings []string
}{
	AsCaCO3: {"CaCO3", massCaCO3, 2, []string{"caco3", "calcium carbonate"}},
	AsCaO:   {"CaO", massCaO, 2, []string{"cao"}},
	AsHCO3:  {"HCO3", massHCO3, 1, []string{"hco3", "hco3-", "bicarbonate"}},
	AsCO3:   {"CO3", massCO3, 2, []string{"co3", "co3--", "co3-2"}},
	AsCa:    {"Ca", massCa, 2, []string{"ca", "ca++", "ca2+", "ca+2"}},
	AsMg:    {"Mg", massMg, 2, []string{"mg", "mg++", "mg2+", "mg+2"}},
	AsNa:    {"Na", massNa, 1, []string{"na", "na+"}},
	AsK:     {"K", massK, 1, []string{"k", "k+"}},
	AsCl:    {"Cl", massCl, 1, []string{"cl", "cl-"}},
	AsCl2:   {"Cl2", massCl2, 2, []string{"cl2"}},
	AsSO4:   {"SO4", massSO4, 2, []string{"so4", "so4--", "so4-2", "so42-"}},
	AsS:     {"S", massS, 2, []string{"s"}},
	AsN:     {"N", massN, 1, []string{"n"}},
	AsNO3:   {"NO3", massNO3, 1, []string{"no3", "no3-"}},
	AsNO2:   {"NO2", massNO2, 1, []string{"no2", "no2-"}},
	AsNH4:   {"NH4", massNH4, 1, []string{"nh4", "nh4+"}},
	AsP:     {"P", massP, 0, []string{"p"}},
	AsPO4:   {"PO4", massPO4, 0, []string{"po4", "po4---", "po4-3"}},
	AsSiO2:  {"SiO2", massSiO2, 0, []string{"sio2"}},
	AsSi:    {"Si", massSi, 0, []string{"si"}},
	AsF:     {"F", massF, 1, []string{"f", "f-"}},
	AsFe:    {"Fe", massFe, 2, []string{"fe"}},
	AsMn:    {"Mn", massMn, 2, []string{"mn"}},
	AsCu:    {"Cu", massCu, 2, []string{"cu"}},
	AsZn:    {"Zn", massZn, 2, []string{"zn"}},
}

// String is the written name of the basis, such as "CaCO3"; "" for none.
func (b Basis) String() string { return bases[b].name }

// MolarMass is the molar mass of the basis in g/mol; 0 for none.
func (b Basis) MolarMass() float64 { return bases[b].mass }
