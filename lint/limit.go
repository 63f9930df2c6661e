package lint

import (
	"fmt"
	"slices"
	"strings"

	"wj/journal"
	"wj/journal/judge"
	"wj/water"
	"wj/water/limits"
)

// limits are the limits in force at each site of the journal.
func (r *run) limits() *judge.Limits {
	r.limitOnce.Do(func() { r.inForce = judge.NewLimits(r.j) })
	return r.inForce
}

// outside calls do for each value of the session that is over or under a limit
// of the kinds.
func (p *Pass) outside(do func(a judge.Assessment), kinds ...limits.Kind) {
	s := p.Session
	if !judge.InSeries(s) {
		return
	}
	list := p.run.limits().At(s.Site, s.Sampled)
	for i := range list {
		l := &list[i]
		if !slices.Contains(kinds, l.Kind) || !p.couldBeOutside(l) {
			continue
		}
		if v, err := p.Analysis().Value(l.ID); err == nil {
			if c := l.Conform(v); c.Outside() {
				do(judge.Assessment{Limit: l, Value: v, Conformity: c})
			}
		}
	}
}

// couldBeOutside decides from the bare number, so that uncertainties are computed
// for few sessions only.
func (p *Pass) couldBeOutside(l *judge.InForce) bool {
	if m, ok := p.Values().Measured(l.ID); ok && m.Bound != water.Exact {
		return true
	}
	v := p.Values().Number(l.ID)
	return l.Max != nil && v > *l.Max || l.Min != nil && v < *l.Min
}

// reportValue reports a finding at the reading of a value, or at the readings
// where it is derived from them.
func (p *Pass) reportValue(s *journal.Session, v water.Value, format string, args ...any) *Finding {
	keys := []string{"readings", v.ID.String(), "value"}
	if v.Derived {
		keys = keys[:1]
	}
	return p.Report(s.Path, keys, format, args...)
}

// aboveOrBelow says on which side of its limit a value is.
func aboveOrBelow(c judge.Conformity) string {
	if c == judge.Over {
		return "above"
	}
	return "below"
}

// limitText is a limit with its source and what it replaces. Of an own
// limit it is the end on that side.
func limitText(l *judge.InForce, over bool) string {
	text := "the limit of " + l.Written
	if l.Own != nil {
		text = l.Name() + ", " + l.End(over)
	}
	if l.Source != "" {
		text += " (" + l.Source + ")"
	}
	for i := range l.Replaced {
		text += ", in place of " + l.Replaced[i].Words()
	}
	return text
}

// typed writes a reading as it was typed and, where that is not the same, what it
// says in the standard unit with its uncertainty: "116 mg/L × 4 (464 ± 57 mg/L)".
func typed(r *journal.Reading, m water.Measured) string {
	text, shown := journal.TypedReading(r), result(r.Analyte, m)
	number, _, _ := strings.Cut(text, " ")
	plain := len(r.More) == 0 && r.Factor() == 1 && r.First.Unit == r.Analyte.Info().Unit
	switch {
	case plain && (r.First.Expanded > 0 || r.First.Bound != water.Exact):
		return text
	case plain && strings.HasPrefix(shown, number):
		return shown
	}
	return text + " (" + shown + ")"
}

// valueText is typed of a session's reading; of a value that was derived it is
// what it says.
func valueText(s *journal.Session, v water.Value) string {
	m := water.Measured{Bound: v.Bound, Value: v.Value, U: v.U}
	if r, ok := s.Reading(v.ID); ok && !v.Derived {
		return typed(r, m)
	}
	return result(v.ID, m)
}

// result writes what a reading says, with its uncertainty.
func result(id water.ID, m water.Measured) string {
	if m.Bound != water.Exact {
		return m.Bound.String() + show(id, m.Value)
	}
	return spread(id, m.Value, m.U)
}

// reads says a reading in a sentence: "84 mg/L of sulfate", but "pH 7.2".
func reads(value any, id water.ID) string {
	if id == water.PHValue {
		return fmt.Sprintf("pH %s", value)
	}
	return fmt.Sprintf("%s of %s", value, id)
}
