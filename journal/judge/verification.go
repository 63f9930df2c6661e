package judge

import (
	"math"

	"wj/journal"
	"wj/water"
)

// Comparison compares one expected value with what a verification measured, both in
// the standard unit with their 95 % half-widths.
type Comparison struct {
	ID                  water.ID
	Expected, ExpectedU float64
	Measured, MeasuredU float64
	ErrorRatio          float64 // E_n; NaN where neither side has an uncertainty
}

// Agrees reports whether the two are the same within their uncertainties:
// |E_n| <= 1.
func (c Comparison) Agrees() bool { return math.IsNaN(c.ErrorRatio) || math.Abs(c.ErrorRatio) <= 1 }

// Verify compares what a change expects with what a session measured, value by
// value, by [water.NormalizedError]. Values that the session does not have, or
// that are only a bound, are left out.
func Verify(j *journal.Journal, c *journal.Change, s *journal.Session) []Comparison {
	var a water.Analysis
	j.Analysis(s, &a)
	var out []Comparison
	for _, x := range c.Expect {
		v, err := a.Value(x.Name)
		if err != nil || v.Bound != water.Exact || x.Value.Bound != water.Exact {
			continue
		}
		info := x.Name.Info()
		check := Comparison{ID: x.Name, Expected: info.Standard(x.Value), Measured: v.Value, MeasuredU: v.Expanded()}
		if x.Value.Expanded > 0 {
			high := x.Value
			high.Value += high.Expanded
			check.ExpectedU = math.Abs(info.Standard(high) - check.Expected)
		}
		if math.IsNaN(check.Expected) {
			continue
		}
		check.ErrorRatio = water.NormalizedError(check.Measured, check.MeasuredU, check.Expected, check.ExpectedU)
		out = append(out, check)
	}
	return out
}
