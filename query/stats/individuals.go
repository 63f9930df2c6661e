package stats

import (
	"fmt"
	"math"
)

// The factors of the moving range of two: its expectation is d₂σ, and D₄ times its mean is its upper limit.
// NIST/SEMATECH e-Handbook of Statistical Methods 6.3.2.2. They are the tabulated figures, so that limits agree with the handbook's
// to its last digit; 2/√π = 1.12838 is what d₂ rounds.
const (
	movingRangeD2 = 1.128
	movingRangeD4 = 3.267
)

// Individuals are the limits of a chart for individual values and of its moving-range chart, frozen from a
// baseline. Later values are held against them and do not move them.
type Individuals struct {
	N               int     // values in the baseline; fewer than 20 give shaky limits
	Center          float64 // mean of the baseline
	MeanMovingRange float64
	Sigma           float64 // mean moving range / 1.128
	Lower, Upper    float64 // center ∓ 3 sigma
	RangeUpper      float64 // 3.267 × mean moving range; the lower limit of the range chart is 0
	// Autocorrelation is r₁ of the baseline; far above zero the limits are too narrow. Zero where it is not available.
	Autocorrelation float64
}

// FreezeIndividuals sets the limits from a baseline in order of time: x̄ ± 3 MR̄/1.128 and 3.267 MR̄
// (NIST/SEMATECH e-Handbook of Statistical Methods 6.3.2.2). It needs two values that differ; twenty are wanted.
func FreezeIndividuals(baseline []float64) (Individuals, error) {
	const what = "individuals chart"
	if err := checkValues(what, baseline, 2); err != nil {
		return Individuals{}, err
	}
	ranges := make([]float64, 0, len(baseline)-1)
	for i := 1; i < len(baseline); i++ {
		ranges = append(ranges, math.Abs(baseline[i]-baseline[i-1]))
	}
	c := Individuals{N: len(baseline), Center: mean(baseline), MeanMovingRange: mean(ranges)}
	if c.MeanMovingRange == 0 {
		return Individuals{}, fmt.Errorf("%s: %w, so it has no limits", what, ErrNoSpread)
	}
	c.Sigma = c.MeanMovingRange / movingRangeD2
	c.Lower, c.Upper = c.Center-3*c.Sigma, c.Center+3*c.Sigma
	c.RangeUpper = movingRangeD4 * c.MeanMovingRange
	c.Autocorrelation, _ = LagOneAutocorrelation(baseline)
	return c, nil
}

// IndividualsPoint is one value on the chart.
type IndividualsPoint struct {
	Value       float64
	MovingRange float64 // distance from the value before; the first has none, and HasRange says so
	HasRange    bool
	Sigmas      float64 // (value − center)/sigma
	Beyond      bool    // outside Lower to Upper
	RangeBeyond bool    // moving range above RangeUpper
}

// Points holds values, in order of time, against the frozen limits. A chart that was not made by
// FreezeIndividuals (Sigma not above zero) is an error.
func (c Individuals) Points(values []float64) ([]IndividualsPoint, error) {
	const what = "individuals chart"
	if err := checkValues(what, values, 0); err != nil {
		return nil, err
	}
	if err := checkPositive(what, "sigma", c.Sigma); err != nil {
		return nil, err
	}
	out := make([]IndividualsPoint, len(values))
	for i, v := range values {
		p := IndividualsPoint{Value: v, Sigmas: (v - c.Center) / c.Sigma, Beyond: v < c.Lower || v > c.Upper}
		if i > 0 {
			p.MovingRange, p.HasRange = math.Abs(v-values[i-1]), true
			p.RangeBeyond = p.MovingRange > c.RangeUpper
		}
		out[i] = p
	}
	return out, nil
}
