// Package substance holds what is added to brewing water as dated, sourced data: salts, acids and bases with their
// formula, hydrate, purity, solubility, strength and density, and what one mole of each brings into solution.
//
// It knows no other package. Masses are grams, amounts moles, volumes litres, strengths per cent, temperatures
// degrees Celsius.
//
//	gypsum, err := substance.Find("gypsum")
//	moles, err := gypsum.MolesInGrams(100, gypsum.Assay)
//	sulfate := moles * gypsum.MolesOf("sulfate") // mol
package substance

import (
	"fmt"
	"math"
	"sort"
	"strings"
)

// Dated is the day on which the tables of this package were last gone through against their sources.
const Dated = "2026-11-25"

// Kind says what a substance does to a water.
type Kind string

// The kinds of substance. A Sulfite takes chlorine away and is neither a salt for flavour nor an acid.
const (
	Salt    Kind = "salt"
	Acid    Kind = "acid"
	Base    Kind = "base"
	Sulfite Kind = "sulfite"
)

// Ion is a dissolved constituent, by the name that a journal uses for the analyte, with its amount in mol per mol of
// the pure substance.
type Ion struct {
	Name  string
	Moles float64
}

// Dissociation is one step of an acid: pKa at 25 degC and zero ionic strength, with the change of enthalpy in kJ/mol and
// of heat capacity in kJ/(mol K).
type Dissociation struct {
	PKa          float64
	Enthalpy     float64
	HeatCapacity float64
	Source       string
}

// At returns pKa at a temperature in degC by the Clarke & Glew equation (Trans. Faraday Soc. 62 (1966) 539) to its second
// term, good to about 0.01 between 5 and 60 degC for the acids here.
func (d Dissociation) At(celsius float64) float64 {
	const gas = 8.314462618e-3 // kJ/(mol K), CODATA 2018
	kelvin := celsius + 273.15
	ratio := 298.15 / kelvin
	return d.PKa + (d.Enthalpy*(1/kelvin-1/298.15)-d.HeatCapacity*(ratio-1-math.Log(ratio)))/(math.Ln10*gas)
}

// DensityPoint is the density at 20 degC, g/mL, of a solution with Percent g of substance in 100 g of solution.
type DensityPoint struct {
	Percent float64
	Density float64
}

// Substance is one row of the table. A zero value in Solubility means that the source gives none worth a limit.
type Substance struct {
	// Key is the name in files and queries, the hydrate spelled out: "calcium_chloride_dihydrate".
	Key string
	// Name is for people.
	Name string
	Kind Kind
	// Formula as MolarMass reads it.
	Formula string
	// Ions are what one mole leaves in water as conservative totals: calcium, chloride, sulfate, phosphate, lactate …
	Ions []Ion
	// Alkalinity is the change of total alkalinity in equivalents per mole, negative for an acid. The zero level of
	// protons is that of equilibrium.Water: CO2, H2PO4-, lactate-, H2 citrate-, SO4 2-.
	Alkalinity float64
	// InorganicCarbon is mol of carbonate carbon per mole.
	InorganicCarbon float64
	// Assay is the mass per cent of the formula substance that goods are assumed to hold when the label says nothing,
	// and AssayHalfWidth the half width of a rectangular distribution around it.
	Assay, AssayHalfWidth float64
	AssayNote             string
	// Liquid means that the usual goods are a solution, whose strength must be given.
	Liquid bool
	// Dissociation lists the steps of a weak acid; a strong acid has none.
	Dissociation []Dissociation
	// Densities are of solutions at 20 degC; DensitySource says where from.
	Densities     []DensityPoint
	DensitySource string
	// Solubility is grams of the formula substance that a litre of pure water takes up at SolubilityAt degC.
	Solubility       float64
	SolubilityAt     float64
	SolubilitySource string
	// Caution is what a person must read before handling it; FoodGrade is what to ask of the goods.
	Caution   string
	FoodGrade string
}

// MolarMass returns g/mol from the formula and the abridged IUPAC weights. Every row of the table has a formula that
// can be read; a test holds that.
func (s Substance) MolarMass() float64 {
	m, err := MolarMass(s.Formula)
	if err != nil {
		return math.NaN()
	}
	return m
}

// MolesOf returns mol of the named constituent per mol of substance, 0 where it brings none.
func (s Substance) MolesOf(ion string) float64 {
	for _, i := range s.Ions {
		if i.Name == ion {
			return i.Moles
		}
	}
	return 0
}

// ionFormula gives the formula that a mass of each constituent is reported as.
var ionFormula = map[string]string{
	"calcium": "Ca", "magnesium": "Mg", "sodium": "Na", "potassium": "K", "ammonium": "NH4", "chloride": "Cl",
	"sulfate": "SO4", "nitrate": "NO3", "fluoride": "F", "phosphate": "PO4", "silica": "SiO2", "lactate": "C3H5O3",
	"citrate": "C6H5O7", "sulfite": "SO3",
}

// IonMass returns the molar mass in g/mol that a constituent is reported with (sulfate as SO4, phosphate as PO4), and
// whether the name is known.
func IonMass(ion string) (float64, bool) {
	f, ok := ionFormula[ion]
	if !ok {
		return 0, false
	}
	m, err := MolarMass(f)
	return m, err == nil
}

// GramsOf returns grams of the named constituent that one gram of the pure substance brings: 0.2328 for calcium from
// gypsum. It is 0 where it brings none.
func (s Substance) GramsOf(ion string) float64 {
	m, ok := IonMass(ion)
	if !ok {
		return 0
	}
	return s.MolesOf(ion) * m / s.MolarMass()
}

// All returns the whole table in the order of its keys. The caller owns the slice.
func All() []Substance {
	all := make([]Substance, 0, len(salts)+len(acids)+len(others))
	all = append(all, salts...)
	all = append(all, acids...)
	all = append(all, others...)
	sort.Slice(all, func(i, j int) bool { return all[i].Key < all[j].Key })
	return all
}

// otherNames are what people and labels call a substance otherwise. They are told and not taken: a name without its hydrate is not
// yet an amount.
var otherNames = map[string]string{
	"calcium_hydroxide": "slaked_lime", "hydrated_lime": "slaked_lime", "lime": "slaked_lime", "ca(oh)2": "slaked_lime",
	"calcium_carbonate": "chalk", "caco3": "chalk", "calcium_sulfate": "gypsum (the dihydrate) or anhydrite",
	"calcium_sulfate_dihydrate": "gypsum", "caso4": "anhydrite, or gypsum (the dihydrate)",
	"calcium_chloride": "calcium_chloride_dihydrate, or _anhydrous, _monohydrate, _hexahydrate, as the label says", "cacl2": "calcium_chloride_dihydrate, or _anhydrous, _monohydrate, _hexahydrate, as the label says",
	"magnesium_sulfate": "epsom_salt (the heptahydrate) or magnesium_sulfate_anhydrous", "mgso4": "epsom_salt (the heptahydrate) or magnesium_sulfate_anhydrous",
	"magnesium_sulfate_heptahydrate": "epsom_salt", "magnesium_chloride": "magnesium_chloride_hexahydrate", "sodium_chloride": "table_salt", "salt": "table_salt", "nacl": "table_salt",
	"sodium_bicarbonate": "baking_soda", "sodium_hydrogen_carbonate": "baking_soda", "bicarbonate": "baking_soda", "nahco3": "baking_soda", "sodium_carbonate": "soda_ash",
	"citric_acid": "citric_acid_monohydrate or citric_acid_anhydrous, as the label says", "metabisulfite": "sodium_metabisulfite or potassium_metabisulfite",
}

// Find returns the substance with the key. Its error names the nearest keys, so that a hydrate left out or a misspelt
// name can be put right without a manual.
func Find(key string) (Substance, error) {
	if s, ok := ByKey(key); ok {
		return s, nil
	}
	if own, ok := otherNames[strings.ToLower(strings.ReplaceAll(key, " ", "_"))]; ok {
		return Substance{}, fmt.Errorf("look up substance %q: it is called %s here", clip(key), own)
	}
	near := nearest(key, 3)
	return Substance{}, fmt.Errorf("look up substance %q: no such key; nearest are %s", clip(key), strings.Join(near, ", "))
}

// ByKey returns the substance with the key and whether there is one.
func ByKey(key string) (Substance, bool) {
	for _, table := range [][]Substance{salts, acids, others} {
		for i := range table {
			if table[i].Key == key {
				return table[i], true
			}
		}
	}
	return Substance{}, false
}

func clip(s string) string {
	if len(s) > 60 {
		return strings.ToValidUTF8(s[:60], "") + "…"
	}
	return s
}

// nearest lists n keys: those that hold the asked word first, then by edit distance.
func nearest(key string, n int) []string {
	type candidate struct {
		key  string
		cost int
	}
	asked := strings.ToLower(clip(key))
	var list []candidate
	for _, s := range All() {
		cost := 10 + editDistance(asked, s.Key)
		if asked != "" && (strings.Contains(s.Key, asked) || strings.Contains(asked, s.Key)) {
			cost = len(s.Key) - len(asked)
			if cost < 0 {
				cost = -cost
			}
			cost = min(cost, 9)
		}
		list = append(list, candidate{s.Key, cost})
	}
	sort.SliceStable(list, func(i, j int) bool { return list[i].cost < list[j].cost })
	keys := make([]string, 0, n)
	for i := 0; i < n && i < len(list); i++ {
		keys = append(keys, list[i].key)
	}
	return keys
}

// editDistance is Levenshtein's (1966) count of single-character edits.
func editDistance(a, b string) int {
	row := make([]int, len(b)+1)
	for j := range row {
		row[j] = j
	}
	for i := 1; i <= len(a); i++ {
		diagonal := row[0]
		row[0] = i
		for j := 1; j <= len(b); j++ {
			cost := diagonal
			if a[i-1] != b[j-1] {
				cost++
			}
			diagonal = row[j]
			row[j] = min(cost, row[j]+1, row[j-1]+1)
		}
	}
	return row[len(b)]
}
