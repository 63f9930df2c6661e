package cause

import (
	"math"
	"slices"
	"time"

	"wj/water"
)

// engine is one run over a journal.
type engine struct {
	odds     float64
	sites    []*place
	lots     map[string]*lot
	sessions []Session
	read     func(n int, buffer []Reading) []Reading // nil: the sessions have their readings
	units    map[unitKey][]factor
	slips    map[string][]original
	verdicts []Explanation
	scored   []scored // of the last session, to be used again, as all of memory
	causes   []Cause
	memory   scratch
}

type unitKey struct {
	id   water.ID
	unit water.Unit
}

// place is a site with the waters that it has had.
type place struct {
	Site
	regimes      []*regime
	lastLot      map[water.ID]string
	late         [core]lag
	verdict      int     // index of its newest verdict, -1 for none
	streak       int     // how many sessions in a row got a verdict like it
	conductivity float64 // the newest reading as a coordinate
	read         time.Time
}

// regime is a supply period with its waters: the one in use, those seen before, and
// one that may be new.
type regime struct {
	name    string
	active  *tracked
	asleep  []*tracked
	pending *tracked
}

// most is how many waters of one supply period are kept asleep.
const most = 3

func (e *engine) unitFactors(id water.ID, u water.Unit) []factor {
	key := unitKey{id, u}
	list, ok := e.units[key]
	if !ok {
		list = unitFactors(id, u)
		e.units[key] = list
	}
	return list
}

func (e *engine) originals(number string) []original {
	list, ok := e.slips[number]
	if !ok {
		list = originals(number)
		if len(e.slips) < 4096 {
			e.slips[number] = list
		}
	}
	return list
}

func (p *place) regimeAt(at time.Time) string {
	if p.Regime == nil || p.Stage == "ro-permeate" { // the membrane is the same one, with any feed
		return ""
	}
	return p.Regime(at)
}

func (p *place) regime(name string) *regime {
	for _, r := range p.regimes {
		if r.name == name {
			return r
		}
	}
	r := &regime{name: name}
	p.regimes = append(p.regimes, r)
	return r
}

// now is the water of the site at a time; nil where none is known.
func (p *place) now(at time.Time) *tracked {
	if p.Made {
		return nil
	}
	name := p.regimeAt(at)
	for _, r := range p.regimes {
		if r.name == name && r.active != nil && !r.active.blank {
			return r.active
		}
	}
	return nil
}

// at0 is the water as it is at a time, the water itself left alone, in mem.water.
func (t *tracked) at0(at time.Time, mem *scratch) *tracked {
	mem.water = *t
	mem.water.later += mem.water.pass(at)
	return &mem.water
}

// feed is the water that arrives at a site; nil where none is known.
func (e *engine) feed(site int, at time.Time) *tracked {
	for _, f := range e.sites[site].Feeds {
		if t := e.sites[f].now(at); t != nil {
			return t
		}
	}
	return nil
}

// begin is a site's water before its first session.
func (e *engine) begin(site int, at time.Time) *tracked {
	p := e.sites[site]
	stage := p.Stage
	t := start()
	if stage == "ro-permeate" {
		t.share = true
		t.loosen(3*cond, math.Log(0.04), 1.2*1.2)
	} else if feed := e.feed(site, at); feed != nil && len(p.Feeds) == 1 && (stage == "carbon-outlet" || stage == "softener-outlet") {
		t = fed(feed.at0(at, &e.memory), stage)
	}
	t.cycles = stage == "softener-outlet"
	return t
}

// judge takes one session.
func (e *engine) judge(n int) {
	s := &e.sessions[n]
	p := e.sites[s.Site]
	if p.Made || s.Time.IsZero() {
		return
	}
	e.memory.reset()
	r := p.regime(p.regimeAt(s.Time))
	if r.active == nil {
		r.active = e.begin(s.Site, s.Time)
	}
	if s.Event && r.active.n > 0 {
		spread(&r.active.p, 0, 0.05, 0.03, 0.1, 0.01) // a filter changed, a pump lowered: it may have moved
	}
	e.ready(s, r.active)
	rows := rowsOf(s.Readings, r.active, &e.memory)
	own := r.active.fit(rows, &e.memory)
	if !own.ok {
		return
	}
	defer e.used(s)
	for i := range rows {
		if rows[i].at == cond {
			p.conductivity, p.read = rows[i].x, s.Time
		}
	}
	if s.Observed {
		if own.d2 < 3*float64(len(rows)) {
			r.active.learn(rows, &e.memory, nil)
		}
		return
	}
	j := &judgement{e: e, s: s, own: own, base: own.density(), regime: r.name, all: e.scored[:0]}
	defer func() { e.scored = j.all }()
	// What no cause could make likely enough is not weighed: the largest gain of any
	// is that of a perfect fit.
	if k := float64(len(rows)); (own.nu+k)/2*math.Log1p(own.d2/own.nu) < math.Log(e.odds)+2.5 && own.physical() > math.Log(0.05) {
		e.accept(n, p, r, own)
		return
	}
	if s.Passed && own.d2 < 3*float64(len(rows)) {
		e.accept(n, p, r, own)
		return
	}
	if s.Quiet {
		if own.d2 < 3*float64(len(rows)) {
			e.accept(n, p, r, own)
		}
		return
	}
	if e.another(s, p, r, j.base) {
		return
	}
	j.boost = e.boosts(j)
	if !j.score() {
		e.accept(n, p, r, own)
		return
	}
	odds, causes := j.decide()
	if odds < e.odds || len(causes) == 0 {
		if !e.twoAlike(n, j) {
			e.accept(n, p, r, own)
		}
		return
	}
	if s.Event && odds/math.Exp(math.Min(j.changed(), 600)) < e.odds {
		e.open(s, r)
		e.adopt(r, r.pending)
		p.verdict, p.streak = -1, 0
		return
	}
	if causes[0].Reading < 0 {
		if k := causes[0].Kind; k == Change || k == Cut || k == Meter || k == Treatment {
			causes = slices.Clone(causes)
			if e.twoBetter(n, j, math.Log(odds)) {
				return
			}
		}
		e.report(n, j, odds, causes)
		return
	}
	causes = slices.Clone(causes) // what is left is weighed in the same place
	rest, others, more := e.without(j, causes[0])
	if rest == nil || others < e.odds || more[0].Reading < 0 {
		e.report(n, j, odds, causes)
		return
	}
	e.reportTwo(n, j, odds, causes, rest, others, slices.Clone(more))
}

// ready brings a water to a session's time.
func (e *engine) ready(s *Session, t *tracked) {
	t.advance(s.Time)
	if t.share {
		t.feeding = math.Log(400)
		if f := e.newest(s.Site, 4); f != nil {
			t.feeding = f.conductivity
		}
	}
}

// newest is the site, of those upstream, whose conductivity was read last.
func (e *engine) newest(site, depth int) (best *place) {
	if depth == 0 {
		return nil
	}
	for _, n := range e.sites[site].Feeds {
		for _, f := range []*place{e.sites[n], e.newest(n, depth-1)} {
			if f != nil && !f.read.IsZero() && (best == nil || f.read.After(best.read)) {
				best = f
			}
		}
	}
	return best
}

// boosts are what is known beside the readings.
func (e *engine) boosts(j *judgement) (b [numKinds]float64) {
	for k := range b {
		b[k] = 1
	}
	p := e.sites[j.s.Site]
	if p.Stage == "ro-permeate" || p.Stage == "softener-outlet" {
		b[Treatment] = atItsStage
	}
	if v := e.feedExplanation(j.s); v != nil {
		b[Change], b[Supply] = byFeed, byFeed
	}
	return b
}

// feedExplanation is a change that was found at a feed of the site within the week.
func (e *engine) feedExplanation(s *Session) *Explanation {
	for _, f := range e.sites[s.Site].Feeds {
		if n := e.sites[f].verdict; n >= 0 {
			v := &e.verdicts[n]
			gap := s.Time.Sub(e.sessions[v.Session].Time).Abs()
			if (v.Best.Kind == Change || v.Best.Kind == Supply) && gap < 7*24*time.Hour {
				return v
			}
		}
	}
	return nil
}

// accept lets the water learn from a session that nothing is wrong with.
func (e *engine) accept(n int, p *place, r *regime, own *fit) {
	p.verdict, p.streak = -1, 0
	r.pending = nil
	if bad := e.weigh(n, own, -1); len(bad) > 0 {
		r.active.learn(own.rows, &e.memory, func(i int) bool { return bad[i] })
	} else {
		r.active.take(own)
	}
}

// another reports whether the session is one of a water that was seen here before,
// or of the one that may be new: that is adopted silently.
func (e *engine) another(s *Session, p *place, r *regime, base float64) bool {
	best, gain := -1, base
	for i := -1; i < len(r.asleep); i++ {
		t := r.pending
		if i >= 0 {
			t = r.asleep[i]
		}
		if t == nil {
			continue
		}
		t = t.at0(s.Time, &e.memory)
		e.ready(s, t)
		rows := rowsOf(s.Readings, t, &e.memory)
		g := t.fit(rows, &e.memory)
		if !g.ok || g.d2 > 2.5*float64(len(rows))+4 {
			continue
		}
		if d := g.density() + math.Log(0.1); d > gain {
			best, gain = i+1, d
		}
	}
	if best < 0 {
		return false
	}
	t := r.pending
	if best > 0 {
		t = r.asleep[best-1]
	}
	e.ready(s, t)
	e.adopt(r, t)
	p.verdict, p.streak = -1, 0
	t.learn(rowsOf(s.Readings, t, &e.memory), &e.memory, nil)
	return true
}

// adopt makes a water the active one; the old one sleeps.
func (e *engine) adopt(r *regime, t *tracked) {
	kept := []*tracked{}
	if r.active != nil && r.active != t && r.active.n > 1 {
		kept = append(kept, r.active)
	}
	for _, a := range r.asleep {
		if a != t && len(kept) < most {
			kept = append(kept, a)
		}
	}
	r.asleep, r.active, r.pending = kept, t, nil
}

// open begins a second water from a session's readings.
func (e *engine) open(s *Session, r *regime) {
	t := start()
	t.cycles = r.active.cycles
	if r.active.share {
		t.share = true
		t.loosen(3*cond, math.Log(0.04), 1.2*1.2)
	}
	e.ready(s, t)
	t.learn(rowsOf(s.Readings, t, &e.memory), &e.memory, nil)
	r.pending = t
}
