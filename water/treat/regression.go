package treat

import (
	"fmt"
	"math"

	"wj/water"
)

// MashBatch is one mash of one beer as it was brewed: the residual alkalinity of its liquor, mg/L CaCO3, and the pH that
// was measured, of a sample cooled to 20 degC.
type MashBatch struct {
	ResidualAlkalinity float64
	PH                 float64
}

// LeastMashes is how many batches a regression needs. Common practice, no source: with fewer the interval is wider than
// what it replaces.
const LeastMashes = 8

// MashLine is the straight line of a brewery's own mashes of one beer: the best estimate there is, and only for that beer and
// grist.
type MashLine struct {
	Intercept   float64 // pH at residual alkalinity 0
	Slope       float64 // pH per mg/L CaCO3
	Correlation float64
	Residual    float64 // standard deviation of the residuals, n − 2 degrees of freedom
	Batches     int
	mean, sxx   float64
	low, high   float64
}

// SlopePerEquivalent is the slope in pH per meq/L, to compare with KolbachSlope.
func (l MashLine) SlopePerEquivalent() float64 { return l.Slope * equivalentCalcite }

// FitMash fits the line by least squares. It is an error with fewer than LeastMashes batches or with all of them at one
// residual alkalinity.
func FitMash(batches []MashBatch) (MashLine, error) {
	n := len(batches)
	if n < LeastMashes {
		return MashLine{}, fmt.Errorf("fit mash pH: %d batches; it takes %d with mash pH and liquor measured", n, LeastMashes)
	}
	l := MashLine{Batches: n, low: math.Inf(1), high: math.Inf(-1)}
	meanPH := 0.0
	for _, b := range batches {
		if math.IsNaN(b.ResidualAlkalinity) || math.IsInf(b.ResidualAlkalinity, 0) || !(b.PH > 3 && b.PH < 9) {
			return MashLine{}, fmt.Errorf("fit mash pH: residual alkalinity %g with pH %g is not a mash", b.ResidualAlkalinity, b.PH)
		}
		l.mean += b.ResidualAlkalinity / float64(n)
		meanPH += b.PH / float64(n)
		l.low, l.high = math.Min(l.low, b.ResidualAlkalinity), math.Max(l.high, b.ResidualAlkalinity)
	}
	var sxy, syy float64
	for _, b := range batches {
		dx, dy := b.ResidualAlkalinity-l.mean, b.PH-meanPH
		l.sxx += dx * dx
		sxy += dx * dy
		syy += dy * dy
	}
	if l.sxx < 1e-6 {
		return MashLine{}, fmt.Errorf("fit mash pH: all %d batches have the same residual alkalinity; there is no slope to find", n)
	}
	l.Slope = sxy / l.sxx
	l.Intercept = meanPH - l.Slope*l.mean
	if syy > 0 {
		l.Correlation = sxy / math.Sqrt(l.sxx*syy)
	}
	left := 0.0
	for _, b := range batches {
		d := b.PH - l.Intercept - l.Slope*b.ResidualAlkalinity
		left += d * d
	}
	l.Residual = math.Sqrt(left / float64(n-2))
	return l, nil
}

// At predicts the pH of one new mash at a residual alkalinity with standard uncertainty u: the half-width is that of the 95 %
// prediction interval, t s √(1 + 1/n + (x − mean)²/Sxx) (NIST/SEMATECH e-Handbook, section 4.5.2), with the part of u added in
// quadrature. The scatter s is that of the mashes joined with the one that is held, which counts as four more (as in Mash.Learn): a few
// mashes that agree by luck are no proof. Outside of what was brewed nothing shows whether the line goes on: the half-width is MashSpread at least there.
func (l MashLine) At(residual, u float64) (MashPH, error) {
	if l.Batches < LeastMashes {
		return MashPH{}, fmt.Errorf("estimate mash pH: the line was not fitted")
	}
	n := float64(l.Batches)
	d := residual - l.mean
	freedom := float64(l.Batches - 2)
	scatter := math.Sqrt((4*MashScatter*MashScatter + freedom*l.Residual*l.Residual) / (4 + freedom))
	half := studentT(l.Batches+2) * scatter * math.Sqrt(1+1/n+d*d/l.sxx)
	from := fmt.Sprintf("%d own mashes, slope %.3f per meq/L, r %.2f", l.Batches, l.SlopePerEquivalent(), l.Correlation)
	if residual < l.low || residual > l.high {
		half = max(half, MashSpread)
		from += fmt.Sprintf("; outside of the %.0f to %.0f mg/L CaCO3 that were brewed", l.low, l.high)
	}
	return MashPH{PH: l.Intercept + l.Slope*residual, HalfWidth: math.Hypot(half, 2*l.Slope*u), Method: "own mashes", From: from}, nil
}

// ResidualAlkalinityFor turns a range of mash pH into the target of residual alkalinity that the line gives; NaN limits stay
// unset. It is an error for a line that does not rise.
func (l MashLine) ResidualAlkalinityFor(lo, hi, aim float64) (Target, error) {
	if !(l.Slope > 1e-5) {
		return Target{}, fmt.Errorf("turn mash pH into residual alkalinity: mash pH does not rise with it in these batches (slope %g)", l.Slope)
	}
	at := func(pH float64) float64 { return (pH - l.Intercept) / l.Slope }
	return Target{ID: water.ResidualAlkalinity, Min: at(lo), Max: at(hi), Aim: at(aim)}, nil
}

// studentTable is t at 97.5 % for 1 to 30 degrees of freedom: NIST/SEMATECH e-Handbook, table 1.3.6.7.2.
var studentTable = [...]float64{
	12.706, 4.303, 3.182, 2.776, 2.571, 2.447, 2.365, 2.306, 2.262, 2.228, 2.201, 2.179, 2.160, 2.145, 2.131,
	2.120, 2.110, 2.101, 2.093, 2.086, 2.080, 2.074, 2.069, 2.064, 2.060, 2.056, 2.052, 2.048, 2.045, 2.042,
}

// studentT beyond the table is the Cornish–Fisher expansion to its second term (Abramowitz & Stegun 1964, 26.7.5).
func studentT(freedom int) float64 {
	if freedom < 1 {
		return math.NaN()
	}
	if freedom <= len(studentTable) {
		return studentTable[freedom-1]
	}
	const z = 1.959964
	f := float64(freedom)
	return z + (z*z*z+z)/(4*f) + (5*math.Pow(z, 5)+16*z*z*z+3*z)/(96*f*f)
}
