package water

import (
	"errors"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

func softAnalysis() *Analysis {
	var a Analysis
	for id, m := range map[ID]Measured{
		PHValue: {Value: 6.1, U: 0.1}, Alkalinity: {Value: 6, U: 1}, CalciumHardness: {Value: 3, U: 1}, TotalHardness: {Value: 4, U: 1}, Chloride: {Value: 2.5, U: 0.5},
		Sulfate: {Value: 1.5, U: 0.5}, SampleTemperature: {Value: 14, U: 0.25}, Sodium: {Value: 3, U: 0.2},
	} {
		a.Set(id, m)
	}
	return &a
}

func TestBlendMixesByVolume(t *testing.T) {
	hard, soft := fullAnalysis(), softAnalysis()
	b, err := Combine(Part{hard, 0.4, 0}, Part{soft, 0.6, 0})
	if err != nil {
		t.Fatal(err)
	}
	for _, id := range []ID{Alkalinity, CalciumHardness, TotalHardness, Chloride, Sulfate, Sodium, Calcium, Magnesium, ResidualAlkalinity, CationSum} {
		v, err := b.Value(id)
		want := 0.4*hard.Number(id) + 0.6*soft.Number(id)
		if id == CationSum {
			continue // potassium was not measured in the soft water, so the mixture has none
		}
		if err != nil || math.Abs(v.Value-want) > 1e-9*math.Abs(want) {
			t.Errorf("%s: %v, %v; want %g", id, v.Value, err, want)
		}
		x, _ := hard.Value(id)
		y, _ := soft.Value(id)
		if u := math.Hypot(0.4*x.U, 0.6*y.U); math.Abs(v.U-u) > 1e-9*u {
			t.Errorf("%s: u %g, want %g", id, v.U, u)
		}
	}
	pH, err := b.Value(PHValue)
	if err != nil || pH.Value < 6.1 || pH.Value > 7.42 || pH.U <= 0 || math.Abs(pH.Value-(0.4*7.42+0.6*6.1)) < 0.05 {
		t.Errorf("pH %v ± %v, %v: it does not mix by volume", pH.Value, pH.U, err)
	}
	if v, err := b.Value(SaturationIndex); err != nil || v.Value >= hard.Number(SaturationIndex) {
		t.Errorf("%+v, %v", v, err)
	}
	if _, err := b.Value(Potassium); err == nil {
		t.Error("potassium of a water in which it was not measured")
	}
	m := b.Analysis()
	if x, ok := m.Measured(PHValue); !ok || x.U != pH.U {
		t.Errorf("%+v", x)
	}
}

func TestBlendWithItselfIsItself(t *testing.T) {
	a := fullAnalysis()
	rapid.Check(t, func(t *rapid.T) {
		s := rapid.Float64Range(0, 1).Draw(t, "share")
		b, err := Combine(Part{a, s, 0}, Part{a, 1 - s, 0})
		if err != nil {
			t.Fatal(err)
		}
		for _, id := range []ID{Alkalinity, Sulfate, Magnesium, ResidualAlkalinity, PHValue} {
			v, err := b.Value(id)
			want, _ := a.Value(id)
			if err != nil || math.Abs(v.Value-want.Value) > 1e-6*math.Abs(want.Value) || math.Abs(v.U-want.U) > 0.01*want.U {
				t.Fatalf("%s: %v ± %v, %v; want %v ± %v", id, v.Value, v.U, err, want.Value, want.U)
			}
		}
	})
}

// A lot that reads 3 % high does so in both waters: the errors add instead of
// averaging (GUM 5.2.2, note 1: r = 1 gives the linear sum).
func TestALotsBiasIsShared(t *testing.T) {
	var a, b Analysis
	a.Set(Sulfate, Measured{Value: 300, U: 9, Shared: "SU-2511"})
	b.Set(Sulfate, Measured{Value: 100, U: 3, Shared: "SU-2511"})
	together, _ := Combine(Part{&a, 0.5, 0}, Part{&b, 0.5, 0})
	v, err := together.Value(Sulfate)
	if err != nil || math.Abs(v.U-6) > 1e-12 {
		t.Errorf("u %g, %v; want 6", v.U, err)
	}
	b.Set(Sulfate, Measured{Value: 100, U: 3})
	apart, _ := Combine(Part{&a, 0.5, 0}, Part{&b, 0.5, 0})
	if v, _ = apart.Value(Sulfate); math.Abs(v.U-math.Hypot(4.5, 1.5)) > 1e-12 {
		t.Errorf("u %g, want %g", v.U, math.Hypot(4.5, 1.5))
	}
	// Half the variance shared, half each reading's own.
	a.Set(Sulfate, Measured{Value: 300, U: 9, Shared: "SU-2511", SharedU: 9 * math.Sqrt2 / 2})
	b.Set(Sulfate, Measured{Value: 100, U: 3, Shared: "SU-2511", SharedU: 3 * math.Sqrt2 / 2})
	half, _ := Combine(Part{&a, 0.5, 0}, Part{&b, 0.5, 0})
	want := math.Sqrt(0.5*36 + 0.5*(4.5*4.5+1.5*1.5))
	u, budget := half.Spread(false, func(m *Analysis) float64 { return m.Number(Sulfate) })
	if math.Abs(u-want) > 1e-12 || len(budget) != 3 {
		t.Errorf("u %g, want %g; %+v", u, want, budget)
	}
	// Within one analysis: a bias that calcium and total hardness share cancels in
	// part in the magnesium (GUM 5.2.2 with r = 1: the difference of the two).
	var c Analysis
	c.Set(CalciumHardness, Measured{Value: 100, U: 5, Shared: "meter-2"})
	c.Set(TotalHardness, Measured{Value: 150, U: 7.5, Shared: "meter-2"})
	if v, _ := c.Derive(MagnesiumHardness); math.Abs(v.U-2.5) > 1e-12 {
		t.Errorf("u %g, want 2.5", v.U)
	}
}

func TestSharesMoveTheBlend(t *testing.T) {
	var a, b Analysis
	a.Set(Sulfate, Measured{Value: 300})
	b.Set(Sulfate, Measured{Value: 10})
	mixed, err := Combine(Part{&a, 0.4, 0.005}, Part{&b, 0.6, 0})
	if err != nil {
		t.Fatal(err)
	}
	// One half per cent more of the one is as much less of the other: (300 − 10) × 0.005.
	if v, _ := mixed.Value(Sulfate); math.Abs(v.U-1.45) > 1e-9 {
		t.Errorf("u %g, want 1.45", v.U)
	}
}

func TestBoundsInABlend(t *testing.T) {
	well, permeate, other := analysisOf(t, "sulfate=300 mg/L; chloride=<5 mg/L; nitrate=>100 mg/L NO3"), analysisOf(t, "sulfate=<10 mg/L; chloride=<2 mg/L; nitrate=<1 mg/L NO3"), analysisOf(t, "sulfate=>200 mg/L")
	b, err := Combine(Part{well, 0.4, 0}, Part{permeate, 0.6, 0})
	if err != nil {
		t.Fatal(err)
	}
	if v, _ := b.Value(Sulfate); v.Bound != Exact || math.Abs(v.Value-123) > 1e-9 || math.Abs(v.U-0.6*10/math.Sqrt(12)) > 1e-9 {
		t.Errorf("sulfate %+v", v)
	}
	if v, _ := b.Value(Chloride); v.Bound != Below || math.Abs(v.Value-3.2) > 1e-12 {
		t.Errorf("chloride %+v", v)
	}
	if v, _ := b.Value(Nitrate); v.Bound != Above || math.Abs(v.Value-40) > 1e-12 {
		t.Errorf("nitrate %+v", v)
	}
	b, _ = Combine(Part{well, 0.5, 0}, Part{other, 0.5, 0})
	if v, _ := b.Value(Sulfate); v.Bound != Above || v.Value != 250 {
		t.Errorf("sulfate %+v", v)
	}
}

func TestCombineRefuses(t *testing.T) {
	a := fullAnalysis()
	for why, parts := range map[string][]Part{
		"none": {}, "no analysis": {{nil, 1, 0}}, "100 %": {{a, 0.5, 0}, {softAnalysis(), 0.4, 0}}, "between 0 and 1": {{a, -0.5, 0}, {a, 1.5, 0}}, "share NaN": {{a, math.NaN(), 0}},
	} {
		if _, err := Combine(parts...); err == nil || !strings.Contains(err.Error(), why) {
			t.Errorf("%s: %v", why, err)
		}
	}
	soft := softAnalysis()
	hard := analysisOf(t, six)
	b, _ := Combine(Part{hard, 0.5, 0}, Part{soft, 0.5, 0})
	var absent *Absent
	if _, err := b.Value(ChargeBalance); !errors.As(err, &absent) {
		t.Errorf("a balance with sodium by difference in one part: %v", err)
	}
	if v, err := b.Value(Sodium); err != nil || math.Abs(v.Value-(0.5*hard.Number(Sodium)+1.5)) > 1e-9 {
		t.Errorf("%+v, %v", v, err)
	}
}

// JCGM 101:2008: the blend's uncertainties against drawn readings.
func TestMonteCarloOfABlend(t *testing.T) {
	hard, soft := fullAnalysis(), softAnalysis()
	for _, a := range []*Analysis{hard, soft} {
		for _, id := range []ID{Alkalinity, Sulfate} {
			m := a.m[id]
			m.Shared, m.SharedU = "lot of "+id.String(), 0.8*m.U
			a.Set(id, m)
		}
	}
	b, err := Combine(Part{hard, 0.4, 0.01}, Part{soft, 0.6, 0})
	if err != nil {
		t.Fatal(err)
	}
	random := rand.New(rand.NewPCG(1, 20260304))
	for _, id := range []ID{Sulfate, ResidualAlkalinity, Sodium, PHValue} {
		v, err := b.Value(id)
		if err != nil {
			t.Fatal(err)
		}
		const draws = 2500
		within := 0
		for range draws {
			lots := map[string]float64{}
			parts := []*Analysis{hard, soft}
			drawn := make([]Analysis, 2)
			for p, a := range parts {
				drawn[p] = *a
				for k := range NumAnalytes {
					if !a.Has(k) {
						continue
					}
					own, common := a.m[k].split()
					name := a.m[k].Shared
					if _, ok := lots[name]; !ok {
						lots[name] = random.NormFloat64()
					}
					drawn[p].m[k].Value += own*random.NormFloat64() + common*lots[name]
				}
			}
			s := 0.4 + 0.01*random.NormFloat64()
			one, err := Combine(Part{&drawn[0], s, 0}, Part{&drawn[1], 1 - s, 0})
			if err != nil {
				t.Fatal(err)
			}
			m := one.mix(one.water, shares(one.parts), needsPH(id))
			if math.Abs(m.Number(id)-v.Value) <= 2*v.U {
				within++
			}
		}
		if c := float64(within) / draws; c < 0.935 || c > 0.972 {
			t.Errorf("%s: ± 2 u holds %.1f %%", id, 100*c)
		}
	}
}

func TestPropagateRefuses(t *testing.T) {
	sum := func(x []float64) []float64 { return []float64{x[0] + x[1]} }
	one := []float64{1, 1}
	for why, c := range map[string]struct {
		x, u []float64
		r    [][]float64
	}{
		"uncertainties":       {one, []float64{1}, nil},
		"input 2 is NaN":      {[]float64{1, math.NaN()}, one, nil},
		"0 or more":           {one, []float64{1, -1}, nil},
		"rows":                {one, one, [][]float64{{1}}},
		"columns":             {one, one, [][]float64{{1, 0}, {0}}},
		"with itself":         {one, one, [][]float64{{1, 0}, {0, 2}}},
		"is given as":         {one, one, [][]float64{{1, 0.5}, {0.4, 1}}},
		"between -1 and 1":    {one, one, [][]float64{{1, 1.5}, {1.5, 1}}},
		"at the inputs":       {[]float64{math.MaxFloat64, math.MaxFloat64}, one, nil},
		"within the uncertai": {one, []float64{math.MaxFloat64, math.MaxFloat64}, nil},
	} {
		f := sum
		if why == "within the uncertai" {
			f = func(x []float64) []float64 { return []float64{math.Log(2-math.Abs(x[0])) + x[1]} }
		}
		if _, err := Propagate(f, c.x, c.u, c.r); err == nil || !strings.Contains(err.Error(), why) {
			t.Errorf("%s: %v", why, err)
		}
	}
	// Three errors cannot all run against each other.
	r := [][]float64{{1, -1, -1}, {-1, 1, -1}, {-1, -1, 1}}
	if _, err := Propagate(func(x []float64) []float64 { return []float64{x[0] + x[1] + x[2]} }, []float64{1, 1, 1}, []float64{1, 1, 1}, r); err == nil {
		t.Error("impossible correlations")
	}
}
