package judge

import (
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
func IsCheck(s *journal.Session) bool { return s.Void == nil && s.Sample == "check-standard" }

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
	Allowed  float64 // half-width in which it passes
	Declared bool    // Allowed comes from the accuracy of the method or meter
	Passed   bool
}

// CheckOf holds a reading against its standard's true value: within the accuracy
// that the meter or method declares at that level; else within 90–110 % of it,
// 85–115 % for sulfate by turbidity (after Standard Methods 1020 B, from memory),
// and ± 0.2 for pH (common practice, no source). ok is false where the true value
// is not known or the reading is a bound or no number.
func CheckOf(j *journal.Journal, s *journal.Session, r *journal.Reading) (Check, bool) {
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
	d := c.Found - c.Truth
	c.Passed = d <= c.Allowed+1e-9 && d >= -c.Allowed-1e-9
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
			if c, ok := CheckOf(j, s, r); ok {
				test := Test{MeterOf(s, r), r.Analyte}
				out[test] = append(out[test], c)
			}
		}
	}
	for _, list := range out {
		slices.SortStableFunc(list, func(a, b Check) int { return a.At.Compare(b.At) })
	}
	for test, list := range out {
		out[test] = slices.DeleteFunc(slices.Clone(list), func(c Check) bool { return !c.Passed && slices.ContainsFunc(list, c.clearedBy) })
	}
	return out
}

// clearedBy reports whether a later check is the repeat that clears one: at once, with
// the same lot, and passed.
func (c Check) clearedBy(later Check) bool {
	return later.Passed && later.At.After(c.At) && later.At.Sub(c.At) <= repeatWithin && later.Reading.Lot == c.Reading.Lot
}

// Holds reports whether a check is among them: it was not cleared by a repeat.
func (c Checks) Holds(check Check) bool {
	return slices.ContainsFunc(c[Test{MeterOf(check.Session, check.Reading), check.Reading.Analyte}], func(x Check) bool { return x.Reading == check.Reading })
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
