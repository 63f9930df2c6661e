package treat

import (
	"math"
	"math/rand/v2"
	"testing"

	"pgregory.net/rapid"

	"wj/water"
	"wj/water/substance"
)

// Whatever chlorine, volume and scale: the dose lies between what the chlorine takes up and 1.1 times that (AWWA, Disinfection of
// Pipelines and Storage Facilities Field Guide, table 7-2: 1.47 mg per mg, 1.10 times theory), after scaling to another volume
// too, and no chlorine is left.
func TestSulfiteIsNeitherShortNorOver(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		key := rapid.SampledFrom([]string{"sodium_metabisulfite", "potassium_metabisulfite"}).Draw(r, "key")
		g := goods(t, key, "97 ± 2 %", "")
		g.Step = rapid.SampledFrom([]float64{0, 0.01, 0.1, 1, 5}).Draw(r, "step")
		total := rapid.Float64Range(LeastChlorine, 5).Draw(r, "total")
		a := bicarbonateWater(60, 7.2, 10)
		a.Set(water.TotalChlorine, water.Measured{Value: total, U: 0.05 * total})
		a.Set(water.FreeChlorine, water.Measured{Value: total * rapid.Float64Range(0, 1).Draw(r, "free")})
		plan := Plan{Volume: rapid.Float64Range(10, 5000).Draw(r, "volume"), Temperature: math.NaN(), Waters: []Portion{{Name: "w", Analysis: a, Share: 1}}}
		if err := plan.Dechlorinate(g); err != nil {
			r.Fatal(err)
		}
		scaled, err := plan.ScaleTo(plan.Volume * rapid.Float64Range(0.3, 3).Draw(r, "factor"))
		if err != nil {
			r.Fatal(err)
		}
		for _, plan := range []Plan{plan, scaled} {
			p, err := Predict(plan)
			if err != nil {
				r.Fatal(err)
			}
			removed := p.Removal()
			if ratio := removed.Dose.Amount / removed.Theory; ratio < 1 || ratio > SulfiteFactor || removed.Dose.Over() {
				r.Fatalf("%s is %.3f times the need of %g", removed.Dose, ratio, removed.Theory)
			}
			if v, err := p.Value(water.TotalChlorine); err != nil || math.Abs(v.Value) > 1e-9 || removed.ChlorineLeft > 1e-9 {
				r.Fatalf("%v left (%v)", v, err)
			}
			if removed.SulfiteLeft > 0.12*total { // 0.1 x 64.06/70.90 mg SO2 for each mg of chlorine
				r.Fatalf("%g mg/L SO2 left", removed.SulfiteLeft)
			}
		}
	})
}

// The solver's doses hold for the water that the metabisulfite leaves: with the doses unrounded the prediction has the values that the
// solver saw, and an acid stands in a later stage than the metabisulfite.
func TestSolveCountsTheSulfite(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 9))
	g := pure(t, "sodium_metabisulfite")
	stages := 0
	for n := range 60 {
		p := randomProblem(t, r)
		p.ShareStep = 0
		for j := range p.Shelf {
			p.Shelf[j].Step = 0
		}
		for i := range p.Waters {
			a := *p.Waters[i].Analysis
			total := 2 + 2*r.Float64()
			a.Set(water.TotalChlorine, water.Measured{Value: total})
			a.Set(water.FreeChlorine, water.Measured{Value: total * r.Float64()})
			p.Waters[i].Analysis = &a
		}
		p.Sulfite = &g
		s, err := Solve(p)
		if err != nil {
			t.Fatal(err)
		}
		if first := s.Plan.Additions[0]; first.Substance != g.Substance || first.Stage != DechlorinationStage || s.Doses[0].Over() {
			t.Fatalf("case %d: %v", n, s.Doses)
		}
		if math.Abs(s.Outside-s.OutsideExact) > 1e-9*(1+s.Outside) {
			t.Fatalf("case %d: outside %g, exactly %g", n, s.Outside, s.OutsideExact)
		}
		outside := 0.0
		for _, x := range s.Results {
			if x.Target.ID == water.SulfateChlorideRatio || x.Target.ID == water.PHValue {
				outside = math.NaN()
				break
			}
			lo, hi, _, scale, weight := x.Target.limits()
			row := row{lo: lo, hi: hi, scale: scale, weight: weight}
			outside += row.outside(x.Value.Value)
		}
		// The guard of alkalinity is no target: it may add to the solver's figure.
		// What a titration reads of a weak acid is known to a tenth of a mg/L while the doses are sought.
		if outside > s.OutsideExact+0.01*(1+outside) {
			t.Errorf("case %d: outside %g by the prediction, %g by the solver", n, outside, s.OutsideExact)
		}
		c := checker{doses: s.Prediction.Doses}
		acids := c.kind(substance.Acid)
		for _, sulfite := range c.kind(substance.Sulfite) {
			if len(acids) > 0 {
				stages++
			}
			if met := meets(sulfite, acids); len(met) > 0 {
				t.Errorf("case %d: %s and %s in one step", n, met[0], sulfite)
			}
		}
	}
	if stages == 0 {
		t.Error("no case had an acid")
	}
}

// A blend's chlorine: totals by shares; a test below its range is none; free chlorine alone is told; what was not tested, or is beyond
// its test, is none and told.
func TestChlorineOfBlends(t *testing.T) {
	with := func(total, free water.Measured) *water.Analysis {
		a := bicarbonateWater(60, 7.2, 10)
		a.Set(water.TotalChlorine, total)
		a.Set(water.FreeChlorine, free)
		return a
	}
	onlyFree := bicarbonateWater(60, 7.2, 10)
	onlyFree.Set(water.FreeChlorine, water.Measured{Value: 0.4, U: 0.02})
	below := water.Measured{Bound: water.Below, Value: 0.02}
	portion := func(name string, a *water.Analysis, share float64) Portion {
		return Portion{Name: name, Analysis: a, Share: share}
	}
	full := with(water.Measured{Value: 1, U: 0.1}, water.Measured{Value: 0.6, U: 0.1})
	c, unknown, free := ChlorineIn([]Portion{portion("a", full, 0.5), portion("b", with(below, below), 0.3), portion("c", bicarbonateWater(60, 7.2, 10), 0.2)})
	if math.Abs(c.Total-0.5) > 1e-12 || math.Abs(c.Free-0.3) > 1e-12 || math.Abs(c.UTotal-0.05) > 1e-12 || len(unknown) != 1 || unknown[0] != "c" || len(free) != 0 {
		t.Errorf("%+v, unknown %v, only free %v", c, unknown, free)
	}
	// More than the test reads is never taken for none, whatever the other test says.
	above := water.Measured{Bound: water.Above, Value: 2}
	freeAbove := bicarbonateWater(60, 7.2, 10)
	freeAbove.Set(water.FreeChlorine, above)
	for _, a := range []*water.Analysis{with(above, below), with(above, water.Measured{Value: 0.4}), with(above, above), freeAbove} {
		if _, unknown, free = ChlorineIn([]Portion{portion("e", a, 1)}); len(unknown) != 1 || unknown[0] != "e" || len(free) != 0 || !ChlorineBeyond(a) {
			t.Errorf("beyond the range: unknown %v, only free %v", unknown, free)
		}
	}
	if ChlorineBeyond(full) || ChlorineBeyond(with(below, below)) || ChlorineBeyond(with(water.Measured{Value: 3}, above)) {
		t.Error("a total that was read is beyond its test")
	}
	if c, _, free = ChlorineIn([]Portion{portion("d", onlyFree, 1)}); len(free) != 1 || free[0] != "d" || c.Total != 0.4 {
		t.Errorf("%+v, only free %v", c, free)
	}
}
