package treat

import (
	"fmt"
	"math"
	"testing"

	"wj/water"
)

// The demo's verification: a session in the hot-liquor tank against the prediction; E_n was computed by hand before this
// package was written.
func TestVerification(t *testing.T) {
	p, err := Predict(bitterPlan(t, 210, 120, 75))
	if err != nil {
		t.Fatal(err)
	}
	var tank water.Analysis
	set := func(id water.ID, v, absolute, relative, dilution float64) {
		tank.Set(id, water.Measured{Value: v, U: (absolute*dilution + relative*v) / 2})
	}
	set(water.Alkalinity, 78, 5, 0.05, 1)
	set(water.CalciumHardness, 296, 5, 0.05, 1)
	set(water.TotalHardness, 349, 5, 0.05, 1)
	set(water.Chloride, 58, 2, 0.05, 1)
	set(water.Sulfate, 195, 5, 0.08, 2)
	for id, want := range map[water.ID]float64{water.Sulfate: 0.20, water.Calcium: 0.33, water.Chloride: 0.16, water.ResidualAlkalinity: 0.05} {
		predicted, err1 := p.Value(id)
		measured, err2 := tank.Value(id)
		if err1 != nil || err2 != nil {
			t.Fatal(err1, err2)
		}
		got := math.Abs(water.NormalizedError(predicted.Value, predicted.Expanded(), measured.Value, measured.Expanded()))
		if math.Abs(got-want) > 0.015 {
			t.Errorf("%s: E_n %.3f, want %.2f", id, got, want)
		}
	}
	// The review screen: the approval expires if the well's sulfate leaves 254 to 403.
	lo, hi, ok := p.Room("north-well", water.Sulfate, 180, 240)
	if !ok || math.Abs(lo-254) > 0.6 || math.Abs(hi-403) > 0.6 {
		t.Errorf("room of sulfate %g to %g", lo, hi)
	}
	if _, _, ok := p.Room("north-well", water.ResidualAlkalinity, 0, 1); ok {
		t.Error("residual alkalinity is not one reading")
	}
}

func ExamplePredict() {
	var tap water.Analysis
	tap.Set(water.Alkalinity, water.Measured{Value: 120, U: 4})
	tap.Set(water.Calcium, water.Measured{Value: 40, U: 2})
	tap.Set(water.Magnesium, water.Measured{Value: 8, U: 0.5})
	tap.Set(water.Sodium, water.Measured{Value: 20, U: 1})
	tap.Set(water.Chloride, water.Measured{Value: 25, U: 1.5})
	tap.Set(water.Sulfate, water.Measured{Value: 30, U: 3})
	tap.Set(water.PHValue, water.Measured{Value: 7.6, U: 0.05})
	gypsum, err := NewProduct("gypsum", water.Quantity{Value: 98, Expanded: 2, Unit: water.Percent}, "")
	if err != nil {
		fmt.Println(err)
		return
	}
	acid, err := NewProduct("lactic_acid", water.Quantity{}, "80 % w/w")
	if err != nil {
		fmt.Println(err)
		return
	}
	p, err := Predict(Plan{
		Waters: []Portion{{Name: "tap", Analysis: &tap, Share: 1}}, Volume: 500,
		Additions: []Addition{{Product: gypsum, Amount: 100}, {Product: acid, Amount: 60}},
	})
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, id := range []water.ID{water.Calcium, water.Sulfate, water.Alkalinity, water.ResidualAlkalinity} {
		v, err := p.Value(id)
		if err != nil {
			fmt.Println(err)
			return
		}
		value, half := water.Spread(v.Value, v.Expanded())
		fmt.Println(id, value, "±", half, id.Info().Unit)
	}
	e, err := p.Equilibrate()
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("pH %.1f now, %.1f after standing open\n", e.PH.Value, e.PHDegassed.Value)
	for _, d := range p.Doses {
		fmt.Println(d)
	}
	// Output:
	// calcium 86 ± 4 mg/L
	// sulfate 139 ± 7 mg/L
	// alkalinity 67 ± 8 mg/L CaCO3
	// residual_alkalinity 2 ± 9 mg/L CaCO3
	// pH 6.2 now, 8.2 after standing open
	// 100 g gypsum (calcium sulfate dihydrate), assay 98 ± 2 % of CaSO4.2H2O, into 500 L (at most 560 g: calcium would reach 300 mg/L)
	// 60 mL lactic acid, 80 % w/w, into 500 L (at most 110 mL: alkalinity would reach 0)
}
