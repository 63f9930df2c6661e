package stats

import (
	"fmt"
	"math"
)

// Line is a least-squares line y = Intercept + Slope x.
type Line struct {
	N                int
	Intercept, Slope float64
	// ResidualDeviation is the standard deviation of y about the line, n − 2 degrees of freedom.
	ResidualDeviation float64
	// InterceptError and SlopeError are standard errors.
	InterceptError, SlopeError float64
	RSquared                   float64 // 0 where all y are alike
	// SlopeLimits and InterceptLimits are confidence limits with Student's t.
	Confidence                   float64
	SlopeLimits, InterceptLimits Interval
	P                            float64 // two-sided, of a slope so far from zero without dependence
	MeanX                        float64
	SpreadX                      float64 // Σ(x − x̄)²
}

// FitLine fits y on x by least squares, with x taken as exact (Draper & Smith, Applied Regression Analysis, 3rd ed.
// 1998, ch. 1; certified values of NIST StRD check it). It is meant for a response such as mash pH on residual
// alkalinity. It needs three pairs and x that differ. Where x carries much error, the slope comes out too flat.
func FitLine(x, y []float64, confidence float64) (Line, error) {
	const what = "linear regression"
	if err := checkPairs(what, x, y, 3); err != nil {
		return Line{}, err
	}
	if err := checkShare(what, "confidence", confidence); err != nil {
		return Line{}, err
	}
	l := leastSquares(x, y)
	if l.SpreadX == 0 {
		return Line{}, fmt.Errorf("%s: %w in x", what, ErrNoSpread)
	}
	for _, v := range []float64{l.Slope, l.Intercept, l.SlopeError, l.InterceptError} {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return Line{}, fmt.Errorf("%s: the line is too steep for a number, x values are too close together", what)
		}
	}
	l.Confidence = confidence
	df := float64(l.N - 2)
	t := StudentQuantile(0.5+confidence/2, df)
	l.SlopeLimits = Interval{l.Slope - t*l.SlopeError, l.Slope + t*l.SlopeError}
	l.InterceptLimits = Interval{l.Intercept - t*l.InterceptError, l.Intercept + t*l.InterceptError}
	switch {
	case l.SlopeError > 0:
		l.P = 2 * StudentTail(math.Abs(l.Slope/l.SlopeError), df)
	case l.Slope == 0:
		l.P = 1
	}
	return l, nil
}

// leastSquares fits checked values about their means, which keeps digits where x is a year or a conductivity.
func leastSquares(x, y []float64) Line {
	n := float64(len(x))
	l := Line{N: len(x), MeanX: mean(x)}
	meanY := mean(y)
	cross, spreadY := 0.0, 0.0
	for i := range x {
		dx, dy := x[i]-l.MeanX, y[i]-meanY
		l.SpreadX += dx * dx
		cross += dx * dy
		spreadY += dy * dy
	}
	if alike(x) || l.SpreadX == 0 {
		l.SpreadX = 0
		return l
	}
	l.Slope = cross / l.SpreadX
	if alike(y) {
		l.Slope, spreadY = 0, 0
	}
	l.Intercept = meanY - l.Slope*l.MeanX
	residual := 0.0
	for i := range x {
		// About the means: Intercept + Slope x would lose digits far from x = 0.
		r := (y[i] - meanY) - l.Slope*(x[i]-l.MeanX)
		residual += r * r
	}
	if n > 2 {
		l.ResidualDeviation = math.Sqrt(residual / (n - 2))
	}
	l.SlopeError = l.ResidualDeviation / math.Sqrt(l.SpreadX)
	l.InterceptError = l.ResidualDeviation * math.Sqrt(1/n+l.MeanX*l.MeanX/l.SpreadX)
	if spreadY > 0 {
		l.RSquared = math.Max(0, 1-residual/spreadY)
	}
	return l
}

// At is y on the line at x, the confidence limits of the line there, and the limits within which a single new
// reading falls, all at the Confidence of the fit: s √(1/n + (x−x̄)²/Σ(x−x̄)²), for a single reading with 1 added
// under the root (Draper & Smith 1998, 1.4 and 3.1, from memory of the numbering).
func (l Line) At(x float64) (y float64, line, single Interval, err error) {
	const what = "prediction from a line"
	if err := checkNumber(what, "x", x); err != nil {
		return 0, Interval{}, Interval{}, err
	}
	if l.N < 3 || l.SpreadX <= 0 {
		return 0, Interval{}, Interval{}, fmt.Errorf("%s: %w: no line was fitted", what, ErrTooFew)
	}
	y = l.Intercept + l.Slope*x
	d := x - l.MeanX
	h := 1/float64(l.N) + d*(d/l.SpreadX)
	t := StudentQuantile(0.5+l.Confidence/2, float64(l.N-2)) * l.ResidualDeviation
	mid, one := 0.0, 0.0
	if t > 0 {
		mid, one = t*math.Sqrt(h), t*math.Sqrt(1+h)
	}
	if math.Abs(y) > largest || math.IsInf(mid, 0) {
		return 0, Interval{}, Interval{}, fmt.Errorf("%s: x = %v is too far from the data for a number", what, x)
	}
	return y, Interval{y - mid, y + mid}, Interval{y - one, y + one}, nil
}
