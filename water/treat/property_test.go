package treat

import (
	"math"
	"math/rand/v2"
	"testing"

	"pgregory.net/rapid"

	"wj/water"
	"wj/water/substance"
)

func drawWater(r *rapid.T, label string) *water.Analysis {
	seed := rapid.Uint64().Draw(r, label)
	return randomWater(rand.New(rand.NewPCG(seed, 1)))
}

func drawPlan(t *testing.T, r *rapid.T) Plan {
	p := Plan{Volume: rapid.Float64Range(10, 5000).Draw(r, "volume"), Temperature: rapid.Float64Range(5, 60).Draw(r, "temperature")}
	share := rapid.Float64Range(0.05, 0.95).Draw(r, "share")
	p.Waters = []Portion{{Name: "a", Analysis: drawWater(r, "a"), Share: share, UShare: 0.005}, {Name: "b", Analysis: drawWater(r, "b"), Share: 1 - share, UShare: 0.005}}
	for _, g := range shelf(t) {
		if rapid.Bool().Draw(r, g.Substance) {
			p.Additions = append(p.Additions, Addition{Product: g, Amount: p.Volume * rapid.Float64Range(0, 0.05).Draw(r, "amount")})
		}
	}
	return p
}

var reported = []water.ID{water.Calcium, water.Magnesium, water.Sodium, water.Chloride, water.Sulfate, water.Alkalinity, water.ResidualAlkalinity, water.TotalHardness}

// The same concentrations in any volume; neither order nor splitting of waters and additions matters; blending and dosing keep the
// charge that the analyses leave unexplained.
func TestPredictionProperties(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		plan := drawPlan(t, r)
		p, err := Predict(plan)
		if err != nil {
			r.Fatal(err)
		}
		scaled, err := plan.ScaleTo(plan.Volume * rapid.Float64Range(0.1, 10).Draw(r, "factor"))
		if err != nil {
			r.Fatal(err)
		}
		turned := plan
		turned.Waters = []Portion{plan.Waters[1], plan.Waters[0]}
		turned.Additions = nil
		for i := len(plan.Additions) - 1; i >= 0; i-- {
			half := plan.Additions[i]
			half.Amount /= 2
			half.HalfWidth = plan.Additions[i].HalfWidth
			turned.Additions = append(turned.Additions, half, half)
		}
		s, err1 := Predict(scaled)
		o, err2 := Predict(turned)
		if err1 != nil || err2 != nil {
			r.Fatal(err1, err2)
		}
		for _, id := range reported {
			a, err := p.Value(id)
			b, err1 := s.Value(id)
			c, err2 := o.Value(id)
			if err != nil || err1 != nil || err2 != nil {
				r.Fatal(err, err1, err2)
			}
			if math.Abs(a.Value-b.Value) > 1e-9*(1+math.Abs(a.Value)) || math.Abs(a.U-b.U) > 1e-9*(1+a.U) {
				r.Fatalf("%s: %v scaled to another volume is %v", id, a, b)
			}
			if math.Abs(a.Value-c.Value) > 1e-9*(1+math.Abs(a.Value)) {
				r.Fatalf("%s: %v in another order is %v", id, a, c)
			}
			if !(a.U > 0) {
				r.Fatalf("%s has no uncertainty", id)
			}
		}
		before := p.c.blend.cations() - p.c.blend.anions()
		cations, anions := p.IonBalance()
		if math.Abs(cations-anions-before) > 1e-9*(1+cations) {
			r.Fatalf("charge left over went from %g to %g meq/L", before, cations-anions)
		}
	})
}

// carbonOf is the inorganic carbon of the blend.
func (p *Prediction) carbonOf() float64 {
	p.ends()
	return p.course.carbon
}

// A Monte Carlo of the whole calculation against the propagated uncertainty (JCGM 101:2008, section 8: agreement of the
// standard deviation within its sampling error).
func TestUncertaintyByMonteCarlo(t *testing.T) {
	montecarlo(t, 0)
	plan := bitterPlan(t, 210, 120, 75)
	p, err := Predict(plan)
	if err != nil {
		t.Fatal(err)
	}
	e, err := p.Equilibrate()
	if err != nil {
		t.Fatal(err)
	}
	r := rand.New(rand.NewPCG(101, 2008))
	ids := []water.ID{water.Calcium, water.Sodium, water.Chloride, water.Sulfate, water.Alkalinity, water.ResidualAlkalinity, water.SulfateChlorideRatio}
	const draws = 3000
	sums, squares := make([]float64, len(ids)+3), make([]float64, len(ids)+3)
	for range draws {
		d := plan
		d.Waters = append([]Portion(nil), plan.Waters...)
		d.Additions = append([]Addition(nil), plan.Additions...)
		for i := range d.Waters {
			a := *plan.Waters[i].Analysis
			for id := water.ID(0); id < water.NumAnalytes; id++ {
				if m, ok := a.Measured(id); ok {
					m.Value += m.U * r.NormFloat64()
					if id != water.PHValue {
						m.Value = math.Max(0, m.Value)
					}
					a.Set(id, m)
				}
			}
			d.Waters[i].Analysis = &a
		}
		shift := TypicalShareUncertainty * math.Sqrt(3) * (2*r.Float64() - 1)
		d.Waters[0].Share += shift
		d.Waters[1].Share -= shift
		for i := range d.Additions {
			d.Additions[i].Percent += d.Additions[i].HalfWidth * (2*r.Float64() - 1)
		}
		q, err := Predict(d)
		if err != nil {
			t.Fatal(err)
		}
		f := make([]float64, indexCount)
		if err := indices(&q.c.treated, q.carbonOf(), q.course, q.ends()[0].corner, f); err != nil {
			t.Fatal(err)
		}
		for k := range sums {
			var v float64
			switch k {
			case len(ids):
				v = f[standingPH]
			case len(ids) + 1:
				v = f[calciteIndex]
			case len(ids) + 2:
				v = f[conductivityValue]
			default:
				w, err := q.Value(ids[k])
				if err != nil {
					t.Fatal(err)
				}
				v = w.Value
			}
			sums[k] += v
			squares[k] += v * v
		}
	}
	for k := range sums {
		mean := sums[k] / draws
		sd := math.Sqrt(squares[k]/draws - mean*mean)
		var name string
		var u float64
		switch k {
		case len(ids):
			name, u = "pH", e.PH.U
		case len(ids) + 1:
			name, u = "saturation index", e.Calcite.U
		case len(ids) + 2:
			v := e.Conductivity // the draws know nothing of the method's error
			name, u = "conductivity", math.Sqrt(v.U*v.U-math.Pow(water.ConductivityModel*v.Value, 2))
		default:
			v, _ := p.Value(ids[k])
			name, u = ids[k].String(), v.U
			if ids[k] == water.Sodium { // nor of what was not measured
				for _, w := range p.Plan.Waters {
					u = math.Sqrt(u*u - math.Pow(w.Share*w.Analysis.UnmeasuredCharge()*water.Sodium.Info().MolarMass, 2))
				}
			}
		}
		t.Logf("%s: u %.4g, by Monte Carlo %.4g", name, u, sd)
		within := 0.05 // 3000 draws know a standard deviation to 1.3 %
		if k >= len(ids) {
			within = 0.10 // pH and index are curved: their first-order uncertainty is that much off for half a bench test's scatter
		}
		if math.Abs(sd/u-1) > within {
			t.Errorf("%s: u %.4g, by Monte Carlo %.4g", name, u, sd)
		}
	}
}

// Doses found for a volume are those of another in proportion.
func TestSolutionScales(t *testing.T) {
	r := rand.New(rand.NewPCG(5, 6))
	for range 60 {
		p := randomProblem(t, r)
		a, err := Solve(p)
		if err != nil {
			t.Fatal(err)
		}
		p.Volume *= 2.5
		b, err := Solve(p)
		if err != nil {
			t.Fatal(err)
		}
		if len(a.Doses) != len(b.Doses) {
			t.Fatalf("%v, %v", a.Doses, b.Doses)
		}
		for i := range a.Doses {
			if math.Abs(b.Doses[i].Amount-2.5*a.Doses[i].Amount) > 1e-6*(1+b.Doses[i].Amount) || math.Abs(a.Doses[i].PerHectolitre()-b.Doses[i].PerHectolitre()) > 1e-6 {
				t.Fatalf("%v, %v", a.Doses[i], b.Doses[i])
			}
		}
	}
}

// Readings that share a lot err together: their parts add, not their squares.
func TestSharedErrors(t *testing.T) {
	plan := func(shared string) Plan {
		var ws [2]water.Analysis
		for i := range ws {
			ws[i].Set(water.Sulfate, water.Measured{Value: 100, U: 10, Shared: shared})
		}
		return Plan{Volume: 1, Temperature: math.NaN(), Waters: []Portion{{Name: "a", Analysis: &ws[0], Share: 0.5}, {Name: "b", Analysis: &ws[1], Share: 0.5}}}
	}
	for shared, want := range map[string]float64{"": 10 / math.Sqrt2, "lot SU-1": 10} {
		p, err := Predict(plan(shared))
		if err != nil {
			t.Fatal(err)
		}
		if v, err := p.Value(water.Sulfate); err != nil || math.Abs(v.U-want) > 1e-9 {
			t.Errorf("shared %q: u %g, want %g (%v)", shared, v.U, want, err)
		}
	}
}

// A result below its range counts as anything from none to the limit, and is told; a missing one makes its value absent, not
// zero.
func TestCensoredAndMissing(t *testing.T) {
	low := *well()
	low.Set(water.Chloride, water.Measured{Bound: water.Below, Value: 12})
	p, err := Predict(Plan{Volume: 1, Temperature: math.NaN(), Waters: []Portion{{Name: "w", Analysis: &low, Share: 1}}})
	if err != nil {
		t.Fatal(err)
	}
	v, err := p.Value(water.Chloride)
	if err != nil || v.Value != 6 || math.Abs(v.U-12/math.Sqrt(12)) > 1e-12 || len(p.Assumptions) == 0 {
		t.Errorf("%v, %v, %v", v, err, p.Assumptions)
	}
	for _, id := range []water.ID{water.Potassium, water.Nitrate, water.ChargeBalance, water.PHValue, water.SaturationIndex} {
		if v, err := p.Value(id); err == nil {
			t.Errorf("%s: %v", id, v)
		}
	}
}

func FuzzPredict(f *testing.F) {
	f.Add(0.4, 1500.0, 210.0, 80.0, 7.2, 246.0)
	f.Add(0.0, 1e-9, 1e9, 100.0, 2.0, -50.0)
	f.Add(1.0, 1e12, 0.0, 1e-9, 14.0, 1e6)
	f.Fuzz(func(t *testing.T, share, volume, amount, percent, pH, alkalinity float64) {
		a := *well()
		a.Set(water.PHValue, water.Measured{Value: pH, U: 0.1})
		a.Set(water.Alkalinity, water.Measured{Value: alkalinity, U: 5})
		p, err := Predict(Plan{
			Waters: []Portion{{Name: "a", Analysis: &a, Share: share}, {Name: "b", Analysis: permeate(), Share: 1 - share}},
			Volume: volume, Temperature: math.NaN(),
			Additions: []Addition{{Product: Product{Substance: "lactic_acid", Unit: water.Millilitre, Percent: percent, Basis: substance.WeightByWeight}, Amount: amount}},
		})
		if err != nil {
			return
		}
		for _, id := range reported {
			if v, err := p.Value(id); err == nil && math.IsNaN(v.Value) {
				t.Fatalf("%s is not a number", id)
			}
		}
		e, _ := p.Equilibrate()
		DefaultLimits().Check(p, e)
		Steps(p)
	})
}
