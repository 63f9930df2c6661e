package judge

import (
	"testing"

	"wj/water"
)

// TestPlausible: what waters and standards for them hold is
// believed, and what no water has is not: a pH of 76 or of −3, half a kilogram of
// sulfate in a litre.
func TestPlausible(t *testing.T) {
	for _, c := range []struct {
		id     water.ID
		v      float64
		inside bool
	}{
		{water.PHValue, 7.6, true}, {water.PHValue, 76, false}, {water.PHValue, -3, false},
		{water.Sulfate, 725, true}, {water.Sulfate, 500_000, false}, {water.Sulfate, -1, false},
		{water.Sodium, 500_000, false}, {water.Iron, 1.85, true}, {water.Nitrate, 443, true}, {water.SampleTemperature, 120, false},
		{water.ElectricalConductivity, 12_880, true}, // a common calibration standard
	} {
		low, high := Plausible(c.id)
		if inside := c.v >= low && c.v <= high; inside != c.inside {
			t.Errorf("%s %g in %g to %g: %v", c.id, c.v, low, high, inside)
		}
	}
	for id := range water.NumAnalytes {
		if low, high := Plausible(id); !(low < high) || high > 200_000 {
			t.Errorf("%s: %g to %g", id, low, high)
		}
	}
}
