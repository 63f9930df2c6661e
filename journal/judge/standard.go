package judge

import (
	"math"
	"slices"
	"time"

	"wj/journal"
	"wj/water"
)

// StandardOf is the true value of a check standard for an analyte: as the session
// states it, else as its lot does; ok is false where neither says.
func StandardOf(j *journal.Journal, s *journal.Session, id water.ID) (truth water.Quantity, ok bool) {
	if truth, ok = s.Standard[id]; ok {
		return truth, true
	}
	if lot, found := j.Lots.Get(s.StandardLot); found {
		truth, ok = lot.Standard[id]
	}
	return truth, ok
}

// IsCheck reports whether a session tests a check standard, and is not void.
func IsCheck(s *journal.Session) bool { return s.Void == nil && s.Sample == journal.SampleStandard }

// Test names a test: a meter and what it measures.
type Test struct {
	Meter   string
	Analyte water.ID
}

// Check is one reading of a check standard. Values are in the analyte's standard
// unit.
type Check struct {
	Session  *journal.Session
	Reading  *journal.Reading
	At       time.Time // of the test
	Truth    float64
	Found    float64
	Allowed  float64 // half-width of 95 % in which it is expected
	Declared bool    // Allowed comes from the accuracy of the method or meter
	Beyond   bool    // it is outside of Allowed
	Again    bool    // it failed since it was Beyond twice in three on the same side: with one of the two checks before it, or in each of its portions
	Passed   bool
}

// actionLimit is from how many half-widths of 95 % on one check fails by itself: three standard
// uncertainties. Two are the warning limit, which one check of twenty passes by chance; the second of
// three that does so on the same side fails too (ISO 7870-2:2013, Shewhart control charts; Westgard
// et al. 1981, Clin. Chem. 27, 493-501, rules 1-3s and 2 of 3-2s; Standard Methods 1020 B; all from memory).
const actionLimit = 1.5

// checkOf holds a reading against its standard's true value, by the accuracy that the meter
// or method declares at that level. Where none is declared it passes within 90–110 % of it,
// 85–115 % for sulfate by turbidity (after Standard Methods 1020 B, from memory), and ± 0.2
// for pH (common practice, no source). ok is false where the true value is not known or the
// reading is a bound or no number.
func checkOf(j *journal.Journal, s *journal.Session, r *journal.Reading) (Check, bool) {
	truth, known := StandardOf(j, s, r.Analyte)
	m, read := j.Measured(s, r)
	if !known || !read || m.Bound != water.Exact {
		return Check{}, false
	}
	c := Check{Session: s, Reading: r, At: TestedAt(s, r), Truth: r.Analyte.Info().Standard(truth), Found: m.Value}
	measures := j.Measures(s, r)
	switch {
	case measures != nil && measures.HasAccuracy:
		c.Allowed, c.Declared = 2*measures.Accuracy.Uncertainty(c.Truth/r.Factor(), r.Factor()), true
	case r.Analyte == water.PHValue:
		c.Allowed = 0.2
	case r.Analyte == water.Sulfate:
		c.Allowed = 0.15 * c.Truth
	default:
		c.Allowed = 0.10 * c.Truth
	}
	d := math.Abs(c.Found - c.Truth)
	c.Beyond = d > c.Allowed+1e-9
	c.Passed = !c.Beyond || c.Declared && d <= actionLimit*c.Allowed+1e-9
	if c.Passed && c.Beyond && len(r.More) > 0 {
		c.Again = true
		for _, q := range append([]water.Quantity{r.First}, r.More...) {
			q.Value *= r.Factor()
			off := r.Analyte.Info().Standard(q) - c.Truth
			c.Again = c.Again && math.Abs(off) > c.Allowed && (off > 0) == (c.Found > c.Truth)
		}
		c.Passed = !c.Again
	}
	return c, true
}

// Checks are the readings of check standards of a journal, by test, in the order
// of testing.
type Checks map[Test][]Check

// repeatWithin is how soon a check that failed is repeated.
const repeatWithin = 24 * time.Hour

// NewChecks finds them. One that failed and passed when it was repeated at once is
// not among them: an action limit asks for a repeat first, and one of many tests at
// 95 % fails by chance (Standard Methods 1020 B, control charts, from memory).
func NewChecks(j *journal.Journal) Checks {
	out := Checks{}
	for _, s := range j.Sessions.List {
		if !IsCheck(s) {
			continue
		}
		for i := range s.Readings {
			r := &s.Readings[i]
			if c, ok := checkOf(j, s, r); ok {
				test := Test{MeterOf(s, r), r.Analyte}
				out[test] = append(out[test], c)
			}
		}
	}
	for _, list := range out {
		slices.SortStableFunc(list, func(a, b Check) int { return a.At.Compare(b.At) })
	}
	for test, list := range out {
		list = cleared(list)
		failAgain(list)
		out[test] = cleared(list)
	}
	return out
}

// cleared are the checks without those that failed and passed when they were repeated.
func cleared(list []Check) []Check {
	return slices.DeleteFunc(slices.Clone(list), func(c Check) bool { return !c.Passed && slices.ContainsFunc(list, c.clearedBy) })
}

// failAgain fails what is beyond the warning limit for the second time in three.
func failAgain(list []Check) {
	for i := range list {
		c := &list[i]
		for _, before := range list[max(0, i-2):i] {
			if c.Passed && c.Beyond && before.Beyond && (c.Found > c.Truth) == (before.Found > before.Truth) {
				c.Passed, c.Again = false, true
			}
		}
	}
}

// clearedBy reports whether a later check is the repeat that clears one: at once, with
// the same lot, and passed.
func (c Check) clearedBy(later Check) bool {
	return later.Passed && later.At.After(c.At) && later.At.Sub(c.At) <= repeatWithin && later.Reading.Lot == c.Reading.Lot
}

// Of is the check that a reading is; ok is false where it is none, or was cleared by a repeat.
func (c Checks) Of(s *journal.Session, r *journal.Reading) (check Check, ok bool) {
	list := c[Test{MeterOf(s, r), r.Analyte}]
	if i := slices.IndexFunc(list, func(x Check) bool { return x.Reading == r }); i >= 0 {
		return list[i], true
	}
	return Check{}, false
}

// until counts the checks of a test at or before a moment.
func until(list []Check, at time.Time) int {
	n, _ := slices.BinarySearchFunc(list, at, func(c Check, t time.Time) int {
		if c.At.After(t) {
			return 1
		}
		return -1
	})
	return n
}

// Last is the newest check of a test at or before a moment.
func (c Checks) Last(test Test, at time.Time) (Check, bool) {
	list := c[test]
	n := until(list, at)
	if n == 0 {
		return Check{}, false
	}
	return list[n-1], true
}

// Next is the first check of a test after a moment.
func (c Checks) Next(test Test, at time.Time) (Check, bool) {
	list := c[test]
	n := until(list, at)
	if n == len(list) {
		return Check{}, false
	}
	return list[n], true
}

// LastPassed is the newest check at or before a moment that passed.
func (c Checks) LastPassed(test Test, at time.Time) (Check, bool) {
	list := c[test]
	for i := until(list, at) - 1; i >= 0; i-- {
		if list[i].Passed {
			return list[i], true
		}
	}
	return Check{}, false
}

// Meter lists the newest check of each analyte of a meter at or before a moment,
// by analyte.
func (c Checks) Meter(meter string, at time.Time) []Check {
	var out []Check
	for test := range c {
		if last, ok := c.Last(test, at); ok && test.Meter == meter {
			out = append(out, last)
		}
	}
	slices.SortFunc(out, func(a, b Check) int { return int(a.Reading.Analyte) - int(b.Reading.Analyte) })
	return out
}
