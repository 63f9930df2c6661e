package cause

import (
	"cmp"
	"math"
	"slices"
	"time"

	"wj/water"
)

func newEngine(sites []Site, sessions []Session, odds float64) *engine {
	makeNorm.Do(tNorms)
	e := &engine{odds: odds, sessions: sessions, lots: map[string]*lot{}, units: map[unitKey][]factor{}, slips: map[string][]original{}}
	for _, s := range sites {
		e.sites = append(e.sites, &place{Site: s, lastLot: map[water.ID]string{}, verdict: -1})
	}
	return e
}

// Explain gives a verdict for each session that something is wrong with, in the
// order of the sessions. A session is reported from the given odds on. Where its
// readings are only there while it is judged, read appends those of a session to a
// buffer, which is used again; it is nil where the sessions have them.
func Explain(sites []Site, sessions []Session, odds float64, read func(n int, buffer []Reading) []Reading) []Explanation {
	e := newEngine(sites, sessions, odds)
	e.read = read
	e.run(0)
	return e.result()
}

// run judges the sessions from one on.
func (e *engine) run(from int) {
	var buffer []Reading
	for n := from; n < len(e.sessions); n++ {
		if e.read == nil {
			e.judge(n)
			continue
		}
		s, before := &e.sessions[n], len(e.verdicts)
		buffer = e.read(n, buffer[:0])
		s.Readings = buffer
		e.judge(n)
		s.Readings = nil
		if slices.ContainsFunc(e.verdicts[before:], func(v Explanation) bool { return v.Session == n }) {
			s.Readings = slices.Clone(buffer)
		}
	}
}

// report keeps a verdict, and decides what the water learns from the session.
func (e *engine) report(n int, j *judgement, odds float64, causes []Cause) {
	s := j.s
	p := e.sites[s.Site]
	r := p.regime(j.regime)
	v := Explanation{Session: n, Best: causes[0], Odds: odds, Since: 1, Repeat: -1}
	if len(causes) > 1 && causes[1].Posterior > nameable {
		second := causes[1]
		v.Second = &second
	}
	v.expect(j)
	v.repetition(j, causes)
	like := p.verdict >= 0 && e.verdicts[p.verdict].Since > 0 && sameExplanation(&e.verdicts[p.verdict], e.sessions, &v)
	if like {
		p.streak++
	} else {
		p.streak = 1
	}
	single := v.Best.Reading >= 0
	rows := j.own.rows
	hit := func(i int) bool {
		return slices.Contains(j.beside, rows[i].reading) || single && (rows[i].reading == v.Best.Reading || v.Best.Kind == Swap && rows[i].reading == v.Best.With)
	}
	named := -2
	if v.Best.Kind == Lot || v.Best.Kind == Test {
		named = v.Best.Reading
	}
	bad := e.weigh(n, j.own, named)
	settled := 3
	if v.Best.Kind <= Dilution {
		settled = 4
	}
	switch {
	case s.Accepted || p.streak >= settled:
		// Somebody answers for it, or it comes again and again: it is the water.
		if single {
			for i := range rows {
				if hit(i) && rows[i].at >= 0 {
					k := 3 * rows[i].at
					r.active.p[k*states+k] += otherOwn * otherOwn
				}
			}
			r.active.learn(rows, &e.memory, nil)
		} else {
			e.open(s, r)
			e.adopt(r, r.pending)
		}
		p.streak = 0
	case single:
		r.active.learn(rows, &e.memory, func(i int) bool { return hit(i) || bad[i] })
	case v.Best.Kind == Bottle:
	case v.Best.Kind == Supply:
		if other := p.regime(v.Best.Regime); other.active != nil {
			e.ready(s, other.active)
			other.active.learn(rowsOf(s.Readings, other.active, &e.memory), &e.memory, nil)
		}
	default:
		e.open(s, r)
		if v.Best.Kind == Change || v.Best.Kind == Cut && len(r.active.swings) > 0 {
			r.active.swung(j.own)
		}
	}
	if like && v.Best.Kind > Dilution {
		old := &e.verdicts[p.verdict]
		old.Since++
		old.Also = append(old.Also, n)
		return
	}
	if follows := e.feedExplanation(s); follows != nil && (v.Best.Kind == Change || v.Best.Kind == Supply) {
		follows.Also = append(follows.Also, n)
		return
	}
	e.verdicts = append(e.verdicts, v)
	p.verdict = len(e.verdicts) - 1
}

// sameExplanation reports whether two sessions of one site got the same.
func sameExplanation(a *Explanation, sessions []Session, b *Explanation) bool {
	if a.Best.Kind != b.Best.Kind || a.Best.Regime != b.Best.Regime {
		return false
	}
	if a.Best.Reading < 0 || b.Best.Reading < 0 {
		return a.Best.Reading == b.Best.Reading && a.Best.With == b.Best.With
	}
	return sessions[a.Session].Readings[a.Best.Reading].ID == sessions[b.Session].Readings[b.Best.Reading].ID
}

// expect fills in what each reading was expected to be.
func (v *Explanation) expect(j *judgement) {
	f := j.own
	v.Expected = make([]Expected, len(j.s.Readings))
	for i := range f.rows {
		w := &f.rows[i]
		middle, variance := f.m[i], f.phi*f.s.at(i, i)
		if v.Best.Reading >= 0 {
			middle, variance = f.given(i)
		}
		at := lower(w.id, middle)
		_, slope := lift(w.id, at)
		half := 2 * math.Sqrt(variance)
		v.Expected[w.reading] = Expected{Middle: at / w.factor, Half: half / slope / w.factor, Off: math.Abs(w.x-middle) > half}
	}
}

// repetition chooses the reading whose repetition distinguishes the best cause from the
// next one, or from "the reading is right".
func (v *Explanation) repetition(j *judgement, causes []Cause) {
	f := j.own
	most := 4.0
	for i := range f.rows {
		w := &f.rows[i]
		if w.Bound != water.Exact {
			continue
		}
		noise := sq(w.noise(w.c))
		predict := func(c *Cause) (middle, variance float64) {
			switch {
			case c == nil:
				return w.x, noise
			case c.Kind == Lot:
				return w.x, noise // the same lot says the same again
			case c.Reading == w.reading && !math.IsNaN(c.Means):
				x, _ := lift(w.id, c.Means*w.factor)
				return x, noise
			case c.Kind == Swap && c.With == w.reading:
				m, va := f.given(i)
				return m, va + noise
			case c.Kind == Test && c.Reading == w.reading:
				m, va := f.given(i)
				return m, va
			case c.Kind == Bottle || c.Kind == Cut || c.Kind == Meter:
				return f.m[i], f.phi * f.s.at(i, i)
			}
			return w.x, noise
		}
		a, va := predict(&causes[0])
		var other *Cause
		if v.Second != nil {
			other = v.Second
		}
		b, vb := predict(other)
		if d := sq(a-b) / (va + vb); d > most {
			most, v.Repeat = d, w.reading
			v.Right, v.Else = lower(w.id, a)/w.factor, lower(w.id, b)/w.factor
		}
	}
}

// lot is what the readings with a lot of reagent say of it, over all sites: sums of
// the residuals given the other readings, less what they were before it was opened.
type lot struct {
	p, q   float64
	pt, qt float64 // the same by the years since it was opened: a water on the move
	sum    float64 // of the squared residuals
	n      int     // residuals
	opened time.Time
	before map[int]lag // by site
	uses   []int       // sessions
	first  int         // reading of the first use
	read   int         // how many readings that session has
	told   int         // index of the verdict + 1
}

// lag is how far behind a site's reading the water has been of late: exponentially
// weighted sums.
type lag struct{ p, q float64 }

// lotPrior and movePrior are standard deviations: of the bias of a lot, and of what one
// reading of a water moves by in a year. moving is how likely it does, over that it does not.
const lotPrior, movePrior, moving, forget = 0.15, 0.25, 0.3, 0.85

// logOdds is how likely the lot is biased rather than not, at one lot in fifty. A water on
// the move has residuals of one sign, too: they grow, or were there before the lot was.
func (l *lot) logOdds() float64 {
	if l == nil || l.p == 0 {
		return math.Log(1.0 / 50)
	}
	v := 1 / l.p
	biased := sq(l.q/l.p)/2*(1/v-1/(v+lotPrior*lotPrior)) - math.Log1p(lotPrior*lotPrior/v)/2
	moves := l.qt*l.qt/(2*(l.pt+1/(movePrior*movePrior))) - math.Log1p(movePrior*movePrior*l.pt)/2
	return biased + math.Log(1.0/50) - logSum([]float64{0, moves + math.Log(moving)})
}

// steady reports whether the residuals are of one bias rather than of one outlier.
func (l *lot) steady() bool {
	left := float64(l.n - 1)
	return l.n >= 2 && l.sum-l.q*l.q/l.p <= left+3*math.Sqrt(2*left)
}

// fresh reports whether a lot was just opened at a site that has used another one.
func (e *engine) fresh(site int, r *Reading) bool {
	last := e.sites[site].lastLot[r.ID]
	l := e.lots[lotKey(r)]
	return last != "" && (last != r.Lot || l != nil && len(l.uses) <= 1)
}

func lotKey(r *Reading) string { return r.ID.String() + " " + r.Lot }

// used notes the lots that a session used.
func (e *engine) used(s *Session) {
	for i := range s.Readings {
		if r := &s.Readings[i]; r.Lot != "" {
			e.sites[s.Site].lastLot[r.ID] = r.Lot
		}
	}
}

// weigh adds a session's residuals to its lots; it reports the rows whose lot is
// likelier bad than good, which teach the water nothing. named is the reading that
// the session's verdict says is off, -1 where there is none, and -2 where what is
// wrong shows nothing of lots.
func (e *engine) weigh(n int, f *fit, named int) (bad map[int]bool) {
	for i := range f.rows {
		w := &f.rows[i]
		if w.Lot == "" || w.Bound != water.Exact || w.at < 0 || w.at == acid || f.t.n < 3 {
			continue
		}
		key := lotKey(w.Reading)
		l := e.lots[key]
		if l == nil {
			l = &lot{first: w.reading, read: len(e.sessions[n].Readings), opened: e.sessions[n].Time, before: map[int]lag{}}
			e.lots[key] = l
		}
		site := e.sessions[n].Site
		late := &e.sites[site].late[w.at]
		before, known := l.before[site]
		if !known {
			before = *late
			l.before[site] = before
		}
		l.uses = append(l.uses, n)
		middle, v := f.given(i)
		if named == -2 || named >= 0 && named != w.reading {
			continue // the others are given what is wrong
		}
		residual := w.x - middle
		if math.Abs(residual) > 3*lotPrior {
			continue // no bias of a lot is that large
		}
		v = 1.3*v + 0.02*0.02
		late.p, late.q = forget*late.p+1/v, forget*late.q+residual/v
		if before.p > 0 {
			residual -= before.q / before.p
		}
		years := e.sessions[n].Time.Sub(l.opened).Hours() / (24 * 365.25)
		l.p += 1 / v
		l.q += residual / v
		l.pt += years * years / v
		l.qt += years * residual / v
		l.sum += residual * residual / v
		l.n++
		odds := l.logOdds()
		if odds > 0 {
			if bad == nil {
				bad = map[int]bool{}
			}
			bad[i] = true
		}
		if odds > math.Log(10) && l.told == 0 && l.steady() {
			first := l.uses[0]
			bias := l.q / (l.p + 1/(lotPrior*lotPrior))
			if math.Abs(bias) < 1.96*w.noise(w.c) {
				continue // no more than the test declares
			}
			c := Cause{Kind: Lot, Reading: l.first, With: -1, Factor: math.Exp(bias), Means: math.NaN(), Posterior: 1 / (1 + math.Exp(-odds))}
			e.verdicts = append(e.verdicts, Explanation{Session: first, Best: c, Odds: math.Exp(odds), Repeat: -1, Since: 0, Expected: make([]Expected, l.read)})
			l.told = len(e.verdicts)
		}
	}
	return bad
}

// result joins what belongs together and sorts.
func (e *engine) result() []Explanation {
	drop := make([]bool, len(e.verdicts))
	for _, l := range e.lots {
		if l.told > 0 {
			e.verdicts[l.told-1].Also = l.uses[1:]
		}
	}
	for i := range e.verdicts {
		v := &e.verdicts[i]
		// A bad lot explains each single reading made with it.
		if v.Since > 0 && v.Best.Reading >= 0 && (v.Best.Kind == Lot || v.Best.Kind == Test) {
			r := &e.sessions[v.Session].Readings[v.Best.Reading]
			if l := e.lots[lotKey(r)]; r.Lot != "" && l != nil && l.told > 0 {
				drop[i] = true
			}
		}
		if v.Best.Kind != Bottle || drop[i] {
			continue
		}
		// Two bottles of one day that were exchanged are one mistake.
		for k := range i {
			o := &e.verdicts[k]
			a, b := &e.sessions[v.Session], &e.sessions[o.Session]
			if !drop[k] && o.Best.Kind == Bottle && o.Best.With == a.Site && v.Best.With == b.Site && a.Time.Sub(b.Time).Abs() < 36*time.Hour {
				o.Also = append(o.Also, v.Session)
				drop[i] = true
				break
			}
		}
	}
	out := make([]Explanation, 0, len(e.verdicts))
	for i := range e.verdicts {
		if !drop[i] {
			out = append(out, e.verdicts[i])
		}
	}
	slices.SortStableFunc(out, func(a, b Explanation) int { return cmp.Compare(a.Session, b.Session) })
	return out
}
