package plan

import (
	"fmt"
	"slices"
	"sort"
	"sync"
	"time"

	"wj/journal"
	"wj/journal/judge"
	"wj/water"
)

// Book looks things up in one journal: what each site's water was on a day,
// what is on the shelf, what mashes came out. It may be used by several
// goroutines.
type Book struct {
	j *journal.Journal

	sitesOnce sync.Once
	bySite    map[string][]*journal.Session // samples of the site's own water, oldest first

	verifiedOnce sync.Once
	verified     []*verified // the oldest first

	mashMutex sync.Mutex
	mashes    map[string][]mash
	all       *Book                       // that this one sees a part of; nil where it sees all
	known     func(*journal.Session) bool // of which sessions

	prices map[string]float64 // of 1000 L of a site's water, as a question says
}

// Open prepares to plan with a journal that was loaded with its sessions.
func Open(j *journal.Journal) *Book { return &Book{j: j, mashes: map[string][]mash{}} }

// Journal is the journal that the book was opened on.
func (b *Book) Journal() *journal.Journal { return b.j }

// samples are the site's samples of its own water, oldest first: checks of a meter,
// blanks, verifications and void sessions are left out.
func (b *Book) samples(site string) []*journal.Session {
	if b.all != nil {
		list, ok := b.bySite[site]
		if !ok {
			for _, s := range b.all.samples(site) {
				if b.known(s) {
					list = append(list, s)
				}
			}
			b.bySite[site] = list
		}
		return list
	}
	b.sitesOnce.Do(func() {
		b.bySite = map[string][]*journal.Session{}
		for _, s := range b.j.Sessions.List {
			if judge.SiteWater(s) && !s.Sampled.IsZero() {
				b.bySite[s.Site] = append(b.bySite[s.Site], s)
			}
		}
		for _, list := range b.bySite {
			sort.SliceStable(list, func(x, y int) bool {
				if !list[x].Sampled.Equal(list[y].Sampled) {
					return list[x].Sampled.Before(list[y].Sampled)
				}
				return list[x].ID < list[y].ID // the second of a minute ends in -2
			})
		}
	})
	return b.bySite[site]
}

// Newest is the newest sample of a site up to a moment.
func (b *Book) Newest(site string, at time.Time) (*journal.Session, bool) {
	list := b.samples(site)
	for i := len(list) - 1; i >= 0; i-- {
		if !list[i].Sampled.After(at) {
			return list[i], true
		}
	}
	return nil, false
}

// Source is one water of a blend: what is known of it, and from which sessions.
type Source struct {
	Site     string
	Share    float64 // part of 1
	Basis    *journal.Session
	Sessions []*journal.Session // that the analysis is made of, the newest first
	Analysis water.Analysis
	LeftOut  []*journal.Session // in the place of whose recalled readings older ones stand, or none
	Notes    []string
}

// Session is the newest session of the water.
func (s *Source) Session() *journal.Session { return s.Sessions[0] }

// groups hold analytes that tell of one constituent: a newer reading of one
// stands for an older reading of any.
var groups = [][]water.ID{
	{water.Calcium, water.CalciumHardness},
	{water.Magnesium, water.MagnesiumHardness, water.TotalHardness},
	{water.Alkalinity, water.Bicarbonate, water.Carbonate},
}

func groupOf(id water.ID) []water.ID {
	for _, g := range groups {
		if slices.Contains(g, id) {
			return g
		}
	}
	return []water.ID{id}
}

// recalled reports whether a reading's lot is recalled by the day.
func (b *Book) recalled(r *journal.Reading, at time.Time) bool {
	lot, known := b.j.Lots.Get(r.Lot)
	return known && !at.IsZero() && lot.Recalled != nil && !lot.Recalled.On.After(at)
}

// readings fills a with a session's readings. A reading whose lot is recalled
// by the day is left out.
func (b *Book) readings(s *journal.Session, at time.Time, a *water.Analysis) {
	a.Reset()
	for i := range s.Readings {
		r := &s.Readings[i]
		if b.recalled(r, at) {
			continue
		}
		m, ok := b.j.Measured(s, r)
		if !ok {
			continue
		}
		a.Set(r.Analyte, m)
	}
}

// basis is a water as its session alone measured it.
func (b *Book) basis(s *journal.Session) Source {
	src := Source{Site: s.Site, Basis: s, Sessions: []*journal.Session{s}}
	b.readings(s, time.Time{}, &src.Analysis)
	src.reconcile()
	return src
}

// reconcile brings two forms of one reading, as calcium and calcium hardness, to
// the value that both bear out. Forms that contradict each other stay as they
// are, with a note: nothing is picked in silence.
func (s *Source) reconcile() {
	r, ok := water.ReconcileForms(&s.Analysis)
	switch {
	case !ok:
	case r.Fits():
		s.Analysis = r.Adjusted(&s.Analysis)
	default:
		s.Notes = append(s.Notes, s.Basis.ID+": readings contradict each other: "+r.Contradiction())
	}
}

// today is a basis site's water at a moment: the newest sample, and for what
// it does not have, or has only as a bound, the next older ones back to the
// basis session. A bound that an older number contradicts stands. Sessions of
// another supply regime than the newest are not mixed in.
func (b *Book) today(basis *journal.Session, at time.Time) Source {
	src := Source{Site: basis.Site, Basis: basis}
	list := b.samples(basis.Site)
	var chosen []*journal.Session
	for i := len(list) - 1; i >= 0; i-- {
		s := list[i]
		if s.Sampled.After(at) {
			continue
		}
		if s.Sampled.Before(basis.Sampled) {
			break
		}
		chosen = append(chosen, s)
	}
	if !slices.Contains(chosen, basis) {
		chosen = append(chosen, basis)
	}
	site, _ := b.j.Sites.Get(basis.Site)
	regime := func(s *journal.Session) string { return judge.Regime(b.j, site, s.Sampled) }
	var merged, one water.Analysis
	bounds := map[water.ID]water.Measured{}
	settled := map[water.ID]bool{}
	current := regime(chosen[0])
	for _, s := range chosen {
		if regime(s) != current {
			continue
		}
		if slices.ContainsFunc(s.Readings, func(r journal.Reading) bool { return !settled[r.Analyte] && b.recalled(&r, at) }) {
			src.LeftOut = append(src.LeftOut, s)
		}
		b.readings(s, at, &one)
		used := false
		for id := water.ID(0); id < water.NumAnalytes; id++ {
			if settled[id] || !isExact(&one, id) {
				continue
			}
			group := groupOf(id)
			if contradicted(&one, group, bounds) {
				continue
			}
			for _, g := range group {
				if gm, ok := one.Measured(g); ok && !settled[g] && gm.Bound == water.Exact {
					merged.Set(g, gm)
					used = true
				}
			}
			for _, g := range group {
				settled[g] = true
				delete(bounds, g)
			}
		}
		for id := water.ID(0); id < water.NumAnalytes; id++ {
			if m, ok := one.Measured(id); ok && m.Bound != water.Exact && !settled[id] {
				if _, known := bounds[id]; !known {
					bounds[id] = m
					used = true
				}
			}
		}
		if used {
			src.Sessions = append(src.Sessions, s)
		}
	}
	for id, m := range bounds {
		merged.Set(id, m)
	}
	if len(src.Sessions) == 0 {
		src.Sessions = []*journal.Session{chosen[0]}
	}
	src.Analysis = merged
	for _, s := range src.Sessions[1:] {
		src.Notes = append(src.Notes, fmt.Sprintf("%s: what %s does not hold is from %s", src.Site, src.Sessions[0].ID, s.ID))
	}
	return src
}

// isExact reports whether an analysis has a number for an analyte.
func isExact(a *water.Analysis, id water.ID) bool {
	m, ok := a.Measured(id)
	return ok && m.Bound == water.Exact
}

// contradicted reports whether a number of an older session cannot be what a
// newer one saw only as a bound.
func contradicted(a *water.Analysis, group []water.ID, bounds map[water.ID]water.Measured) bool {
	for _, id := range group {
		m, ok := bounds[id]
		if !ok {
			continue
		}
		v := a.Number(id)
		if m.Bound == water.Below && v >= m.Value || m.Bound == water.Above && v <= m.Value {
			return true
		}
	}
	return false
}

func (b *Book) zone() *time.Location {
	if z := b.j.Settings.Zone; z != nil {
		return z
	}
	return time.UTC
}

// endOf is the last moment of a day that is kept without its time, or the
// moment itself.
func (b *Book) endOf(t time.Time) time.Time {
	if t.Location() == time.UTC && t.Equal(journal.Day(t)) {
		y, m, d := t.Date()
		return time.Date(y, m, d+1, 0, 0, 0, 0, b.zone()).Add(-time.Second)
	}
	return t
}
