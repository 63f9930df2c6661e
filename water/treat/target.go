package treat

import (
	"math"
	"strings"

	"wj/water"
)

// Target is what one value should be, in its standard unit. NaN stands for a limit or aim that is not set; an aim that is
// not set is the middle of a range that has both limits. Weight 0 means 1.
type Target struct {
	ID            water.ID
	Min, Max, Aim float64
	Weight        float64
	// Mash says that the pH is that of the mash and not of the liquor.
	Mash bool
}

// Name is what the target is of: the name of its value.
func (t Target) Name() string {
	if t.Mash {
		return "mash_pH"
	}
	return t.ID.String()
}

// Words is Name as people write it: "residual alkalinity", "mash pH".
func (t Target) Words() string {
	if t.ID == water.SulfateChlorideRatio {
		return "ratio of sulfate to chloride"
	}
	return strings.ReplaceAll(t.Name(), "_", " ")
}

// limits turns a target into a range with its aim and scale. An aim alone is a range of no width.
func (t Target) limits() (lo, hi, aim, scale, weight float64) {
	lo, hi, aim, weight = t.Min, t.Max, t.Aim, t.Weight
	if weight == 0 {
		weight = 1
	}
	if math.IsNaN(lo) && math.IsNaN(hi) {
		lo, hi = aim, aim
	}
	accuracy := t.ID.Info().Typical.Absolute
	if t.ID == water.ResidualAlkalinity {
		accuracy = water.Alkalinity.Info().Typical.Absolute
	}
	if accuracy == 0 {
		accuracy = 0.1
	}
	switch {
	case math.IsNaN(lo):
		lo, scale = math.Inf(-1), 0.1*math.Abs(hi)
	case math.IsNaN(hi):
		hi, scale = math.Inf(1), 0.1*math.Abs(lo)
	case hi > lo:
		scale = (hi - lo) / 2
		if math.IsNaN(aim) {
			aim = (lo + hi) / 2
		}
	default:
		aim, scale = lo, 0.1*math.Abs(lo)
	}
	return lo, hi, aim, math.Max(scale, accuracy), weight
}
