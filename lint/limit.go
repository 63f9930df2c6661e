package lint

import (
	"fmt"
	"math"
	"strings"

	"wj/journal"
	"wj/lint/limits"
	"wj/water"
)

// verdict is how a value stands to a range.
type verdict uint8

const (
	within   verdict = iota // surely inside
	unsure                  // the 95 % interval straddles an end
	outside                 // surely outside
	noResult                // no number, or a bound that decides nothing
)

// judge holds a value against a range by its 95 % interval (JCGM 106:2012, the
// conformity of a measured value). Max of 0 means no upper end. over tells
// which end matters.
func judge(v, u float64, bound water.Bound, low, high float64) (is verdict, over bool) {
	if math.IsNaN(v) {
		return noResult, false
	}
	switch bound {
	case water.Above:
		if high > 0 && v >= high {
			return outside, true
		}
		return noResult, false
	case water.Below:
		if low > 0 && v <= low {
			return outside, false
		}
		if high > 0 && v <= high && low == 0 {
			return within, true
		}
		return noResult, false
	}
	if high > 0 {
		if v-2*u > high {
			return outside, true
		}
		if v+2*u > high {
			return unsure, true
		}
	}
	if low > 0 {
		if v+2*u < low {
			return outside, false
		}
		if v-2*u < low {
			return unsure, false
		}
	}
	return within, high > 0
}

// quickly tells from the bare number whether a value could be outside at all,
// so that uncertainties are computed for few sessions only.
func quickly(r *journal.Reading, low, high float64) bool {
	if r.Faulty {
		return false
	}
	value, bound := r.Result()
	v := r.Analyte.Info().Standard(water.Quantity{Value: value, Unit: r.First.Unit})
	return bound == water.Exact && (high > 0 && v > high || v < low) || bound == water.Above && high > 0 && v >= high || bound == water.Below && v <= low
}

// eachLimit calls do for each reading of a routine session that is surely
// outside one of the published limits of the kind.
func (p *Pass) eachLimit(kind limits.Kind, do func(r *journal.Reading, m water.Measured, l *limits.Limit, over bool)) {
	s := p.Session
	if !routine(s) && s.Sample != "verification" {
		return
	}
	list := p.run.limits(kind)
	for i := range list {
		l := &list[i]
		r, ok := s.Reading(l.Analyte)
		if !ok || !quickly(r, l.Min, l.Max) {
			continue
		}
		m, ok := p.Analysis().Measured(l.Analyte)
		if !ok {
			continue
		}
		if is, over := judge(m.Value, m.U, m.Bound, l.Min, l.Max); is == outside {
			do(r, m, l, over)
		}
	}
}

// limits are the published limits of a kind that the journal's settings choose.
func (r *run) limits(kind limits.Kind) []limits.Limit {
	return r.limitTables()[kind]
}

func (r *run) limitTables() *[limits.Brewing + 1][]limits.Limit {
	r.limitOnce.Do(func() {
		for kind := range r.limitTable {
			r.limitTable[kind] = limits.Of(limits.Kind(kind), r.j.Settings.Jurisdictions...)
		}
	})
	return &r.limitTable
}

// aboveOrBelow says on which side a value is.
func aboveOrBelow(over bool) string {
	if over {
		return "above"
	}
	return "below"
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

// siteLimit is a limit that the site or the journal sets itself.
type siteLimit struct {
	id        water.ID
	limit     journal.Limit
	whose     string
	low, high float64
}

// ownLimits are a site's own limits, then those of the journal that the site
// does not set itself, on a day.
func (p *Pass) ownLimits(site *journal.Site, s *journal.Session) []siteLimit {
	var out []siteLimit
	add := func(id water.ID, l journal.Limit, whose string) {
		if !l.Since.IsZero() && p.day(s.Sampled).Before(l.Since) {
			return
		}
		o := siteLimit{id: id, limit: l, whose: whose}
		if l.Min.Set {
			o.low = id.Info().Standard(l.Min.Quantity)
		}
		if l.Max.Set {
			o.high = id.Info().Standard(l.Max.Quantity)
		}
		out = append(out, o)
	}
	for id := water.ID(0); id < water.NumNames; id++ {
		if site != nil {
			if l, ok := site.Limits[id]; ok {
				add(id, l, "the site's own limit")
				continue
			}
		}
		if l, ok := p.Journal.Settings.Limits[id]; ok {
			add(id, l, "the journal's limit")
		}
	}
	return out
}

// written is the end of a limit that was passed, as it was typed.
func (l *siteLimit) written(over bool) string {
	if over {
		return l.limit.Max.String()
	}
	return l.limit.Min.String()
}

// supplied reports a site whose water is as it came: from a well, a main or
// before treatment.
func supplied(site *journal.Site) bool {
	return site.Stage == "intake" || site.Stage == "ro-feed" || site.Stage == "other"
}

// reads says a reading in a sentence: "84 mg/L of sulfate", but "pH 7.2".
func reads(value any, id water.ID) string {
	if id == water.PHValue {
		return fmt.Sprintf("pH %s", value)
	}
	return fmt.Sprintf("%s of %s", value, id)
}
