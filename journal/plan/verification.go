package plan

import (
	"fmt"
	"math"
	"strings"

	"wj/journal"
	"wj/journal/audit"
	"wj/water"
)

// Ion is one value of a verification: against what was expected, and against
// the target.
type Ion struct {
	audit.Check
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
	for _, check := range audit.Verify(b.j, c, s) {
		ion := Ion{Check: check}
		ion.Min, ion.Max, _ = b.Range(c, check.ID)
		v.Ions = append(v.Ions, ion)
	}
	return v
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
		if s.Void != nil || s.Sample != "verification" || s.Change != c.ID {
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
	parts := make([]string, len(v.Ions))
	for n, i := range v.Ions {
		parts[n] = i.Words()
	}
	return strings.Join(parts, " · ") + " → " + v.Verdict()
}
