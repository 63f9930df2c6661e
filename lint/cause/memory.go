package cause

import (
	"maps"
	"slices"
	"time"
)

// Memory lets Explain begin where a run and the one before it part: an editor asks anew
// with every pause in typing, and all but one session are as they were. The zero Memory
// is ready for use, by one goroutine at a time.
type Memory struct {
	// Part, where it is set, is when two runs alone part: one state is kept, that before the
	// first session of this time.
	Part time.Time

	sites    []Site
	keys     []any
	sessions []Session
	odds     float64
	states   []state
}

// state is the engine before a session.
type state struct {
	n        int
	sites    []*place
	lots     map[string]*lot
	verdicts []Explanation
}

const (
	saveEvery = 32   // sessions between two states that are kept
	saveNear  = 1024 // of the newest sessions; of older ones every eighth is
	followUp  = 32   // sessions after the last one asked for that may still speak of it: the uses of a lot
)

// Explain is the function Explain for the sessions up to last and, of what later ones
// say of them, for some more. keys stand for what the sites' functions depend on: where
// one differs from the run before, all is judged anew.
func (m *Memory) Explain(sites []Site, keys []any, sessions []Session, odds float64, last int) []Explanation {
	e := newEngine(sites, sessions, odds)
	same := m.same(sites, keys, sessions, odds)
	m.states = slices.DeleteFunc(m.states, func(s state) bool { return s.n > same })
	from := 0
	if k := len(m.states); k > 0 {
		from = m.states[k-1].n
		m.states[k-1].restore(e)
	}
	m.sites, m.keys, m.sessions, m.odds = sites, keys, sessions, odds
	end := min(len(sessions), last+1+followUp)
	for n := from; n < end; n++ {
		if m.due(n, from) {
			m.states = append(m.states, save(e, n))
		}
		e.judge(n)
	}
	if !m.Part.IsZero() {
		if len(m.states) == 0 {
			m.states = append(m.states, save(e, end))
		}
		return e.result()
	}
	m.states = slices.DeleteFunc(m.states, func(s state) bool {
		return s.n < len(sessions)-saveNear && s.n%(8*saveEvery) != 0
	})
	return e.result()
}

// due reports whether the state before a session is to be kept.
func (m *Memory) due(n, from int) bool {
	if m.Part.IsZero() {
		return n > from && n%saveEvery == 0
	}
	return len(m.states) == 0 && !m.sessions[n].Time.Before(m.Part)
}

// same is how many sessions from the first on are as in the run before.
func (m *Memory) same(sites []Site, keys []any, sessions []Session, odds float64) int {
	if odds != m.odds || !slices.Equal(keys, m.keys) || !slices.EqualFunc(sites, m.sites, func(a, b Site) bool {
		return a.Name == b.Name && a.Owner == b.Owner && a.Stage == b.Stage && a.Made == b.Made && (a.Regime == nil) == (b.Regime == nil) && slices.Equal(a.Feeds, b.Feeds)
	}) {
		return 0
	}
	n := 0
	for n < min(len(sessions), len(m.sessions)) && alike(&sessions[n], &m.sessions[n]) {
		n++
	}
	return n
}

func alike(a, b *Session) bool {
	return a.Site == b.Site && a.Observed == b.Observed && a.Accepted == b.Accepted && a.Event == b.Event && a.Time.Equal(b.Time) && slices.Equal(a.Readings, b.Readings)
}

func save(e *engine, n int) state {
	return state{n: n, sites: clonePlaces(e.sites), lots: cloneLots(e.lots), verdicts: cloneVerdicts(e.verdicts)}
}

// restore lays a state into an engine; the state stays as it is. The sites' functions are
// those of the new run.
func (s *state) restore(e *engine) {
	places := clonePlaces(s.sites)
	for i, p := range places {
		p.Site = e.sites[i].Site
	}
	e.sites, e.lots, e.verdicts = places, cloneLots(s.lots), cloneVerdicts(s.verdicts)
}

func clonePlaces(list []*place) []*place {
	out := make([]*place, len(list))
	for i, p := range list {
		c := *p
		c.lastLot = maps.Clone(p.lastLot)
		c.regimes = make([]*regime, len(p.regimes))
		for k, r := range p.regimes {
			c.regimes[k] = r.clone()
		}
		out[i] = &c
	}
	return out
}

func (r *regime) clone() *regime {
	c := &regime{name: r.name}
	if r.active != nil {
		c.active = r.active.clone()
	}
	if r.pending != nil {
		c.pending = r.pending.clone()
	}
	for _, t := range r.asleep {
		c.asleep = append(c.asleep, t.clone())
	}
	return c
}

func cloneLots(lots map[string]*lot) map[string]*lot {
	out := make(map[string]*lot, len(lots))
	for key, l := range lots {
		c := *l
		c.uses, c.before = slices.Clone(l.uses), maps.Clone(l.before)
		out[key] = &c
	}
	return out
}

func cloneVerdicts(list []Explanation) []Explanation {
	out := slices.Clone(list)
	for i := range out {
		out[i].Also = slices.Clone(out[i].Also)
	}
	return out
}
