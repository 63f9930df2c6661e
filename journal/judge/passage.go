package judge

import (
	"math"
	"slices"
	"time"

	"wj/journal"
	"wj/water"
)

// Passage is how much of its feed's salt a membrane let through: the conductivity
// of the permeate as a part of the feed's, 0.026 for 2.6 %. Rejection is 1 less
// that part.
type Passage struct {
	Session, Feed *journal.Session // of the permeate, and of the feed nearest to it in time
	In, Out       float64          // conductivities, uS/cm at 25 degC
	Part, U       float64          // with its standard uncertainty, the two readings taken as independent
}

// The feed must be read within a day of the permeate, and a feed of less than 50
// uS/cm says nothing of a membrane (common practice, no source).
const (
	pairWithin = 24 * time.Hour
	leastFeed  = 50
)

// Passages pairs each session at a membrane's outlet with the session of its feed
// nearest in time. Sessions without such a pair, and bounds, are left out; both
// lists are in the order of sampling.
func Passages(j *journal.Journal, permeate, feed []*journal.Session) []Passage {
	conductivity := func(s *journal.Session) (water.Measured, bool) {
		r, ok := s.Reading(water.ElectricalConductivity)
		if !ok {
			return water.Measured{}, false
		}
		m, ok := j.Measured(s, r)
		return m, ok && m.Bound == water.Exact
	}
	var out []Passage
	for _, s := range permeate {
		through, ok := conductivity(s)
		if !ok {
			continue
		}
		var in water.Measured
		var with *journal.Session
		gap := pairWithin
		from, _ := slices.BinarySearchFunc(feed, s.Sampled.Add(-pairWithin), func(f *journal.Session, t time.Time) int { return f.Sampled.Compare(t) })
		for _, f := range feed[from:] {
			if f.Sampled.Sub(s.Sampled) > pairWithin {
				break
			}
			if d := f.Sampled.Sub(s.Sampled).Abs(); d <= gap {
				if m, ok := conductivity(f); ok {
					in, with, gap = m, f, d
				}
			}
		}
		if with == nil || in.Value < leastFeed {
			continue
		}
		part := through.Value / in.Value
		out = append(out, Passage{Session: s, Feed: with, In: in.Value, Out: through.Value, Part: part,
			U: math.Hypot(through.U, part*in.U) / in.Value})
	}
	return out
}

// PassagesAt are the passages of a site whose stage is a membrane and that names
// its feed, by a moment: of the brewery's own readings of the site's water.
func PassagesAt(j *journal.Journal, site *journal.Site, by time.Time) []Passage {
	if site.Stage != "ro-permeate" || len(site.FedBy) == 0 {
		return nil
	}
	var permeate, feed []*journal.Session
	for _, s := range j.Sessions.List {
		switch {
		case !InSeries(s) || !Bench(s) || s.Sampled.After(by):
		case s.Site == site.ID:
			permeate = append(permeate, s)
		case slices.Contains(site.FedBy, s.Site):
			feed = append(feed, s)
		}
	}
	for _, list := range [][]*journal.Session{permeate, feed} {
		slices.SortStableFunc(list, func(a, b *journal.Session) int { return a.Sampled.Compare(b.Sampled) })
	}
	return Passages(j, permeate, feed)
}
