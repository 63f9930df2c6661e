package profile

import (
	"slices"
	"time"

	"wj/journal"
	"wj/query"
	"wj/query/stats"
	"wj/water"
)

// Feed is the site whose supply periods a site's water follows: its own where it declares any, else those of what feeds it.
func Feed(j *journal.Journal, site *journal.Site) *journal.Site {
	for at, depth := site, 0; at != nil && depth < 8; depth++ {
		if len(at.Supply) > 0 {
			return at
		}
		if len(at.FedBy) == 0 {
			break
		}
		next, ok := j.Sites.Get(at.FedBy[0])
		if !ok {
			break
		}
		at = next
	}
	return site
}

// InRegimes is the series with the regimes of what feeds the site.
func InRegimes(j *journal.Journal, site *journal.Site, s *query.Series) *query.Series {
	feed := Feed(j, site)
	if feed == nil || feed == site {
		return s
	}
	with := *s
	with.Points = slices.Clone(s.Points)
	for i := range with.Points {
		with.Points[i].Regime = feed.Regime(with.Points[i].Sampled.In(j.Settings.Zone))
	}
	return &with
}

// LastReplacement is the newest event that made the plant at a site another one, such as a new membrane: what was before
// tells nothing of what is now. It is nil where there is none between the first and the last point.
func LastReplacement(j *journal.Journal, site *journal.Site, s *query.Series) *journal.Event {
	var newest *journal.Event
	if site == nil || len(s.Points) == 0 {
		return nil
	}
	first, last := s.Points[0].Sampled, s.Points[len(s.Points)-1].Sampled
	for _, e := range j.Events.List {
		if e.Void == nil && e.Sort == "replacement" && slices.Contains(e.Sites, site.ID) && e.On.After(first) && e.On.Before(last) && (newest == nil || e.On.After(newest.On)) {
			newest = e
		}
	}
	return newest
}

// Group is the measured points of one supply regime, as their places in the series, in order of time.
type Group struct {
	Regime string
	At     []int
}

// Groups parts the measured points since a moment (zero: all) by regime, in the order in which the regimes first appear.
// Bounds are left out.
func Groups(s *query.Series, since time.Time) []Group {
	place := map[string]int{}
	var out []Group
	for i, p := range s.Points {
		if p.Bound != water.Exact || p.Sampled.Before(since) {
			continue
		}
		n, seen := place[p.Regime]
		if !seen {
			n = len(out)
			place[p.Regime] = n
			out = append(out, Group{Regime: p.Regime})
		}
		out[n].At = append(out[n].At, i)
	}
	return out
}

// Values are the values of a group.
func (g Group) Values(s *query.Series) []float64 {
	out := make([]float64, len(g.At))
	for n, i := range g.At {
		out[n] = s.Points[i].Value
	}
	return out
}

// Times are the years from the axis' origin to each point of a group.
func (g Group) Times(s *query.Series, axis stats.TimeAxis) []float64 {
	moments := make([]time.Time, len(g.At))
	for n, i := range g.At {
		moments[n] = s.Points[i].Sampled
	}
	return axis.Years(moments)
}

// What is expected of a regime is frozen from its first readings (NIST/SEMATECH e-Handbook 6.3.2.2 wants twenty); with fewer
// than eight there is no expectation and no trend. The eight are common practice, no source.
const (
	BaselineMost  = 20
	BaselineLeast = 8
)

// Baseline freezes the limits of an individuals chart from a group's first readings; stats.ErrTooFew with fewer than
// BaselineLeast, stats.ErrNoSpread where they are all alike.
func (g Group) Baseline(s *query.Series) (stats.Individuals, error) {
	if len(g.At) < BaselineLeast {
		return stats.Individuals{}, tooFew(len(g.At), BaselineLeast, "measured value")
	}
	return stats.FreezeIndividuals(g.Values(s)[:min(len(g.At), BaselineMost)])
}
