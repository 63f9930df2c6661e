package water

import (
	"math"
	"math/rand/v2"
	"testing"
)

// doubted gives readings standard uncertainties.
func doubted(a *Analysis, u map[ID]float64) *Analysis {
	for id, x := range u {
		m, _ := a.Measured(id)
		m.U = x
		a.Set(id, m)
	}
	return a
}

// Two readings of one thing meet at their weighted mean (GUM, and any text on least squares).
func TestTwoFormsMeetAtTheirWeightedMean(t *testing.T) {
	a := doubted(analysisOf(t, "calcium=40 mg/L; calcium_hardness=104 mg/L CaCO3"), map[ID]float64{Calcium: 1, CalciumHardness: 2 * massCaCO3 / massCa})
	r, ok := Reconcile(a)
	if !ok || len(r.Readings) != 2 || !r.Fits() {
		t.Fatalf("%+v, %v", r, ok)
	}
	other := 104 * massCa / massCaCO3
	want := (40*4 + other) / 5
	for _, x := range r.Readings {
		v, u := x.Value, x.U
		if x.ID == CalciumHardness {
			v, u = v*massCa/massCaCO3, u*massCa/massCaCO3
		}
		if math.Abs(v-want) > 1e-6 || math.Abs(u-math.Sqrt(4.0/5)) > 1e-6 {
			t.Errorf("%s: %g, u %g; want %g, u %g", x.ID, v, u, want, math.Sqrt(4.0/5))
		}
	}
}

// The reading that does not fit is named, where others bear the rest out; where nothing can tell, all that could be it are.
func TestTheReadingThatDoesNotFit(t *testing.T) {
	const sound = "pH=7.4; alkalinity=200 mg/L CaCO3; bicarbonate=244 mg/L; calcium=72 mg/L; calcium_hardness=180 mg/L CaCO3; magnesium=12 mg/L; total_hardness=229 mg/L CaCO3; sodium=20 mg/L; chloride=30 mg/L; sulfate=42 mg/L; conductivity=520 uS/cm"
	u := map[ID]float64{Alkalinity: 4, Bicarbonate: 5, Calcium: 1.5, CalciumHardness: 4, Magnesium: 0.6, TotalHardness: 5, Sodium: 1, Chloride: 1, Sulfate: 2, ElectricalConductivity: 8, PHValue: 0.05}
	for _, c := range []struct {
		change map[ID]float64
		want   []ID
	}{
		{nil, nil},
		{map[ID]float64{TotalHardness: 300}, []ID{TotalHardness}},
		{map[ID]float64{Bicarbonate: 150}, []ID{Bicarbonate}},
		{map[ID]float64{CalciumHardness: 72}, []ID{CalciumHardness}},
		{map[ID]float64{Sulfate: 142}, []ID{Chloride, Sulfate}},
	} {
		a := doubted(analysisOf(t, sound), u)
		for id, v := range c.change {
			m, _ := a.Measured(id)
			m.Value = v
			a.Set(id, m)
		}
		r, ok := Reconcile(a)
		if !ok || len(r.Misfits) != len(c.want) || len(c.want) > 0 && r.Misfits[0] != c.want[0] {
			t.Errorf("%v: %v, chi-square %.1f, p %.2g, %+v", c.change, r.Misfits, r.ChiSquare, r.P, r.Readings)
		}
	}
	for readings, n := range map[string]int{
		"calcium=100 mg/L; calcium_hardness=100 mg/L CaCO3":                                2,
		"total_hardness=250 mg/L CaCO3; calcium=40 mg/L; magnesium=5 mg/L":                 3,
		"alkalinity=200 mg/L CaCO3; bicarbonate=100 mg/L":                                  2,
		"magnesium=30 mg/L; magnesium_hardness=30 mg/L CaCO3":                              2,
		"calcium=60 mg/L; magnesium_hardness=40 mg/L CaCO3; total_hardness=100 mg/L CaCO3": 3,
	} {
		a := analysisOf(t, readings)
		for id := range a.have.All() {
			m := a.m[id]
			m.U = 2 + 0.03*m.Value
			a.Set(id, m)
		}
		if r, ok := ReconcileForms(a); !ok || len(r.Misfits) != n {
			t.Errorf("%s: %v of %+v", readings, r.Misfits, r)
		}
	}
}

// Of analyses that err as they say, one in a hundred is called contradictory, and the adjusted value lies within 2 u in 95 %.
func TestReconciledValuesAreAsGoodAsTheySay(t *testing.T) {
	random := rand.New(rand.NewPCG(1, 2))
	const n = 3000
	called, within := 0, 0
	for range n {
		var a Analysis
		calcium, magnesium := 20+random.Float64()*100, 3+random.Float64()*30
		set := func(id ID, truth, u float64) { a.Set(id, Measured{Value: truth + u*random.NormFloat64(), U: u}) }
		set(Calcium, calcium, 2)
		set(CalciumHardness, calcium*massCaCO3/massCa, 8)
		set(Magnesium, magnesium, 1)
		set(TotalHardness, massCaCO3*(calcium/massCa+magnesium/massMg), 7)
		r, _ := Reconcile(&a)
		if !r.Fits() {
			called++
		}
		for _, x := range r.Readings {
			if x.ID == Calcium && math.Abs(x.Value-calcium) < 1.96*x.U {
				within++
			}
		}
	}
	if f := float64(called) / n; f < 0.004 || f > 0.018 {
		t.Errorf("%.2g of sound analyses are called contradictory, want 0.01", f)
	}
	if f := float64(within) / n; f < 0.938 || f > 0.962 {
		t.Errorf("%.3g of adjusted values are within their interval, want 0.95", f)
	}
}
