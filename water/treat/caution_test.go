package treat

import (
	"math"
	"slices"
	"strings"
	"testing"

	"wj/water"
)

func checked(t *testing.T, plan Plan) []Caution {
	t.Helper()
	p, err := Predict(plan)
	if err != nil {
		t.Fatal(err)
	}
	e, err := p.Equilibrate()
	if err != nil {
		e = nil
	}
	return DefaultLimits().Check(p, e)
}

func has(list []Caution, severity Severity, rule string) bool {
	return slices.ContainsFunc(list, func(c Caution) bool { return c.Severity == severity && c.Rule == rule })
}

func TestCautions(t *testing.T) {
	soft := func() *water.Analysis { return bicarbonateWater(60, 7.2, 10) }
	chlorinated := func() *water.Analysis {
		a := bicarbonateWater(60, 7.2, 10)
		a.Set(water.TotalChlorine, water.Measured{Value: 1, U: 0.05})
		return a
	}
	add := func(key, assay, strength string, amount float64, stage string) Addition {
		return Addition{Product: goods(t, key, assay, strength), Amount: amount, Stage: stage}
	}
	for _, c := range []struct {
		name     string
		water    *water.Analysis
		trained  string
		add      []Addition
		severity Severity
		rule     string
		absent   bool
	}{
		{"little gypsum", soft(), "", []Addition{add("gypsum", "100 %", "", 100, "")}, Warning, "dose/gypsum", true},
		{"much gypsum", soft(), "", []Addition{add("gypsum", "100 %", "", 151, "")}, Warning, "dose/gypsum", false},
		{"too much gypsum", soft(), "", []Addition{add("gypsum", "100 %", "", 241, "")}, Error, "dose/gypsum", false},
		{"anhydrite counts as gypsum", soft(), "", []Addition{add("anhydrite", "100 %", "", 200, "")}, Error, "dose/gypsum", false},
		{"over-acid, warning", soft(), "", []Addition{add("lactic_acid", "", "80 % w/w", 9, "")}, Warning, "dose/over-acid", false},
		{"over-acid", soft(), "", []Addition{add("lactic_acid", "", "80 % w/w", 14, "")}, Error, "dose/over-acid", false},
		{"right acid", soft(), "", []Addition{add("lactic_acid", "", "80 % w/w", 4, "")}, Error, "dose/over-acid", true},
		{"concentrated acid", soft(), "", []Addition{add("hydrochloric_acid", "", "37 % w/w", 1, "")}, Error, "dose/acid-strength", false},
		{"concentrated acid, trained", soft(), "Pia", []Addition{add("hydrochloric_acid", "", "37 % w/w", 1, "")}, Error, "dose/acid-strength", true},
		{"any sulfuric acid", soft(), "", []Addition{add("sulfuric_acid", "", "10 % w/w", 1, "")}, Error, "dose/acid-strength", false},
		{"diluted acid", soft(), "", []Addition{add("hydrochloric_acid", "", "10 % w/w", 1, "")}, Error, "dose/acid-strength", true},
		{"w/v is taken to w/w: 33 % w/v is 28.6 % w/w at 1.15 g/mL", soft(), "", []Addition{add("hydrochloric_acid", "", "33 % w/v", 1, "")}, Error, "dose/acid-strength", true},
		{"and 37 % w/v is 31.7 % w/w", soft(), "", []Addition{add("hydrochloric_acid", "", "37 % w/v", 1, "")}, Error, "dose/acid-strength", false},
		{"acid and base apart", soft(), "", []Addition{add("lactic_acid", "", "80 % w/w", 1, "mash"), add("baking_soda", "99 %", "", 5, "liquor")}, Error, "dose/lime-base", true},
		{"one of two acids meets the sulfite", chlorinated(), "", []Addition{add("lactic_acid", "", "80 % w/w", 1, ""), add("sodium_metabisulfite", "97 %", "", 0.15, "dechlorination"), add("phosphoric_acid", "", "10 % w/w", 1, "mash")}, Error, "dose/incompatible", false},
		{"sulfite, and chlorine not measured", soft(), "", []Addition{add("sodium_metabisulfite", "97 %", "", 0.1, "")}, Warning, "dose/sulfite", false},
		{"acid and sulfite", chlorinated(), "", []Addition{add("lactic_acid", "", "80 % w/w", 1, ""), add("sodium_metabisulfite", "97 %", "", 0.15, "")}, Error, "dose/incompatible", false},
		{"acid and sulfite apart", chlorinated(), "", []Addition{add("lactic_acid", "", "80 % w/w", 1, "mash"), add("sodium_metabisulfite", "97 %", "", 0.15, "dechlorination")}, Error, "dose/incompatible", true},
		{"acid and base", soft(), "", []Addition{add("lactic_acid", "", "80 % w/w", 1, ""), add("baking_soda", "99 %", "", 5, "")}, Error, "dose/lime-base", false},
		{"lime over pH 10", soft(), "", []Addition{add("slaked_lime", "95 %", "", 20, "")}, Error, "dose/lime-base", false},
		{"lactate", bicarbonateWater(300, 7.5, 10), "", []Addition{add("lactic_acid", "", "80 % w/w", 30, "")}, Warning, "dose/anion-from-acid", false},
		{"right sulfite", chlorinated(), "", []Addition{add("sodium_metabisulfite", "97 %", "", 0.15, "")}, Warning, "dose/sulfite", true},
		{"much sulfite", chlorinated(), "", []Addition{add("sodium_metabisulfite", "97 %", "", 3, "")}, Warning, "dose/sulfite", false},
		{"much chloride", soft(), "", []Addition{add("table_salt", "99 %", "", 50, "")}, Warning, "dose/ion-max", false},
		{"sulfate over the drinking-water figure", soft(), "", []Addition{add("epsom_salt", "99 %", "", 70, "")}, Warning, "dose/ion-max", false},
		{"undissolved chalk", soft(), "", []Addition{add("chalk", "99 %", "", 30, "")}, Warning, "dose/lime-base", false},
	} {
		list := checked(t, Plan{Volume: 100, Temperature: math.NaN(), Trained: c.trained, Waters: []Portion{{Name: "w", Analysis: c.water, Share: 1}}, Additions: c.add})
		if has(list, c.severity, c.rule) == c.absent {
			t.Errorf("%s: %s %s: absent should be %v; got %v", c.name, c.severity, c.rule, c.absent, list)
		}
		for _, one := range list {
			if one.Message == "" || one.Help == "" || one.Source == "" {
				t.Errorf("%s: %+v lacks message, help or source", c.name, one)
			}
		}
	}
	if list := checked(t, bitterPlan(t, 210, 120, 75)); len(list) != 0 {
		t.Errorf("the demo's change: %v", list)
	}
	assumed, err := NewProduct("gypsum", water.Quantity{}, "")
	if err != nil {
		t.Fatal(err)
	}
	if list := checked(t, Plan{Volume: 100, Temperature: math.NaN(), Waters: []Portion{{Name: "w", Analysis: soft(), Share: 1}}, Additions: []Addition{{Product: assumed, Amount: 10}}}); !has(list, Warning, "additive/form") {
		t.Errorf("an assumed assay was not told: %v", list)
	}
}

// What is over a limit is reported once, and a brewery's own limits are heard; what is dangerous needs no water.
func TestLimits(t *testing.T) {
	salt := Plan{Volume: 100, Temperature: math.NaN(), Waters: []Portion{{Name: "w", Analysis: bicarbonateWater(60, 7.2, 10), Share: 1}},
		Additions: []Addition{{Product: goods(t, "calcium_chloride_dihydrate", "100 %", ""), Amount: 80}}}
	p, err := Predict(salt)
	if err != nil {
		t.Fatal(err)
	}
	limits := DefaultLimits()
	of := func(list []Caution, what string) (n int) {
		for _, c := range list {
			if strings.Contains(c.Message, what) {
				n++
			}
		}
		return n
	}
	list := limits.Check(p, nil)
	if of(list, "chloride would be") != 1 || of(list, "upper bound") != 0 {
		t.Errorf("%v", list)
	}
	limits.Most[water.Calcium], limits.Most[water.Chloride], limits.Legal = 500, 500, nil
	if list := limits.Check(p, nil); of(list, "would be") != 0 || of(list, "upper bound") != 1 {
		t.Errorf("with other limits: %v", list)
	}
	together := limits.Together([]Addition{{Product: goods(t, "sulfuric_acid", "", "20 % w/w"), Amount: 1, Trained: "Pia"}, {Product: goods(t, "potassium_metabisulfite", "97 %", ""), Amount: 1}})
	if !has(together, Warning, "dose/acid-strength") || !has(together, Error, "dose/incompatible") || !slices.Equal(together[1].Of, []string{"potassium_metabisulfite", "sulfuric_acid"}) {
		t.Errorf("%+v", together)
	}
}

// A dose is never written without unit, strength with basis, volume and upper bound.
func TestDoseCarriesAll(t *testing.T) {
	p, err := Predict(bitterPlan(t, 210, 120, 75))
	if err != nil {
		t.Fatal(err)
	}
	for i, words := range [][]string{{"210 g", "100 ± 2 %", "CaSO4.2H2O", "1500 L", "at most"}, {"120 g", "100 ± 10 %", "1500 L", "at most"}, {"75 mL", "80 % w/w", "1500 L", "at most", "alkalinity"}} {
		for _, w := range words {
			if !strings.Contains(p.Doses[i].String(), w) {
				t.Errorf("%q lacks %q", p.Doses[i], w)
			}
		}
		if d := p.Doses[i]; !(d.Most > d.Amount) || d.Volume != 1500 || math.Abs(d.PerHectolitre()-d.Amount/15) > 1e-12 {
			t.Errorf("%+v", d)
		}
	}
	// Water itself never supplies an upper bound of nothing known: every substance has one.
	for _, key := range []string{"gypsum", "slaked_lime", "chalk", "potassium_chloride", "soda_ash", "citric_acid_monohydrate", "sodium_sulfate"} {
		p, err := Predict(Plan{Volume: 100, Temperature: math.NaN(), Waters: []Portion{{Name: "w", Analysis: well(), Share: 1}}, Additions: []Addition{{Product: goods(t, key, "98 %", ""), Amount: 1}}})
		if err != nil || !(p.Doses[0].Most > 0) || p.Doses[0].Why == "" {
			t.Errorf("%s: %v, %v", key, p, err)
		}
	}
}

func TestSteps(t *testing.T) {
	plan := bitterPlan(t, 210, 120, 75)
	plan.Additions[2].Step = 1
	p, err := Predict(plan)
	if err != nil {
		t.Fatal(err)
	}
	var text []string
	total := map[string]float64{}
	for _, s := range Steps(p) {
		text = append(text, s.Do)
		if s.Dose != nil {
			total[s.Dose.Substance] += s.Amount
			if s.Caution == "" {
				t.Errorf("%q has no caution", s.Do)
			}
		}
	}
	for key, want := range map[string]float64{"gypsum": 210, "calcium_chloride_dihydrate": 120, "lactic_acid": 75} {
		if math.Abs(total[key]-want) > 1e-9 {
			t.Errorf("steps add up to %g of %s, want %g", total[key], key, want)
		}
	}
	all := strings.Join(text, "\n")
	at := func(word string) int { return strings.Index(all, word) }
	if !(at("north-well") >= 0 && at("north-well") < at("gypsum") && at("gypsum") < at("calcium chloride") && at("calcium chloride") < at("lactic") && at("lactic") < at("measure pH") && at("measure pH") < at("add the rest")) {
		t.Errorf("order:\n%s", all)
	}
	t.Log("\n" + all)
}

func TestDechlorinate(t *testing.T) {
	// By-products per mg of chlorine from the molar masses: sulfate 96.056/70.90, chloride 35.45/70.90, sodium 22.990/70.90 × 1.0965, alkalinity 100.086/70.90
	// (free) or half (combined), ammonium 18.039/70.90 (combined).
	g := pure(t, "sodium_metabisulfite")
	free, err := Dechlorinate(Chlorine{Total: 2, UTotal: 0.1, Free: 2}, g, 1000)
	if err != nil {
		t.Fatal(err)
	}
	bound, err := Dechlorinate(Chlorine{Total: 2, UTotal: 0.1, Free: 0}, g, 1000)
	if err != nil {
		t.Fatal(err)
	}
	near := func(name string, got, want float64) {
		t.Helper()
		if math.Abs(got-want) > 1e-3*math.Abs(want)+1e-12 {
			t.Errorf("%s: %g, want %g", name, got, want)
		}
	}
	near("dose", free.Dose.Amount, 2*1.47)
	near("sulfate", free.Sulfate, 2*1.3548)
	near("chloride", free.Chloride, 1)
	near("sodium", free.Sodium, 2*22.990/70.90*1.0965)
	near("alkalinity, free", free.AlkalinityUsed, 2*1.4117)
	near("alkalinity, combined", bound.AlkalinityUsed, 2*0.7058)
	near("ammonium", bound.Ammonium, 2*0.25443)
	near("ammonium, free", free.Ammonium, 0)
	if free.Dose.Over() || free.Dose.Most <= free.Theory || !(free.U > 0) {
		t.Errorf("%+v", free)
	}
	if _, err := Dechlorinate(Chlorine{Total: 1, Free: math.NaN()}, goods(t, "gypsum", "98 %", ""), 100); err == nil {
		t.Error("gypsum took chlorine")
	}
	for _, c := range []Chlorine{{Total: -1}, {Total: 30}, {Total: 1, Free: 3}, {Total: math.NaN()}} {
		if _, err := Dechlorinate(c, g, 100); err == nil {
			t.Errorf("%+v was accepted", c)
		}
	}
	// The prediction of the same dose agrees with the removal.
	a := bicarbonateWater(60, 7.2, 10)
	a.Set(water.TotalChlorine, water.Measured{Value: 2})
	a.Set(water.FreeChlorine, water.Measured{Value: 0})
	p, err := Predict(Plan{Volume: 1000, Temperature: math.NaN(), Waters: []Portion{{Name: "w", Analysis: a, Share: 1}}, Additions: []Addition{bound.Dose.Addition}})
	if err != nil {
		t.Fatal(err)
	}
	v, _ := p.Value(water.Sulfate)
	near("predicted sulfate", v.Value, bound.Sulfate)
	v, _ = p.Value(water.Alkalinity)
	near("predicted alkalinity", v.Value, 60-bound.AlkalinityUsed)
	if v, _ = p.Value(water.TotalChlorine); math.Abs(v.Value) > 1e-9 {
		t.Errorf("chlorine left: %g", v.Value)
	}
	if c, ok := ChlorineOf(a); !ok || c.Total != 2 || c.Free != 0 {
		t.Errorf("%+v, %v", c, ok)
	}
}
