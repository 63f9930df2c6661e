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

// Feed and outlet must be read within a day of each other, and a feed of less than 50
// uS/cm says nothing of a membrane (common practice, no source).
const (
	pairWithin = 24 * time.Hour
	leastFeed  = 50
)

// Divides reports whether a feed's value can be divided by: a number that is surely
// above zero, and of conductivity enough for a membrane to be judged by. v and u are
// in the standard unit of the value.
func Divides(id water.ID, v, u float64, bound water.Bound) bool {
	return bound == water.Exact && v > 2*u && (id != water.ElectricalConductivity || v >= leastFeed)
}

// Removes lists what the plant at a stage is there to take out, that which tells most
// first; nil for a stage that takes out nothing.
func Removes(stage string) []water.ID {
	return journal.StageNamed(stage).Removes
}

// Feeds finds what the water was before a site that names its feed.
type Feeds struct {
	of map[string][]*journal.Session // by the site that is fed, in the order of sampling
}

// FeedSites are the sites that feed others.
func FeedSites(j *journal.Journal) map[string]bool {
	feeds := map[string]bool{}
	for _, site := range j.Sites.List {
		for _, id := range site.FedBy {
			feeds[id] = true
		}
	}
	return feeds
}

// NewFeeds takes the sessions of the sites that feed others; more do no harm.
func NewFeeds(j *journal.Journal, sessions []*journal.Session) *Feeds {
	f := &Feeds{map[string][]*journal.Session{}}
	for _, site := range j.Sites.List {
		if len(site.FedBy) == 0 {
			continue
		}
		var feed []*journal.Session
		for _, s := range sessions {
			if InSeries(s) && slices.Contains(site.FedBy, s.Site) {
				feed = append(feed, s)
			}
		}
		bySampling(feed)
		f.of[site.ID] = feed
	}
	return f
}

func bySampling(list []*journal.Session) {
	slices.SortStableFunc(list, func(a, b *journal.Session) int { return a.Sampled.Compare(b.Sampled) })
}

// Of is the session of the feed that belongs to a session: of those that has accepts,
// the nearest in time within a day, bench with bench and laboratory with laboratory.
// It is nil where there is none.
func (f *Feeds) Of(s *journal.Session, has func(*journal.Session) bool) *journal.Session {
	return nearest(f.of[s.Site], s, has)
}

func nearest(feed []*journal.Session, s *journal.Session, has func(*journal.Session) bool) *journal.Session {
	if s.Sampled.IsZero() {
		return nil
	}
	var with *journal.Session
	gap := pairWithin
	from, _ := slices.BinarySearchFunc(feed, s.Sampled.Add(-pairWithin), func(f *journal.Session, t time.Time) int { return f.Sampled.Compare(t) })
	for _, f := range feed[from:] {
		if f.Sampled.Sub(s.Sampled) > pairWithin {
			break
		}
		if d := f.Sampled.Sub(s.Sampled).Abs(); d <= gap && Bench(f) == Bench(s) && has(f) {
			with, gap = f, d
		}
	}
	return with
}

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
		with := nearest(feed, s, func(f *journal.Session) bool {
			m, ok := conductivity(f)
			if ok {
				in = m
			}
			return ok
		})
		if with == nil || !Divides(water.ElectricalConductivity, in.Value, in.U, in.Bound) {
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
	if site.Stage != journal.StagePermeate || len(site.FedBy) == 0 {
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
	bySampling(permeate)
	bySampling(feed)
	return Passages(j, permeate, feed)
}
