package round

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"wj/journal"
	"wj/journal/bench"
	"wj/journal/judge"
	"wj/query"
	"wj/query/stats"
	"wj/water"
)

// dangerWords mark a sentence that must be seen before the work and not after.
var dangerWords = []string{"poison", "toxic", "gloves", "goggles", "burn", "acid into water", "corrosive", "flammable", "fume"}

// caution is the first sentence of a method's notes that speaks of danger.
func caution(j *journal.Journal, m *journal.Method) string {
	d, _, err := j.ReadRecord(journal.File{Kind: journal.KindMethod, ID: m.ID, Path: m.Path})
	if err != nil {
		return ""
	}
	text := strings.Join(strings.Fields(string(d.Source[d.Body:])), " ")
	for sentence := range strings.SplitSeq(text, ". ") {
		for _, w := range dangerWords {
			if strings.Contains(strings.ToLower(sentence), w) {
				return strings.TrimSuffix(sentence, ".")
			}
		}
	}
	return ""
}

// lastUnit is the unit of the newest reading at the site. It is offered in
// sight, so that it is read and not guessed.
func lastUnit(j *journal.Journal, site string, id water.ID) (water.Unit, bool) {
	var newest time.Time
	var unit water.Unit
	for _, s := range j.Sessions.List {
		if r, ok := s.Reading(id); ok && s.Site == site && s.Source == journal.SourceBench && !r.Faulty && s.Sampled.After(newest) {
			newest, unit = s.Sampled, r.First.Unit
		}
	}
	return unit, !newest.IsZero() && !unit.IsNone()
}

// lots are the lots for an analyte that can be used today: the current
// one first, then the others by their last day.
func lots(j *journal.Journal, id water.ID, now time.Time, used map[string]int) []bench.Lot {
	current, found := judge.CurrentLot(j, id, now, used)
	if !found {
		return nil
	}
	fit := []*journal.Lot{current}
	var rest []*journal.Lot
	for _, l := range j.Lots.List {
		day := journal.Day(now)
		if l == current || !l.IsFor(id) || l.Void != nil || l.Recalled != nil || l.ExpiredOn(now) ||
			!l.Received.IsZero() && l.Received.After(day) || !l.Finished.IsZero() && l.Finished.Before(day) {
			continue
		}
		rest = append(rest, l)
	}
	slices.SortStableFunc(rest, func(a, b *journal.Lot) int { return a.Expires.Compare(b.Expires) })
	var out []bench.Lot
	for _, l := range append(fit, rest...) {
		var parts []string
		if !l.Expires.IsZero() {
			text := "to " + l.Expires.Format("2 Jan 2006")
			if left := l.Expires.Sub(journal.Day(now)); left < 30*24*time.Hour {
				text += fmt.Sprintf(" (in %d d)", int(left.Hours()/24))
			}
			parts = append(parts, text)
		}
		if l.Tests > 0 {
			parts = append(parts, fmt.Sprintf("%d of %d left", l.Tests-used[l.ID]-l.Losses, l.Tests))
		}
		if l.Opened.IsZero() {
			parts = append(parts, "not opened yet")
		}
		out = append(out, bench.Lot{ID: l.ID, Text: strings.Join(parts, ", ")})
	}
	return out
}

// usualFrom is how many readings of a regime make up what is usual, the newest
// ones, and usualAtLeast how many there must be.
const usualFrom, usualAtLeast = 30, 5

// usualValues is what each test usually gives at the site in the water that it
// has today.
func usualValues(j *journal.Journal, site *journal.Site, ids []water.ID, now time.Time) map[water.ID]bench.Usual {
	out := map[water.ID]bench.Usual{}
	if len(ids) == 0 {
		return out
	}
	units := map[water.ID]water.Unit{}
	for _, id := range ids {
		if u, ok := lastUnit(j, site.ID, id); ok {
			units[id] = u
		}
	}
	series, err := query.Histories(j, query.SeriesRequest{Sites: []string{site.ID}, Analytes: ids, Units: units, Samples: []string{journal.SampleRoutine}, Sources: []string{journal.SourceBench}, Until: now})
	if err != nil {
		return out
	}
	regime := judge.Regime(j, site, now)
	for _, s := range series {
		var values []float64
		for i := len(s.Points) - 1; i >= 0 && len(values) < usualFrom; i-- {
			if p := s.Points[i]; p.Bound == water.Exact && !p.Derived && p.Regime == regime {
				values = append(values, p.Value)
			}
		}
		if len(values) < usualAtLeast {
			continue
		}
		middle, err1 := stats.Median(values)
		mad, err2 := stats.MAD(values)
		if err1 == nil && err2 == nil {
			out[s.Analyte] = bench.Usual{N: len(values), Middle: middle, Scale: 1.4826 * mad, Unit: s.Unit, Regime: regime}
		}
	}
	return out
}
