package stats

import (
	"fmt"
	"math"
)

// The factors of the moving range of two: its expectation is d₂σ, and D₄ times its mean is its upper limit.
// NIST/SEMATECH e-Handbook of Statistical Methods 6.3.2.2 (d₂) and 6.3.2.1 (D₄); ASTM Manual on Presentation of
// Data, Table of control chart factors. They are the tabulated figures, so that limits agree with the handbook's
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
	// Autocorrelation is r₁ of the baseline; far above zero the limits are too narrow. Zero where it cannot be had.
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
	MovingRange float64 // distance from the value before; NaN is never used: HasRange is false for the first
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

// EWMA is a chart of exponentially weighted moving averages.
type EWMA struct {
	Target float64 // where the process should be; also the average before the first value
	Sigma  float64 // standard deviation of single values, above zero
	Lambda float64 // weight of the newest value, 0 < Lambda ≤ 1; 0.2 to 0.3 is usual (NIST 6.3.2.4)
	Width  float64 // half-width of the limits in standard deviations of the average, above zero
}

// StandardEWMA has Lambda 0.2 and Width 2.962, which signals without cause once in 500 points on the mean
// (Lucas & Saccucci, Technometrics 32 (1990) 1–12; checked in the tests against an exact run length).
func StandardEWMA(target, sigma float64) EWMA {
	return EWMA{Target: target, Sigma: sigma, Lambda: 0.2, Width: 2.962}
}

// EWMAPoint is one average on the chart.
type EWMAPoint struct {
	Average      float64
	Lower, Upper float64 // exact limits, narrower for the first points
	Beyond       bool    // outside the exact limits
	SteadyBeyond bool    // outside the steady-state limits
}

func (e EWMA) check() error {
	const what = "EWMA chart"
	if err := checkNumber(what, "target", e.Target); err != nil {
		return err
	}
	if err := checkPositive(what, "sigma", e.Sigma); err != nil {
		return err
	}
	if err := checkPositive(what, "width", e.Width); err != nil {
		return err
	}
	if !(e.Lambda > 0 && e.Lambda <= 1) {
		return fmt.Errorf("%s: lambda is %v, it must be above 0 and at most 1", what, e.Lambda)
	}
	return nil
}

// step is z = λx + (1−λ)z₋₁.
func (e EWMA) step(before, x float64) float64 { return e.Lambda*x + (1-e.Lambda)*before }

// halfWidth is L σ √(λ/(2−λ) [1 − (1−λ)^2i]) at point i, counted from 1; i = 0 asks for the steady state.
func (e EWMA) halfWidth(i int) float64 {
	settled := 1.0
	if i > 0 {
		settled = 1 - math.Pow(1-e.Lambda, 2*float64(i))
	}
	return e.Width * e.Sigma * math.Sqrt(e.Lambda/(2-e.Lambda)*settled)
}

// SteadyLimits are the limits after many points, target ± L σ √(λ/(2−λ)): NIST/SEMATECH e-Handbook of Statistical
// Methods 6.3.2.4 uses them from the first point.
func (e EWMA) SteadyLimits() (Interval, error) {
	if err := e.check(); err != nil {
		return Interval{}, err
	}
	return Interval{e.Target - e.halfWidth(0), e.Target + e.halfWidth(0)}, nil
}

// Points averages values in order of time: z = λx + (1−λ)z₋₁, z₀ = target (Roberts, Technometrics 1 (1959)
// 239–250; NIST/SEMATECH e-Handbook 6.3.2.4). The exact limits carry the factor 1 − (1−λ)^2i (Montgomery,
// Introduction to Statistical Quality Control, EWMA chapter, eq. for the control limits).
func (e EWMA) Points(values []float64) ([]EWMAPoint, error) {
	steady, err := e.SteadyLimits()
	if err != nil {
		return nil, err
	}
	if err := checkValues("EWMA chart", values, 0); err != nil {
		return nil, err
	}
	out := make([]EWMAPoint, len(values))
	z := e.Target
	for i, v := range values {
		z = e.step(z, v)
		w := e.halfWidth(i + 1)
		p := EWMAPoint{Average: z, Lower: e.Target - w, Upper: e.Target + w, SteadyBeyond: !steady.Contains(z)}
		p.Beyond = z < p.Lower || z > p.Upper
		out[i] = p
	}
	return out, nil
}

// CUSUM is a tabular cumulative-sum chart.
type CUSUM struct {
	Target   float64
	Slack    float64 // k, in the unit of the values: half the shift that should be found; 0 or more
	Decision float64 // h, in the unit of the values, above zero
}

// StandardCUSUM has k = 0.5 σ and h = 5 σ: a shift of one σ is found in about 10 points, and a false alarm comes
// once in 465 (NIST/SEMATECH e-Handbook of Statistical Methods 6.3.2.3; with h = 4 σ once in 168).
func StandardCUSUM(target, sigma float64) CUSUM {
	return CUSUM{Target: target, Slack: 0.5 * sigma, Decision: 5 * sigma}
}

// CUSUMPoint holds the two sums after one value.
type CUSUMPoint struct {
	High, Low             float64 // S_hi and S_lo, both 0 or more
	HighSignal, LowSignal bool    // above the decision interval
	// HighSince and LowSince are the indices of the value with which the sum last left zero, the usual estimate of
	// when a shift began; −1 while the sum is zero.
	HighSince, LowSince int
}

// step is S_hi = max(0, S_hi + x − μ − k), S_lo = max(0, S_lo + μ − k − x).
func (c CUSUM) step(high, low, x float64) (float64, float64) {
	return math.Max(0, high+x-c.Target-c.Slack), math.Max(0, low+c.Target-c.Slack-x)
}

// Points sums values in order of time (Page, Biometrika 41 (1954) 100–115; NIST/SEMATECH e-Handbook of Statistical
// Methods 6.3.2.3). The sums run on after a signal, as in the handbook's example; restart them with a new call
// after the cause is mended.
func (c CUSUM) Points(values []float64) ([]CUSUMPoint, error) {
	const what = "CUSUM chart"
	if err := checkNumber(what, "target", c.Target); err != nil {
		return nil, err
	}
	if err := checkNumber(what, "slack", c.Slack); err != nil {
		return nil, err
	}
	if c.Slack < 0 {
		return nil, fmt.Errorf("%s: slack is %v, it must be 0 or more", what, c.Slack)
	}
	if err := checkPositive(what, "decision interval", c.Decision); err != nil {
		return nil, err
	}
	if err := checkValues(what, values, 0); err != nil {
		return nil, err
	}
	out := make([]CUSUMPoint, len(values))
	before := CUSUMPoint{HighSince: -1, LowSince: -1}
	for i, v := range values {
		p := CUSUMPoint{HighSince: -1, LowSince: -1}
		p.High, p.Low = c.step(before.High, before.Low, v)
		p.HighSignal, p.LowSignal = p.High > c.Decision, p.Low > c.Decision
		if p.High > 0 {
			p.HighSince = since(before.HighSince, i)
		}
		if p.Low > 0 {
			p.LowSince = since(before.LowSince, i)
		}
		out[i], before = p, p
	}
	return out, nil
}

func since(before, now int) int {
	if before < 0 {
		return now
	}
	return before
}
