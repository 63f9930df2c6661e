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
	// Bound is how large |E_n| may be beside the other values of the session.
	Bound float64
}

// Agrees reports whether the two are the same within their uncertainties, as one
// of the values that are compared together.
func (c Comparison) Agrees() bool {
	return math.IsNaN(c.ErrorRatio) || math.Abs(c.ErrorRatio) <= c.Bound
}

// Together gives the values of one session the bound of [water.JointBound], so
// that an honest session passes as a whole in 95 of 100 cases.
func Together(list []Comparison) []Comparison {
	n := 0
	for i := range list {
		if !math.IsNaN(list[i].ErrorRatio) {
			n++
		}
	}
	for i := range list {
		list[i].Bound = water.JointBound(n)
	}
	return list
}

// Verify compares what a change expects with what a session measured, value by
// value, by [water.NormalizedError], and together. Values that the session does not have, or
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
	return Together(out)
}
