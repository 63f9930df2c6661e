package treat

import (
	"math"
	"testing"

	"wj/water"
	"wj/water/substance"
)

// The invented brewery's water of June 2026: a well and reverse-osmosis permeate; accuracies (95 %) of a bench photometer,
// sulfate and total hardness diluted 1:1. Laboratory figures are good to 5 %.
func well() *water.Analysis {
	var a water.Analysis
	set := func(id water.ID, v, absolute, relative, dilution float64) {
		a.Set(id, water.Measured{Value: v, U: (absolute*dilution + relative*v) / 2})
	}
	set(water.PHValue, 7.2, 0.15, 0, 1)
	set(water.Alkalinity, 246, 5, 0.05, 1)
	set(water.CalciumHardness, 417, 5, 0.05, 1)
	set(water.TotalHardness, 543, 5, 0.05, 2)
	set(water.Chloride, 44, 2, 0.05, 1)
	set(water.Sulfate, 306, 5, 0.08, 2)
	set(water.SampleTemperature, 11, 0.5, 0, 1)
	return &a
}

func permeate() *water.Analysis {
	var a water.Analysis
	for id, v := range map[water.ID]float64{
		water.PHValue: 6.1, water.Alkalinity: 5, water.Calcium: 0.8, water.Magnesium: 0.15, water.Sodium: 2.2, water.Potassium: 0,
		water.Chloride: 1.2, water.Sulfate: 0.8, water.Nitrate: 0.3,
	} {
		a.Set(id, water.Measured{Value: v, U: 0.05 * v / 2})
	}
	return &a
}

func goods(t testing.TB, key, assay, strength string) Product {
	t.Helper()
	var q water.Quantity
	if assay != "" {
		var err error
		if q, err = ParseAssay(assay); err != nil {
			t.Fatal(err)
		}
	}
	g, err := NewProduct(key, q, strength)
	if err != nil {
		t.Fatal(err)
	}
	return g
}

func bitterPlan(t testing.TB, gypsum, chloride, acid float64) Plan {
	return Plan{
		Waters: []Portion{
			{Name: "north-well", Analysis: well(), Share: 0.4, UShare: TypicalShareUncertainty},
			{Name: "ro-permeate", Analysis: permeate(), Share: 0.6, UShare: TypicalShareUncertainty},
		},
		Volume: 1500, Temperature: math.NaN(),
		Additions: []Addition{
			{Product: goods(t, "gypsum", "100 ± 2 %", ""), Amount: gypsum},
			{Product: goods(t, "calcium_chloride_dihydrate", "100 ± 10 %", ""), Amount: chloride},
			{Product: goods(t, "lactic_acid", "", "80 % w/w"), Amount: acid},
		},
	}
}

// The figures of the demo's review screen were computed by hand from the demo's waters and doses before this package was
// written; half-widths there are rounded to a whole number. That of sodium has 3.7 % of the well's 12.6 meq/L beside, for what was not measured.
func TestReviewScreen(t *testing.T) {
	type row struct {
		id                           water.ID
		blend, now, proposed, spread float64
	}
	rows := []row{
		{water.Calcium, 67.3, 134.9, 121.7, 5},
		{water.Magnesium, 12.3, 12.3, 12.3, 4},
		{water.Sodium, 16.9, 16.9, 16.9, math.Hypot(10, 2*0.4*0.037*12.6*22.99)},
		{water.Chloride, 18.3, 47.3, 56.9, 5},
		{water.Sulfate, 122.9, 245.6, 201.0, 14},
		{water.Alkalinity, 101.4, 79.3, 79.3, 8}, // by a titration to 4.5, where 0.16 of the lactate takes its proton back
		{water.ResidualAlkalinity, 46.2, -24.16, -14.74, 8},
	}
	now, err := Predict(bitterPlan(t, 330, 90, 75))
	if err != nil {
		t.Fatal(err)
	}
	proposed, err := Predict(bitterPlan(t, 210, 120, 75))
	if err != nil {
		t.Fatal(err)
	}
	for _, r := range rows {
		near := func(what string, got, want, within float64) {
			if within < 0.1 && (r.id == water.Alkalinity || r.id == water.ResidualAlkalinity) {
				within = 0.15 // what sulfate and the ionic strength hold at the end point was not counted by hand
			}
			if !(math.Abs(got-want) <= within) {
				t.Errorf("%v %s: %.3f, want %g ± %g", r.id, what, got, want, within)
			}
		}
		b, err1 := proposed.Blend(r.id)
		n, err2 := now.Value(r.id)
		p, err3 := proposed.Value(r.id)
		if err1 != nil || err2 != nil || err3 != nil {
			t.Fatal(err1, err2, err3)
		}
		within := 0.06
		if r.id == water.Sodium {
			within = 0.5 // by difference: the sum of all roundings of the other figures
		}
		near("blend", b.Value, r.blend, within)
		near("now approved", n.Value, r.now, within)
		near("proposed", p.Value, r.proposed, within)
		near("half-width", p.Expanded(), r.spread, 0.75)
		t.Logf("%v %.2f ± %.2f (blend %.2f, now %.2f)", r.id, p.Value, p.Expanded(), b.Value, n.Value)
	}
	cations, anions := proposed.IonBalance()
	t.Logf("cations %.3f anions %.3f", cations, anions)
	lactate, u := proposed.Acid("lactate")
	if math.Abs(lactate-47) > 0.5 {
		t.Errorf("lactate %.2f ± %.2f, want 47", lactate, u)
	}
	for _, d := range proposed.Doses {
		t.Log(d)
	}
	e, err := proposed.Equilibrate()
	if err != nil {
		t.Fatal(err)
	}
	if len(e.Undissolved) != 0 {
		t.Errorf("undissolved %v, want none", e.Undissolved)
	}
	t.Logf("pH %.2f ± %.2f, degassed %.2f ± %.2f, SI %.2f ± %.2f, gypsum %.2f, EC %.0f ± %.0f, titrated %.1f, %v", e.PH.Value, e.PH.Expanded(), e.PHDegassed.Value,
		e.PHDegassed.Expanded(), e.Calcite.Value, e.Calcite.Expanded(), e.Gypsum.Value, e.Conductivity.Value, e.Conductivity.Expanded(), e.Precipitation, proposed.Assumptions)
}

var _ = substance.WeightByWeight

func BenchmarkPredict(b *testing.B) {
	p := bitterPlan(b, 210, 120, 75)
	b.ReportAllocs()
	for b.Loop() {
		if _, err := Predict(p); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkEquilibrate(b *testing.B) {
	p, err := Predict(bitterPlan(b, 210, 120, 75))
	if err != nil {
		b.Fatal(err)
	}
	for b.Loop() {
		if _, err := p.Equilibrate(); err != nil {
			b.Fatal(err)
		}
	}
}
