package judge

import (
	"math"
	"slices"
	"strings"
	"time"

	"wj/journal"
)

// Regime is the supply regime of a site at a moment: its own, else that of the
// sites that feed it, several of them joined by "+", so that a carbon filter follows
// the main before it. It is "" where none is declared.
func Regime(j *journal.Journal, site *journal.Site, at time.Time) string {
	return regime(j, site, at.In(zoneOf(j)), 4)
}

// deepest is how many sites may lie between a site and the supply that it follows.
func regime(j *journal.Journal, site *journal.Site, at time.Time, deepest int) string {
	if site == nil || deepest == 0 {
		return ""
	}
	if len(site.Supply) > 0 {
		return site.Regime(at)
	}
	var out []string
	for _, id := range site.FedBy {
		if feed, ok := j.Sites.Get(id); ok {
			if r := regime(j, feed, at, deepest-1); r != "" {
				out = append(out, r)
			}
		}
	}
	return strings.Join(out, "+")
}

// Period is a stretch of days in which a site's supply regime is the same; a zero
// end is open.
type Period struct {
	Regime   string
	From, To time.Time // To is the first day that is no longer in it
}

// Regimes lists the supply periods that a site follows, in order of time; there are
// none where none is declared.
func Regimes(j *journal.Journal, site *journal.Site) []Period {
	var days []time.Time
	var gather func(site *journal.Site, deepest int)
	gather = func(site *journal.Site, deepest int) {
		if site == nil || deepest == 0 {
			return
		}
		for _, s := range site.Supply {
			days = append(days, s.Since)
			if !s.Until.IsZero() {
				days = append(days, s.Until.AddDate(0, 0, 1))
			}
		}
		if len(site.Supply) > 0 {
			return
		}
		for _, id := range site.FedBy {
			if feed, ok := j.Sites.Get(id); ok {
				gather(feed, deepest-1)
			}
		}
	}
	gather(site, 4)
	slices.SortFunc(days, time.Time.Compare)
	var out []Period
	for _, day := range slices.CompactFunc(days, time.Time.Equal) {
		r := ""
		if day.IsZero() {
			r = regime(j, site, time.Date(1, 1, 1, 12, 0, 0, 0, zoneOf(j)), 4)
		} else {
			y, m, d := day.Date()
			r = regime(j, site, time.Date(y, m, d, 12, 0, 0, 0, zoneOf(j)), 4)
		}
		if n := len(out); n > 0 {
			if out[n-1].Regime == r {
				continue
			}
			out[n-1].To = day
		}
		out = append(out, Period{Regime: r, From: day})
	}
	return slices.DeleteFunc(out, func(p Period) bool { return p.Regime == "" })
}

// Sound reports whether a reading says what the water of its site usually is: it
// could be read, its lot was not recalled, and it was not diluted where a dilution
// changes what is measured.
func Sound(j *journal.Journal, r *journal.Reading) bool {
	if r.Faulty || r.Dilution > 1 && !r.Analyte.Dilutable() {
		return false
	}
	if r.Lot != "" {
		if lot, ok := j.Lots.Get(r.Lot); ok && lot.Recalled != nil {
			return false
		}
	}
	return true
}

// Made reports a site whose water is what the last recipe made of it: it has no
// usual value.
func Made(site *journal.Site) bool {
	return site != nil && journal.StageNamed(site.Stage).Made
}

// LastReplacement is the newest event that made the plant at a site another one,
// such as a new membrane, between two moments: what was before tells nothing of what
// is now. It is nil where there is none.
func LastReplacement(j *journal.Journal, site *journal.Site, first, last time.Time) *journal.Event {
	var newest *journal.Event
	for _, e := range j.Events.List {
		if site != nil && e.Void == nil && e.Sort == "replacement" && slices.Contains(e.Sites, site.ID) && e.On.After(first) && e.On.Before(last) && (newest == nil || e.On.After(newest.On)) {
			newest = e
		}
	}
	return newest
}

// Allowance is the larger standard uncertainty of a reading and of one like it at
// a usual value, in the standard unit: a reading that is too small must not be held
// against its own small uncertainty.
func Allowance(j *journal.Journal, s *journal.Session, r *journal.Reading, usual float64) float64 {
	u, _ := j.Uncertainty(s, r)
	d := r.Factor()
	if m := j.Measures(s, r); m != nil && m.HasAccuracy {
		return math.Max(u, m.Accuracy.Uncertainty(usual/d, d))
	}
	return math.Max(u, r.Analyte.Info().Typical.Uncertainty(usual/d, d))
}
