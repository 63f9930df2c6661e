package cause

import (
	"math"
	"testing"

	"wj/water"
)

// TestMistakeFactors holds the factors against conversion factors that Hem 1985
// (USGS Water-Supply Paper 2254, p. 57 and 159) and Standard Methods 2340 print.
func TestMistakeFactors(t *testing.T) {
	for want, published := range map[float64]string{
		1.2193: "alkalinity as CaCO3 to HCO3 (Hem 1985: 0.8202 the other way)",
		2.497:  "calcium to hardness (SM 2340 B)",
		4.118:  "magnesium to hardness (SM 2340 B)",
		17.8:   "German degree (Hem 1985)",
		17.12:  "grain per US gallon (Hem 1985)",
		14.3:   "English degree (Hem 1985)",
		50.04:  "milliequivalent (Hem 1985: 0.01998 the other way)",
		4.4268: "nitrogen to nitrate (Hem 1985: 0.2259 the other way)",
		2.996:  "sulfur to sulfate (ratio of molar masses)",
		1.6485: "chloride to sodium chloride (ratio of molar masses)",
	} {
		best := math.Inf(1)
		for _, c := range []struct {
			id    water.ID
			typed string
		}{{water.Alkalinity, "mg/L CaCO3"}, {water.CalciumHardness, "mg/L CaCO3"}, {water.MagnesiumHardness, "mg/L CaCO3"}, {water.TotalHardness, "mg/L CaCO3"}, {water.Nitrate, "mg/L NO3"}, {water.Sulfate, "mg/L"}, {water.Chloride, "mg/L"}} {
			u, _ := water.ParseUnit(c.typed)
			for _, f := range unitFactors(c.id, u) {
				best = min(best, math.Abs(f.f/want-1))
			}
		}
		if best > 0.005 {
			t.Errorf("no factor for %s, %g", published, want)
		}
	}
}

// TestOriginals: every number that one slip turns into another is found from it,
// with shares that add up to those of the slips.
func TestOriginals(t *testing.T) {
	for _, c := range []struct {
		typed string
		meant float64
	}{{"124", 142}, {"14", 142}, {"1442", 142}, {"742", 142}, {"7.24", 7.42}, {"74", 7.4}} {
		found := false
		for _, o := range originals(c.typed) {
			found = found || o.value == c.meant
			if !(o.share > 0 && o.share <= 1) {
				t.Errorf("%s: share %g of %g", c.typed, o.share, o.value)
			}
		}
		if want := c.typed != "74"; found != want { // a lost point is a slip of the decimal point
			t.Errorf("%g from %s: %v", c.meant, c.typed, found)
		}
	}
}

// The slopes of the conductivity are those of its differences.
func TestConductivitySlopes(t *testing.T) {
	for _, c := range [][ions]float64{{150, 120, 160, 30, 40}, {5, 2, 4, 1, 0.5}, {300, 200, 380, 250, 400}, {10, 100, 180, 5, 1}} {
		var x [core]float64
		for i := range c {
			x[i], _ = lift(coreID[i], c[i])
		}
		_, slope := conductivity(&x)
		for i := range c {
			const h = 1e-6
			low, high := x, x
			low[i] -= h
			high[i] += h
			below, _ := conductivity(&low)
			above, _ := conductivity(&high)
			if want := (above - below) / (2 * h); math.Abs(slope[i]-want) > 1e-5 {
				t.Errorf("%v, coordinate %d: slope %v, difference %v", c, i, slope[i], want)
			}
		}
	}
}
