package treat

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"wj/water"
)

// Nine mashes of the invented brewery's bitter; its review screen says 5.34 ± 0.15 at −18.3 and 5.32 at −27.7, slope 0.065 per
// meq/L and r 0.91, computed by hand before this package was written.
func TestOwnMashes(t *testing.T) {
	residual := []float64{-28, -24, -21, -19, -14, -5, 8, 21, 34}
	pH := []float64{5.31, 5.34, 5.32, 5.35, 5.36, 5.34, 5.38, 5.39, 5.40}
	var batches []MashBatch
	for i := range residual {
		batches = append(batches, MashBatch{residual[i], pH[i]})
	}
	l, err := FitMash(batches)
	if err != nil {
		t.Fatal(err)
	}
	if math.Abs(l.SlopePerEquivalent()-0.065) > 0.001 || math.Abs(l.Correlation-0.91) > 0.01 {
		t.Errorf("slope %.4f, r %.3f; want 0.065, 0.91", l.SlopePerEquivalent(), l.Correlation)
	}
	for at, want := range map[float64]float64{-18.3: 5.34, -27.7: 5.32} {
		m, err := l.At(at, 4)
		if err != nil || math.Abs(m.PH-want) > 0.006 {
			t.Errorf("at %g: %v, %v, want %g", at, m, err, want)
		}
		// Even nine good mashes leave ± 0.03: it must be wider than the residuals and narrower than the general estimate.
		if m.HalfWidth < 2*l.Residual || m.HalfWidth > MashSpread {
			t.Errorf("at %g: half-width %.3f with residual %.3f", at, m.HalfWidth, l.Residual)
		}
	}
	for at, least := range map[float64]float64{-29: MashSpread, 35: MashSpread, 120: MashSpread} {
		if m, err := l.At(at, 0); err != nil || m.HalfWidth < least {
			t.Errorf("at %g, where nothing was brewed: %v, %v", at, m, err)
		}
	}
	target, err := l.ResidualAlkalinityFor(5.32, 5.38, math.NaN())
	if err != nil {
		t.Fatal(err)
	}
	back, _ := l.At(target.Max, 0)
	if math.Abs(back.PH-5.38) > 1e-9 || !math.IsNaN(target.Aim) {
		t.Errorf("target %+v, pH at its max %v", target, back)
	}
	if _, err := FitMash(batches[:7]); err == nil {
		t.Error("seven batches were enough")
	}
	flat := make([]MashBatch, 8)
	for i := range flat {
		flat[i] = MashBatch{10, 5.4}
	}
	if _, err := FitMash(flat); err == nil {
		t.Error("a line through one point was fitted")
	}
}

// t at 97.5 %: NIST/SEMATECH e-Handbook 1.3.6.7.2 gives 2.000 for 60 and 1.984 for 100 degrees of freedom.
func TestStudent(t *testing.T) {
	for f, want := range map[int]float64{7: 2.365, 30: 2.042, 60: 2.000, 100: 1.984} {
		if got := studentT(f); math.Abs(got-want) > 6e-4 {
			t.Errorf("t(%d) = %.4f, want %.3f", f, got, want)
		}
	}
}

func TestMashEstimates(t *testing.T) {
	// Kolbach's own statement: 10 German degrees of residual alkalinity are 0.3 of pH.
	low, err1 := MashFromResidualAlkalinity(0, 4, PaleMashPH)
	high, err2 := MashFromResidualAlkalinity(178.48, 4, PaleMashPH)
	if err1 != nil || err2 != nil || math.Abs(high.PH-low.PH-0.3) > 0.001 || low.HalfWidth < MashSpread {
		t.Errorf("%v, %v, %v, %v", low, high, err1, err2)
	}
	p, err := Predict(bitterPlan(t, 210, 120, 75))
	if err != nil {
		t.Fatal(err)
	}
	mash := &Mash{Grist: []Malt{{"pale", 250, 5.75, 40, 0.05}, {"crystal", 15, 4.85, 50, 0.05}}, Liquor: 800}
	mash.Learn(nil)
	pH, err := p.MashPoint(mash)
	if err != nil {
		t.Fatal(err)
	}
	// The balance has a closed form where the water takes its alkalinity whatever the pH: Σ m b (pH − pH0) = V (alkalinity − h (Ca/3.5 + Mg/7)).
	own, _ := p.ownAlkalinity()
	ca, _ := p.Value(water.CalciumHardness)
	mg, _ := p.Value(water.MagnesiumHardness)
	want := (250*40*5.75 + 15*50*4.85 + 800*(own-hardnessMiddle*(ca.Value/3.5+mg.Value/7))/equivalentCalcite) / (250*40 + 15*50)
	if d := pH - want; d > 0.02 || d < -0.05 {
		t.Errorf("grist: %.3f, about %.3f", pH, want)
	}
	p.Plan.Mash = mash
	r, err := p.MashValue()
	if err != nil || r.Value.Value != pH || r.High-r.Low < 0.2 || r.High-r.Low > 0.7 {
		t.Errorf("%+v, %v", r, err)
	}
	// Own batches narrow it and move it to where they came out.
	learnt := *mash
	learnt.Learn([]float64{0.10, 0.12, 0.08, 0.11, 0.09})
	p.Plan.Mash = &learnt
	sharper, err := p.MashValue()
	if err != nil || math.Abs(sharper.Value.Value-pH-0.1) > 0.02 || !(learnt.UOffset < 0.03) {
		t.Errorf("%+v of %+v, %v", sharper, learnt, err)
	}
	for _, bad := range [][]Malt{nil, {{"x", 0, 5.7, 40, 0}}, {{"x", 1, 5.7, 0, 0}}, {{"x", 1, 9, 40, 0}}} {
		if _, err := p.MashPoint(&Mash{Grist: bad, Liquor: 800}); err == nil {
			t.Errorf("%v was accepted", bad)
		}
	}
}

// More alkaline water never lowers the estimate.
func TestMashRisesWithAlkalinity(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		a := rapid.Float64Range(0, 200).Draw(r, "alkalinity")
		b := a + rapid.Float64Range(1, 100).Draw(r, "more")
		grist := []Malt{{"pale", rapid.Float64Range(50, 500).Draw(r, "kg"), rapid.Float64Range(5.5, 5.9).Draw(r, "pH"), rapid.Float64Range(25, 60).Draw(r, "buffer"), 0}}
		var pH [2]float64
		for i, alkalinity := range []float64{a, b} {
			p, err := Predict(Plan{Volume: 1000, Temperature: math.NaN(), Waters: []Portion{{Name: "w", Analysis: bicarbonateWater(alkalinity, 7.5, 15), Share: 1}}})
			if err != nil {
				r.Fatal(err)
			}
			if pH[i], err = p.MashPoint(&Mash{Grist: grist, Liquor: 700}); err != nil {
				r.Skip(err)
			}
		}
		if pH[1] <= pH[0] {
			r.Fatalf("%v", pH)
		}
	})
}
