// Package water holds what a water analysis is made of: quantities with
// units and uncertainty, the analytes and the units that fit them, and the
// values that follow from the readings of one sample. It is pure: numbers in,
// numbers out, nothing read, nothing written.
//
//	q, err := water.ParseQuantity("118 mg/L CaCO3")
//	dKH, _ := water.ParseUnit("dKH")
//	v, err := water.Alkalinity.Info().Convert(q.Value, q.Unit, dKH) // 6.61
//
//	var a water.Analysis
//	a.Set(water.Sulfate, water.Measured{Value: 112, U: 4})
//	a.Set(water.Chloride, water.Measured{Value: 56, U: 2})
//	ratio, err := a.Value(water.SulfateChlorideRatio) // 2.0, with its uncertainty
package water

import (
	"slices"
	"strings"

	"wj/water/substance"
)

// molarMass is that of a formula of the tables here, g/mol. One that cannot be
// read is a fault of this package, which every test of it finds.
func molarMass(formula string) float64 {
	m, err := substance.MolarMass(formula)
	if err != nil {
		panic(err)
	}
	return m
}

// Molar masses that formulas name, g/mol.
var (
	massCaCO3, massCaO, massHCO3 = molarMass("CaCO3"), molarMass("CaO"), molarMass("HCO3")
	massCO3, massCO2             = molarMass("CO3"), molarMass("CO2")
	massCa, massMg, massNa       = molarMass("Ca"), molarMass("Mg"), molarMass("Na")
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
	namedBases
)

// basisRow holds of a basis its written name, which is its formula, the charge
// equivalents in one mole of it, other spellings, and its molar mass (g/mol).
// Equivalents are those of hardness and alkalinity (1 mol CaCO3 = 2 eq); for
// elements that stand for one ion each (N, P, S, Si) they are not used.
type basisRow struct {
	name      string
	eq        float64
	spellings []string
	mass      float64
}

// bases are the named bases, and behind them one for each other formula of the
// analyte table.
var bases = func() []basisRow {
	rows := slices.Clone(basisRows[:])
	for i := range measured {
		a := &measured[i]
		if a.Formula != "" && !slices.ContainsFunc(rows, func(r basisRow) bool { return r.name == a.Formula }) {
			rows = append(rows, basisRow{name: a.Formula, eq: float64(max(a.Charge, -a.Charge)), spellings: []string{strings.ToLower(a.Formula)}})
		}
	}
	for i := range rows[1:] {
		rows[1+i].mass = molarMass(rows[1+i].name)
	}
	return rows
}()

// basisNamed finds a basis by its written name.
func basisNamed(name string) (Basis, bool) {
	at := slices.IndexFunc(bases, func(r basisRow) bool { return name != "" && r.name == name })
	return Basis(max(at, 0)), at > 0
}

// Bases lists every basis.
func Bases() []Basis {
	list := make([]Basis, 0, len(bases)-1)
	for b := NoBasis + 1; int(b) < len(bases); b++ {
		list = append(list, b)
	}
	return list
}

var basisRows = [namedBases]basisRow{
	AsCaCO3: {"CaCO3", 2, []string{"caco3", "calcium carbonate"}, 0},
	AsCaO:   {"CaO", 2, []string{"cao"}, 0},
	AsHCO3:  {"HCO3", 1, []string{"hco3", "hco3-", "bicarbonate"}, 0},
	AsCO3:   {"CO3", 2, []string{"co3", "co3--", "co3-2"}, 0},
	AsCa:    {"Ca", 2, []string{"ca", "ca++", "ca2+", "ca+2"}, 0},
	AsMg:    {"Mg", 2, []string{"mg", "mg++", "mg2+", "mg+2"}, 0},
	AsNa:    {"Na", 1, []string{"na", "na+"}, 0},
	AsK:     {"K", 1, []string{"k", "k+"}, 0},
	AsCl:    {"Cl", 1, []string{"cl", "cl-"}, 0},
	AsCl2:   {"Cl2", 2, []string{"cl2"}, 0},
	AsSO4:   {"SO4", 2, []string{"so4", "so4--", "so4-2", "so42-"}, 0},
	AsS:     {"S", 2, []string{"s"}, 0},
	AsN:     {"N", 1, []string{"n"}, 0},
	AsNO3:   {"NO3", 1, []string{"no3", "no3-"}, 0},
	AsNO2:   {"NO2", 1, []string{"no2", "no2-"}, 0},
	AsNH4:   {"NH4", 1, []string{"nh4", "nh4+"}, 0},
	AsP:     {"P", 0, []string{"p"}, 0},
	AsPO4:   {"PO4", 0, []string{"po4", "po4---", "po4-3"}, 0},
	AsSiO2:  {"SiO2", 0, []string{"sio2"}, 0},
	AsSi:    {"Si", 0, []string{"si"}, 0},
	AsF:     {"F", 1, []string{"f", "f-"}, 0},
	AsFe:    {"Fe", 2, []string{"fe"}, 0},
	AsMn:    {"Mn", 2, []string{"mn"}, 0},
	AsCu:    {"Cu", 2, []string{"cu"}, 0},
	AsZn:    {"Zn", 2, []string{"zn"}, 0},
}

// String is the written name of the basis, such as "CaCO3"; "" for none.
func (b Basis) String() string { return bases[b].name }

// MolarMass is the molar mass of the basis in g/mol; 0 for none.
func (b Basis) MolarMass() float64 { return bases[b].mass }
