package report

import (
	"math"
	"testing"

	"wj/water"
)

// TestChargeOfIons holds meq/L to the factors of J. D. Hem, Study and interpretation of the chemical characteristics of
// natural water, USGS Water-Supply Paper 2254 (1985), table 9 (F1, mg/L to meq/L), from memory.
func TestChargeOfIons(t *testing.T) {
	for id, factor := range map[water.ID]float64{water.Calcium: 0.04990, water.Magnesium: 0.08229, water.Sodium: 0.04350, water.Potassium: 0.02558,
		water.Bicarbonate: 0.01639, water.Carbonate: 0.03333, water.Sulfate: 0.02082, water.Chloride: 0.02821, water.Nitrate: 0.01613, water.Fluoride: 0.05264} {
		if got := charge(water.Value{ID: id, Value: 100}); math.Abs(got/100/factor-1) > 5e-4 {
			t.Errorf("100 mg/L of %s are %.3f meq/L, not %.3f", id, got, 100*factor)
		}
	}
}
