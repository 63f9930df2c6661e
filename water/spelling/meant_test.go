package spelling_test

import (
	"fmt"
	"slices"
	"testing"

	"wj/water"
	"wj/water/spelling"
)

// What people of the trade write for what wj calls otherwise. The words are
// those of water reports, meters and other programs (common practice, no source).
func TestMeant(t *testing.T) {
	rules := []string{"reagent/expired", "standard/expired", "reagent/unknown", "limit/health", "site/trend"}
	commands := []string{"ls", "lint", "amend", "void", "status", "stats", "stock", "summary", "sheet", "show", "query", "chart"}
	for _, c := range []struct {
		word  string
		known []string
		want  []string
	}{
		{"sulphat", water.Keys(), []string{"sulfate"}},
		{"sulphate", water.Keys(), []string{"sulfate"}},
		{"Sulfat", water.Keys(), []string{"sulfate"}},
		{"hardness", water.Keys(), []string{"total_hardness"}},
		{"hardnes", water.Keys(), []string{"total_hardness"}},
		{"TH", water.Keys(), []string{"total_hardness"}},
		{"chlorine", water.Keys(), []string{"free_chlorine", "total_chlorine"}},
		{"clorine", water.Keys(), []string{"free_chlorine", "total_chlorine"}},
		{"chlorid", water.Keys(), []string{"chloride"}},
		{"Ca", water.Keys(), []string{"calcium"}},
		{"Mg", water.Keys(), []string{"magnesium"}},
		{"alk", water.Keys(), []string{"alkalinity"}},
		{"EC", water.Keys(), []string{"conductivity"}},
		{"TDS", water.Keys(), []string{"dissolved_solids"}},
		{"total hardness", water.Keys(), []string{"total_hardness"}},
		{"Total-Hardness", water.Keys(), []string{"total_hardness"}},
		{"ph", water.Keys(), []string{"pH"}},
		{"temporary hardness", water.Keys(), []string{"carbonate_hardness"}},
		{"salt", water.Keys(), []string{"sodium", "chloride"}},
		{"RA", water.Keys(), []string{"residual_alkalinity"}},
		{"chlorine", []string{"chloride", "sulfate"}, []string{"chloride"}}, // here neither chlorine is known
		{"xyzzy", water.Keys(), nil},
		{"expired", rules, []string{"reagent/expired", "standard/expired"}},
		{"reagent-expired", rules, []string{"reagent/expired"}},
		{"reagents/expird", rules, []string{"reagent/expired"}},
		{"site/history-trend", rules, []string{"site/trend"}},
		{"lot/unknown", rules, []string{"reagent/unknown"}},
		{"trend", rules, []string{"site/trend"}},
		{"inventory", commands, []string{"stock"}},
		{"delete", commands, []string{"void"}},
		{"statu", commands, []string{"status"}},
		{"plot", commands, []string{"chart"}},
		{"ppm", water.UnitNames(), []string{"mg/L"}},
		{"gallon", water.UnitNames(), []string{"gal_us", "gal_br"}},
		{"µS/cm", water.UnitNames(), []string{"uS/cm"}},
		{"", water.Keys(), nil},
	} {
		if got := spelling.Meant(c.word, c.known); !slices.Equal(got, c.want) {
			t.Errorf("Meant(%q) = %q, want %q", c.word, got, c.want)
		}
	}
}

// Every key, title and other word of the analyte table leads to its analyte.
func TestEveryAnalyteIsFound(t *testing.T) {
	for _, key := range water.Keys() {
		id, _ := water.Lookup(key)
		for _, word := range append([]string{key, id.Info().Title}, id.Info().Also...) {
			if got := spelling.Meant(word, water.Keys()); !slices.Contains(got, key) {
				t.Errorf("Meant(%q) = %q, without %s", word, got, key)
			}
		}
	}
}

func TestFind(t *testing.T) {
	ids := []string{"2026-03-01-wicket-bitter", "2026-05-02-wicket-bitter", "2026-03-01-grey-mild", "north-well", "north-well-ro"}
	for _, c := range []struct {
		word, found string
		candidates  []string
		ambiguous   bool
	}{
		{"2026-03-01-wicket-bitter", "2026-03-01-wicket-bitter", nil, false},
		{"grey-mild", "2026-03-01-grey-mild", nil, false},
		{"mild", "2026-03-01-grey-mild", nil, false},
		{"Grey Mild", "2026-03-01-grey-mild", nil, false},
		{"wicket-bitter", "", []string{"2026-03-01-wicket-bitter", "2026-05-02-wicket-bitter"}, true},
		{"2026-05-02", "2026-05-02-wicket-bitter", nil, false},
		{"north-well", "north-well", nil, false},
		{"well-ro", "north-well-ro", nil, false},
		{"well", "", []string{"north-well", "north-well-ro"}, true},
		{"grey-midl", "", []string{"2026-03-01-grey-mild"}, false},
		{"nothing-like-it", "", nil, false},
	} {
		found, candidates, ambiguous := spelling.Find(c.word, ids)
		if found != c.found || !slices.Equal(candidates, c.candidates) || ambiguous != c.ambiguous {
			t.Errorf("Find(%q) = %q, %q, %v", c.word, found, candidates, ambiguous)
		}
	}
}

func ExampleHint() {
	fmt.Println(spelling.Hint("chlorine", water.Keys()))
	// Output: did you mean free_chlorine or total_chlorine?
}

func FuzzMeant(f *testing.F) {
	for _, s := range []string{"sulphat", "TH", "", "µ", "\xff", "------"} {
		f.Add(s)
	}
	known := append(water.Keys(), "reagent/expired", "2026-03-01-wicket-bitter")
	f.Fuzz(func(t *testing.T, s string) {
		for _, name := range spelling.Meant(s, known) {
			if !slices.Contains(known, name) {
				t.Fatalf("Meant(%q) gives %q, which is not known", s, name)
			}
		}
		spelling.Find(s, known)
	})
}
