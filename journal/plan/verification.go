package plan

import (
	"fmt"
	"math"
	"strings"
	"time"

	"wj/journal"
	"wj/journal/judge"
	"wj/water"
)

// Ion is one value of a verification: against what was expected, and against
// the target.
type Ion struct {
	judge.Comparison
	Min, Max float64 // of the target, NaN where there is none
}

// Inside reports whether the measured value keeps the target.
func (i Ion) Inside() bool { return !(i.Measured < i.Min) && !(i.Measured > i.Max) }

// Verification is a verification session judged value by value.
type Verification struct {
	Session *journal.Session
	Change  *journal.Change
	Ions    []Ion
}

// Verification judges a session that verifies a change.
func (b *Book) Verification(c *journal.Change, s *journal.Session) Verification {
	v := Verification{Session: s, Change: c}
	checks := judge.Verify(b.j, c, s)
	if len(c.Expect) == 0 {
		checks = b.computed(c, s)
	}
	for _, check := range checks {
		ion := Ion{Comparison: check}
		ion.Min, ion.Max, _ = b.Range(c, check.ID)
		v.Ions = append(v.Ions, ion)
	}
	return v
}

// computed compares a session with what a change without expectations works out
// to, on the waters of that day: the values that every review shows and that the
// session tells.
func (b *Book) computed(c *journal.Change, s *journal.Session) []judge.Comparison {
	w, err := b.OnDay(c, s.Sampled)
	if err != nil {
		return nil
	}
	var a water.Analysis
	b.j.Analysis(s, &a)
	var out []judge.Comparison
	for _, id := range b.Values(c) {
		measured, err := a.Value(id)
		if err != nil || measured.Bound != water.Exact || id == water.Sodium && !a.Has(id) {
			continue
		}
		expected, err := w.expected(id)
		if err != nil {
			continue
		}
		check := judge.Comparison{ID: id, Expected: expected.Value, ExpectedU: expected.Expanded(), Measured: measured.Value, MeasuredU: measured.Expanded()}
		check.ErrorRatio = water.NormalizedError(check.Measured, check.MeasuredU, check.Expected, check.ExpectedU)
		out = append(out, check)
	}
	return judge.Together(out)
}

// Of finds the newest verification of a batch: the one that names it, else one
// of its change on the day of the brew or the day after.
func (b *Book) Of(batch *journal.Batch) (Verification, bool) {
	c, ok := b.j.Changes.Get(batch.Change)
	if !ok {
		return Verification{}, false
	}
	var found *journal.Session
	for _, s := range b.j.Sessions.List {
		if s.Void != nil || s.Sample != journal.SampleVerification || s.Change != c.ID {
			continue
		}
		day := journal.Day(s.Sampled.In(b.zone()))
		gap := day.Sub(journal.Day(batch.Brewed)).Hours() / 24
		if s.Batch != batch.ID && (s.Batch != "" || gap < 0 || gap > 1) {
			continue
		}
		if found == nil || s.Sampled.After(found.Sampled) {
			found = s
		}
	}
	if found == nil {
		return Verification{}, false
	}
	return b.Verification(c, found), true
}

// Tests reports whether a verification session of a batch's change counts as
// the test of its liquor: it names the batch, or was sampled from two days before
// the brew, when the tank is filled, to within after it.
func Tests(s *journal.Session, batch *journal.Batch, within time.Duration) bool {
	gap := s.Sampled.Sub(batch.Brewed)
	return s.Batch == batch.ID || gap > -48*time.Hour && gap < within
}

// Due tells of which batches the liquor of their change had to be tested and was
// not, as indexes into tested, which says of each batch in the order of brewing
// whether it was: the first, and the one that is every batches after the last
// test. One that was left out begins a new count, so that one omission is told
// once. next is the index of the next batch to test; len(tested) or less means
// the one that comes.
func Due(tested []bool, every int) (missed []int, next int) {
	omitted := true
	for i, ok := range tested {
		switch {
		case ok:
			next, omitted = i+every, false
		case i == next:
			missed, next, omitted = append(missed, i), i+every, true
		}
	}
	if omitted {
		next = len(tested)
	}
	return missed, next
}

// Missed lists the values that disagree with what was expected.
func (v Verification) Missed() []Ion {
	var out []Ion
	for _, i := range v.Ions {
		if !i.Agrees() {
			out = append(out, i)
		}
	}
	return out
}

// Verdict is "verified", "missed", or "" where nothing could be compared.
func (v Verification) Verdict() string {
	switch {
	case len(v.Ions) == 0:
		return ""
	case len(v.Missed()) > 0:
		return "missed"
	}
	return "verified"
}

// Words is an ion in words: "sulfate 195 against 201, E_n 0.21".
func (i Ion) Words() string {
	text := fmt.Sprintf("%s %s against %s", i.ID, water.Round(i.Measured, 3), water.Round(i.Expected, 3))
	if !math.IsNaN(i.ErrorRatio) {
		text += fmt.Sprintf(", E_n %.2f", math.Abs(i.ErrorRatio))
	}
	if !i.Inside() {
		text += ", outside of the target"
	}
	return text
}

// Line is the verdict in one line.
func (v Verification) Line() string {
	if len(v.Ions) == 0 {
		return "nothing that the change expects was measured"
	}
	parts, verdict := make([]string, len(v.Ions)), v.Verdict()
	for n, i := range v.Ions {
		parts[n] = i.Words()
		if math.Abs(i.ErrorRatio) > 1 {
			verdict = fmt.Sprintf("%s (E_n up to %.2f agrees, since %d values are compared)", v.Verdict(), math.Floor(100*i.Bound)/100, len(v.Ions))
		}
	}
	return strings.Join(parts, " · ") + " → " + verdict
}
