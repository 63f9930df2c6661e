package treat

import (
	"math"
	"math/bits"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"wj/water"
	"wj/water/substance"
)

// bitterTarget is the target of the demo's bitter.
func bitterTarget() []Target {
	return []Target{
		{ID: water.Calcium, Min: 90, Max: 140, Aim: unset}, {ID: water.Magnesium, Min: unset, Max: 25, Aim: unset},
		{ID: water.Sodium, Min: unset, Max: 60, Aim: unset}, {ID: water.Chloride, Min: 40, Max: 80, Aim: unset},
		{ID: water.Sulfate, Min: 180, Max: 240, Aim: unset}, {ID: water.Alkalinity, Min: unset, Max: 90, Aim: unset},
		{ID: water.ResidualAlkalinity, Min: -30, Max: 10, Aim: unset},
	}
}

func bitterProblem(t testing.TB) Problem {
	list := shelf(t)
	for i := range list {
		list[i].Step = 5
	}
	return Problem{
		Waters: []Supply{{Name: "north-well", Analysis: well(), UShare: TypicalShareUncertainty}, {Name: "ro-permeate", Analysis: permeate(), UShare: TypicalShareUncertainty}},
		Volume: 1500, Temperature: unset, Shelf: list, Targets: bitterTarget(), ShareStep: 0.01, Slack: PracticalSlack,
	}
}

func TestSolveTheBitter(t *testing.T) {
	s, err := Solve(bitterProblem(t))
	if err != nil {
		t.Fatal(err)
	}
	if !s.Met() || s.Outside > 1e-9 || len(s.Bindings) != 0 {
		t.Errorf("target missed: %+v", s.Results)
	}
	for _, r := range s.Results {
		if !math.IsNaN(r.Margin) && r.Margin < 1 {
			t.Errorf("margin of %s is only %.2f u", r.Words, r.Margin)
		}
	}
	for _, w := range s.Plan.Waters {
		if v := w.Share * 100; math.Abs(v-math.Round(v)) > 1e-9 {
			t.Errorf("share %g is not a whole per cent", w.Share)
		}
		t.Log(w.Name, w.Share)
	}
	for _, d := range s.Doses {
		if math.Mod(d.Amount, 5) != 0 {
			t.Errorf("%v is not a multiple of 5", d)
		}
		t.Log(d)
	}
	t.Log(s.Inside, s.InsideExact)

	full := bitterProblem(t)
	full.Slack = 0
	all, err := Solve(full)
	if err != nil {
		t.Fatal(err)
	}
	if len(all.Doses) < len(s.Doses) || all.InsideExact > s.InsideExact || s.InsideExact > all.InsideExact+PracticalSlack+1e-3 {
		t.Errorf("slack: %d additions at %g against %d at %g", len(s.Doses), s.InsideExact, len(all.Doses), all.InsideExact)
	}
}

func keys(doses []Dose) []string {
	var out []string
	for _, d := range doses {
		out = append(out, d.Substance)
	}
	return out
}

func TestSolveOptions(t *testing.T) {
	solve := func(change func(*Problem)) *Solution {
		t.Helper()
		p := bitterProblem(t)
		change(&p)
		s, err := Solve(p)
		if err != nil {
			t.Fatal(err)
		}
		return s
	}
	if s := solve(func(p *Problem) { p.Only = []string{"gypsum"} }); len(s.Doses) > 1 || len(s.Doses) == 1 && s.Doses[0].Substance != "gypsum" {
		t.Errorf("only gypsum: %v", keys(s.Doses))
	}
	if s := solve(func(p *Problem) { p.Without = []string{"gypsum"} }); slices.Contains(keys(s.Doses), "gypsum") {
		t.Errorf("without gypsum: %v", keys(s.Doses))
	}
	one := solve(func(p *Problem) { p.MaxAdditions = 1 })
	if len(one.Doses) > 1 {
		t.Errorf("at most one: %v", keys(one.Doses))
	}
	none := solve(func(p *Problem) { p.MaxAdditions = -1 })
	if len(none.Doses) != 0 || none.Met() || len(none.Bindings) == 0 {
		t.Errorf("none: %v, bindings %v", keys(none.Doses), none.Bindings)
	}
	for _, b := range none.Bindings {
		t.Log(b.Words)
	}
	if one.Outside > none.Outside+1e-9 {
		t.Errorf("one addition is worse (%g) than none (%g)", one.Outside, none.Outside)
	}
	bound := solve(func(p *Problem) { p.Waters[1].Most = 0.2; p.MaxAdditions = 0 })
	if bound.Plan.Waters[1].Share > 0.2+1e-9 {
		t.Errorf("share %g over its most", bound.Plan.Waters[1].Share)
	}
	for _, b := range bound.Bindings {
		t.Log(b.Words)
	}
	// With one pack nearly empty its bound holds, and the binding says so.
	stock := solve(func(p *Problem) {
		p.Only = []string{"gypsum"}
		p.Waters[1].Least = 0.7
		p.Shelf[0].Stock, p.Shelf[0].Step = 100, 0
	})
	if len(stock.Doses) != 1 || stock.Doses[0].Amount > 100+1e-9 {
		t.Errorf("stock of 100 g: %v", stock.Doses)
	}
	if !slices.ContainsFunc(stock.Bindings, func(b Binding) bool { return b.What == "gypsum" && strings.Contains(b.Words, "stock") }) {
		t.Errorf("bindings do not name the stock: %v", stock.Bindings)
	}
	for _, b := range stock.Bindings {
		t.Log(b.Words)
	}
}

// Two lots of one salt that do the same: the cheaper is taken. A salt and an acid that do the same: the salt.
func TestTies(t *testing.T) {
	soft := bicarbonateWater(30, 7, 15)
	p := Problem{Waters: []Supply{{Name: "w", Analysis: soft}}, Volume: 100, Temperature: unset,
		Targets: []Target{{ID: water.Calcium, Min: 50, Max: 60, Aim: unset}}}
	dear, cheap := goods(t, "calcium_chloride_dihydrate", "100 %", ""), goods(t, "calcium_chloride_dihydrate", "98 %", "")
	dear.Lot, dear.Price, cheap.Lot, cheap.Price = "A", 5, "B", 2
	for _, order := range [][]Product{{dear, cheap}, {cheap, dear}} {
		p.Shelf = order
		s, err := Solve(p)
		if err != nil || len(s.Doses) != 1 || s.Doses[0].Lot != "B" {
			t.Fatalf("%v, %v", s, err)
		}
		if cost, ok := s.Doses[0].Cost(); !ok || math.Abs(cost-s.Doses[0].Amount/1000*2) > 1e-12 {
			t.Errorf("cost %g", cost)
		}
	}
	p.Targets = []Target{{ID: water.Chloride, Min: 20, Max: 20, Aim: 20}, {ID: water.Alkalinity, Min: unset, Max: 40, Aim: unset}}
	p.Shelf = []Product{goods(t, "hydrochloric_acid", "", "10 % w/w"), goods(t, "table_salt", "99 %", "")}
	s, err := Solve(p)
	if err != nil || len(s.Doses) != 1 || s.Doses[0].Substance != "table_salt" {
		t.Fatalf("%v, %v", s.Doses, err)
	}
	// A water that is its own target needs nothing and is at distance zero.
	s, err = Solve(Problem{Waters: []Supply{{Name: "w", Analysis: well()}}, Volume: 100, Temperature: unset, Shelf: shelf(t),
		Targets: []Target{{ID: water.Sulfate, Aim: 306, Min: unset, Max: unset}, {ID: water.Chloride, Aim: 44, Min: unset, Max: unset}}})
	if err != nil || len(s.Doses) != 0 || s.Outside > 1e-12 || s.Inside > 1e-12 || !s.Met() {
		t.Fatalf("%+v, %v", s, err)
	}
}

// The branch and bound against looking at every set.
func TestMaxAdditionsIsExact(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 1415))
	for n := range 150 {
		p := randomProblem(t, r)
		p.MaxAdditions = 1 + r.IntN(3)
		m, err := newModel(&p)
		if err != nil {
			t.Fatal(err)
		}
		got, families, err := m.solve()
		if err != nil {
			t.Fatal(err)
		}
		if used := bits.OnesCount32(m.used(got.x)); used > p.MaxAdditions {
			t.Fatalf("case %d: %d additions, at most %d", n, used, p.MaxAdditions)
		}
		best, fewest := math.Inf(1), 99
		for pass := range 2 {
			for which, f := range families {
				for set := range uint32(1) << len(m.shelf) {
					if set&^f.allowed != 0 || bits.OnesCount32(set) > p.MaxAdditions {
						continue
					}
					q, err := m.at(f, which, set)
					if err != nil {
						t.Fatal(err)
					}
					if pass == 0 {
						best = math.Min(best, q.cost)
					} else if q.cost <= best+1e-12 {
						fewest = min(fewest, bits.OnesCount32(m.used(q.x)))
					}
				}
			}
		}
		if got.cost > best+1e-6 {
			t.Errorf("case %d: %.9g, a better set of %d has %.9g", n, got.cost, p.MaxAdditions, best)
		}
		if used := bits.OnesCount32(m.used(got.x)); used > fewest {
			t.Errorf("case %d: %d additions where %d do as well", n, used, fewest)
		}
	}
}

// A target of pH: the answer, solved by the full equilibrium, lies in the range, for acids and a base, strong and weak.
func TestSolveForPH(t *testing.T) {
	hard := well()
	for _, c := range []struct {
		key, assay, strength string
		lo, hi               float64
	}{
		{"lactic_acid", "", "80 % w/w", 5.5, 5.6}, {"phosphoric_acid", "", "10 % w/w", 6.4, 6.6}, {"hydrochloric_acid", "", "10 % w/w", 6.0, 6.2},
		{"citric_acid_monohydrate", "99.5 %", "", 6.2, 6.3}, {"baking_soda", "99.5 %", "", 7.3, 7.4},
	} {
		p := Problem{Waters: []Supply{{Name: "well", Analysis: hard}}, Volume: 1000, Temperature: 12, Shelf: []Product{goods(t, c.key, c.assay, c.strength)},
			Targets: []Target{{ID: water.PHValue, Min: c.lo, Max: c.hi, Aim: unset}}}
		s, err := Solve(p)
		if err != nil {
			t.Errorf("%s: %v", c.key, err)
			continue
		}
		// After baking soda a little calcite may form, by which the range is all but used up.
		if v, room := s.Results[0].Value.Value, s.Results[0].Range.None-s.Results[0].Range.Tank; math.Abs(s.Results[0].Missed) > 0.005 || math.Abs(v-(c.lo+c.hi)/2) > 2e-3+room/2 || len(s.Doses) != 1 {
			t.Errorf("%s: pH %.4f, want the middle of %g…%g (%v)", c.key, v, c.lo, c.hi, s.Doses)
		}
	}
	// Of lime it is not known how far it settles: no dose keeps both ends within a tenth of pH, and the answer says so.
	limed, err := Solve(Problem{Waters: []Supply{{Name: "well", Analysis: hard}}, Volume: 1000, Temperature: 12, Shelf: []Product{goods(t, "slaked_lime", "95 %", "")},
		Targets: []Target{{ID: water.PHValue, Min: 7.5, Max: 7.6, Aim: unset}}})
	if err != nil || limed.Met() || limed.Chance.All > 0.05 {
		t.Errorf("lime to a pH: %+v, %v", limed.Results, err)
	}
	// Out of reach: the bound of the acid holds, and the result says how far off it is.
	p := Problem{Waters: []Supply{{Name: "well", Analysis: hard}}, Volume: 1000, Temperature: 12, Shelf: []Product{goods(t, "lactic_acid", "", "80 % w/w")},
		Targets: []Target{{ID: water.PHValue, Min: 4.0, Max: 4.2, Aim: unset}}}
	s, err := Solve(p)
	if err != nil {
		t.Fatal(err)
	}
	if s.Met() || s.Results[0].Missed <= 0 {
		t.Errorf("pH 4.2 was reached: %+v", s.Results[0])
	}
	if v, err := s.Prediction.Value(water.Alkalinity); err != nil || v.Value < AlkalinityWarning {
		t.Errorf("the solver left %.1f mg/L of alkalinity", v.Value)
	}
}

func TestSolveForRatio(t *testing.T) {
	p := bitterProblem(t)
	p.ShareStep = 0
	for i := range p.Shelf {
		p.Shelf[i].Step = 0
	}
	p.Targets = []Target{{ID: water.SulfateChlorideRatio, Min: 2, Max: 2.5, Aim: 2.2}, {ID: water.Calcium, Min: 90, Max: 120, Aim: unset}, {ID: water.Chloride, Min: 50, Max: 70, Aim: unset}}
	s, err := Solve(p)
	if err != nil {
		t.Fatal(err)
	}
	if !s.Met() || s.Results[0].Value.Value < 2-1e-6 || s.Results[0].Value.Value > 2.5+1e-6 {
		t.Errorf("%+v", s.Results)
	}
}

func TestSolveRefuses(t *testing.T) {
	good := func() Problem { return bitterProblem(t) }
	sulfite, _ := NewProduct("sodium_metabisulfite", water.Quantity{}, "")
	var bare water.Analysis
	bare.Set(water.Calcium, water.Measured{Value: 50})
	cases := map[string]func(*Problem){
		"no water":         func(p *Problem) { p.Waters = nil },
		"no target":        func(p *Problem) { p.Targets = nil },
		"no volume":        func(p *Problem) { p.Volume = 0 },
		"shares too small": func(p *Problem) { p.Waters[0].Most, p.Waters[1].Most = 0.3, 0.3 },
		"min over max":     func(p *Problem) { p.Targets[0].Min = 200 },
		"empty target":     func(p *Problem) { p.Targets[0] = Target{ID: water.Calcium, Min: unset, Max: unset, Aim: unset} },
		"not additive":     func(p *Problem) { p.Targets[0] = Target{ID: water.CarbonDioxide, Min: 1, Max: 2, Aim: unset} },
		"sulfite":          func(p *Problem) { p.Shelf = append(p.Shelf, sulfite) },
		"missing ion":      func(p *Problem) { p.Waters[0].Analysis = &bare },
		"no pH": func(p *Problem) {
			p.Waters[0].Analysis = &bare
			p.Targets = []Target{{ID: water.PHValue, Min: 5, Max: 6, Aim: unset}}
		},
	}
	for name, change := range cases {
		p := good()
		change(&p)
		if s, err := Solve(p); err == nil {
			t.Errorf("%s: solved: %v", name, s.Doses)
		} else if strings.HasSuffix(err.Error(), ".") {
			t.Errorf("%s: %q ends in a full stop", name, err)
		}
	}
}

func TestHazard(t *testing.T) {
	order := []Product{goods(t, "gypsum", "98 %", ""), goods(t, "baking_soda", "99 %", ""), goods(t, "lactic_acid", "", "80 % w/w"), goods(t, "hydrochloric_acid", "", "10 % w/w"), goods(t, "sulfuric_acid", "", "96 % w/w")}
	for i := 1; i < len(order); i++ {
		if Hazard(order[i-1]) >= Hazard(order[i]) {
			t.Errorf("%s is not less hazardous than %s", order[i-1].Substance, order[i].Substance)
		}
	}
	for _, s := range substance.All() {
		g := Product{Substance: s.Key, Percent: s.Assay, Basis: substance.WeightByWeight, Unit: water.Gram}
		if h := Hazard(g); h < 0 || h > 5 {
			t.Errorf("%s: %d", s.Key, h)
		}
	}
}

// A dose that moves nothing is left out, and less of a water than a tank shows is none.
func TestNothingIdleIsProposed(t *testing.T) {
	p := Problem{Waters: []Supply{{Name: "well", Analysis: well(), UShare: TypicalShareUncertainty}, {Name: "ro", Analysis: permeate(), UShare: TypicalShareUncertainty, Most: 0.9993}}, Volume: 1500, Temperature: unset, ShareStep: 0.01, Chance: 0.5,
		Shelf:   []Product{goods(t, "gypsum", "98 %", ""), goods(t, "table_salt", "99 %", "")},
		Targets: []Target{{ID: water.Sulfate, Min: 55, Max: 80, Aim: unset}, {ID: water.Alkalinity, Min: unset, Max: 12, Aim: unset}, {ID: water.Sodium, Min: 2.25, Max: unset, Aim: unset}}}
	s, err := Solve(p)
	if err != nil {
		t.Fatal(err)
	}
	for _, w := range s.Plan.Waters {
		if w.Share < 0.005 {
			t.Errorf("%.4g %% %s", 100*w.Share, w.Name)
		}
	}
	if len(s.Doses) != 1 {
		t.Errorf("%v", s.Doses)
	}
	if sum := s.Plan.Waters[0].Share; len(s.Plan.Waters) == 1 && math.Abs(sum-1) > 1e-9 {
		t.Errorf("the shares make %g", sum)
	}
}
