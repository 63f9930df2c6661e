package substance

import (
	"bufio"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// Each row of testdata/published/equilibrium-substance.tsv is a check against something outside the project, whose source
// stands in the row.
func TestPublishedValues(t *testing.T) {
	f, err := os.Open(filepath.Join("..", "..", "testdata", "published", "equilibrium-substance.tsv"))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows := 0
	lines := bufio.NewScanner(f)
	for n := 1; lines.Scan(); n++ {
		c := strings.Split(lines.Text(), "\t")
		if n == 1 {
			continue
		}
		if len(c) != 8 {
			t.Fatalf("line %d: %d columns, want 8", n, len(c))
		}
		rows++
		t.Run(c[0], func(t *testing.T) {
			want, err := strconv.ParseFloat(c[2], 64)
			if err != nil {
				t.Fatal(err)
			}
			allowed, err := allowance(c[4], want)
			if err != nil {
				t.Fatal(err)
			}
			got, err := compute(c[1])
			if err != nil {
				t.Fatal(err)
			}
			if c[6] == "disagrees" {
				if math.Abs(got-want) <= allowed || c[7] == "" {
					t.Errorf("row is marked as disagreeing; got %.6g, want %g; remark %q", got, want, c[7])
				}
				return
			}
			if !(math.Abs(got-want) <= allowed) {
				t.Errorf("%s: got %.6g, want %g %s (%s); source: %s", c[1], got, want, c[3], c[4], c[5])
			}
		})
	}
	if rows < 40 {
		t.Errorf("only %d rows", rows)
	}
}

func allowance(s string, want float64) (float64, error) {
	word := strings.Fields(s)[0]
	if word == "exact" {
		return 1e-9 * math.Abs(want), nil
	}
	word = strings.TrimPrefix(word, "±")
	if p, ok := strings.CutSuffix(word, "%"); ok {
		v, err := strconv.ParseFloat(p, 64)
		return v / 100 * math.Abs(want), err
	}
	return strconv.ParseFloat(word, 64)
}

func compute(inputs string) (float64, error) {
	in := map[string]string{}
	for _, part := range strings.Split(inputs, ";") {
		if k, v, ok := strings.Cut(strings.TrimSpace(part), "="); ok {
			in[k] = v
		}
	}
	number := func(key string) float64 {
		v, err := strconv.ParseFloat(in[key], 64)
		if err != nil {
			return math.NaN()
		}
		return v
	}
	if in["do"] == "mass" {
		return MolarMass(in["formula"])
	}
	s, err := Find(in["key"])
	if err != nil {
		return 0, err
	}
	switch in["do"] {
	case "brings":
		moles := number("grams_per_litre") * 1000 / s.MolarMass()
		switch in["want"] {
		case "alkalinity":
			return moles * s.Alkalinity * 100.086 / 2, nil
		case "bicarbonate":
			m, err := MolarMass("HCO3")
			return moles * s.InorganicCarbon * m, err
		}
		return number("grams_per_litre") * 1000 * s.GramsOf(in["want"]), nil
	case "molarity":
		return s.Molarity(Strength{number("percent"), WeightByWeight})
	case "molality":
		p := number("percent")
		return 1000 * p / (100 - p) / s.MolarMass(), nil
	case "density":
		return s.Density(number("percent"))
	case "pKa":
		return s.Dissociation[int(number("step"))-1].At(number("t")), nil
	case "sulfite_per_chlorine":
		chlorine, err := MolarMass("Cl2")
		return s.MolarMass() / (s.MolesOf("sulfite") * chlorine), err
	}
	return 0, fmt.Errorf("no operation %q", in["do"])
}

func TestTableIsWhole(t *testing.T) {
	seen := map[string]bool{}
	for _, s := range All() {
		if seen[s.Key] {
			t.Errorf("%s stands twice", s.Key)
		}
		seen[s.Key] = true
		if s.Name == "" || s.Caution == "" || s.FoodGrade == "" || s.AssayNote == "" || s.Kind == "" {
			t.Errorf("%s: a text is missing", s.Key)
		}
		if m := s.MolarMass(); !(m > 30 && m < 300) {
			t.Errorf("%s: molar mass %g", s.Key, m)
		}
		if !(s.Assay > 0 && s.Assay <= 100) || s.AssayHalfWidth <= 0 {
			t.Errorf("%s: assay %g ± %g", s.Key, s.Assay, s.AssayHalfWidth)
		}
		if s.Liquid && len(s.Densities) == 0 || (len(s.Densities) > 0) != (s.DensitySource != "") {
			t.Errorf("%s: densities without source or none for a liquid", s.Key)
		}
		if (s.Solubility > 0) != (s.SolubilitySource != "") {
			t.Errorf("%s: solubility and its source do not go together", s.Key)
		}
		for i := 1; i < len(s.Densities); i++ {
			if s.Densities[i].Percent <= s.Densities[i-1].Percent {
				t.Errorf("%s: density table is not in order at %g %%", s.Key, s.Densities[i].Percent)
			}
		}
		for i, d := range s.Dissociation {
			if d.Source == "" || i > 0 && d.PKa <= s.Dissociation[i-1].PKa {
				t.Errorf("%s: dissociation step %d", s.Key, i+1)
			}
		}
		// What dissolves is neutral: the ions' charge at the zero level of protons against alkalinity.
		charge := -s.Alkalinity
		for _, i := range s.Ions {
			z, ok := map[string]float64{"calcium": 2, "magnesium": 2, "sodium": 1, "potassium": 1, "chloride": -1, "sulfate": -2, "phosphate": -1, "lactate": -1, "citrate": -1, "sulfite": -1}[i.Name]
			if !ok {
				t.Errorf("%s: ion %q has no charge here", s.Key, i.Name)
			}
			charge += z * i.Moles
			if _, ok := IonMass(i.Name); !ok {
				t.Errorf("%s: ion %q has no mass", s.Key, i.Name)
			}
		}
		if math.Abs(charge) > 1e-12 {
			t.Errorf("%s: charge %g is left", s.Key, charge)
		}
	}
	for _, key := range []string{
		"gypsum", "anhydrite", "calcium_chloride_anhydrous", "calcium_chloride_monohydrate", "calcium_chloride_dihydrate",
		"calcium_chloride_hexahydrate", "epsom_salt", "magnesium_sulfate_anhydrous", "magnesium_chloride_hexahydrate", "table_salt",
		"potassium_chloride", "sodium_sulfate", "baking_soda", "soda_ash", "chalk", "slaked_lime", "lactic_acid", "phosphoric_acid",
		"hydrochloric_acid", "sulfuric_acid", "citric_acid_monohydrate", "citric_acid_anhydrous", "sodium_metabisulfite",
		"potassium_metabisulfite",
	} {
		if !seen[key] {
			t.Errorf("%s is missing", key)
		}
	}
}

func TestFindNamesTheNearest(t *testing.T) {
	for asked, want := range map[string]string{
		"gipsum": "gypsum", "calcium_chloride": "calcium_chloride_dihydrate", "citric_acid": "citric_acid_monohydrate", "": "chalk",
	} {
		_, err := Find(asked)
		if err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("Find(%q): %v, want one that names %s", asked, err, want)
		}
	}
}

func TestWeightByVolume(t *testing.T) {
	s, err := Find("phosphoric_acid")
	if err != nil {
		t.Fatal(err)
	}
	// By definition: 10 g in 100 mL is 100 g/L over the molar mass, whatever the density.
	got, err := s.Molarity(Strength{10, WeightByVolume})
	if err != nil || math.Abs(got-100/97.994) > 1e-4 {
		t.Errorf("10 %% w/v is %v mol/L, %v", got, err)
	}
	rapid.Check(t, func(t *rapid.T) {
		p := rapid.Float64Range(0.5, 84).Draw(t, "percent")
		d, err := s.Density(p)
		if err != nil {
			t.Fatal(err)
		}
		back, err := s.WeightPercent(Strength{p * d, WeightByVolume})
		if err != nil || math.Abs(back-p) > 1e-9 {
			t.Errorf("%v %% w/w came back as %v, %v", p, back, err)
		}
	})
	for _, bad := range []Strength{{0, WeightByWeight}, {101, WeightByWeight}, {math.NaN(), WeightByVolume}, {500, WeightByVolume}, {10, "v/v"}, {10, ""}} {
		if _, err := s.Molarity(bad); err == nil {
			t.Errorf("%v is accepted", bad)
		}
	}
	if _, err := s.Density(86); err == nil {
		t.Error("a density beyond the table is given")
	}
}

func FuzzMolarMass(f *testing.F) {
	for _, s := range All() {
		f.Add(s.Formula)
	}
	f.Add("Ca(")
	f.Add("((((((H))))))")
	f.Add(".2H2O")
	f.Fuzz(func(t *testing.T, formula string) {
		if m, err := MolarMass(formula); err == nil && !(m > 0 && !math.IsInf(m, 0)) && !strings.Contains(formula, "0") {
			t.Errorf("%q: %v", formula, m)
		}
	})
}
