package cause

import (
	"math"
	"slices"
)

// Two mistakes in one session are two verdicts: what is left without the first is judged as if
// only that had been read.

// without judges a session without the readings that a cause is about; rest is nil where
// nothing is wrong with what is left.
func (e *engine) without(j *judgement, c Cause) (rest *judgement, odds float64, causes []Cause) {
	rows := e.memory.rows.take(len(j.own.rows))[:0]
	for i := range j.own.rows {
		if w := &j.own.rows[i]; w.reading != c.Reading && (c.Kind != Swap || w.reading != c.With) {
			rows = append(rows, *w)
		}
	}
	own := j.own.t.fit(rows, &e.memory)
	if k := float64(len(rows)); k < 2 || !own.ok || own.t.blank || (own.nu+k)/2*math.Log1p(own.d2/own.nu) < math.Log(e.odds)+2.5 {
		return nil, 0, nil
	}
	rest = &judgement{e: e, s: j.s, own: own, base: own.density(), regime: j.regime, boost: j.boost}
	if rest.score(); len(rest.all) == 0 {
		return nil, 0, nil
	}
	if odds, causes = rest.decide(); len(causes) == 0 {
		return nil, 0, nil
	}
	return rest, odds, causes
}

// farOff is how many times the number of readings the distance is that no chance explains: where no
// one cause does either, two are looked for.
const farOff = 6

// muchBetter is by how much, as a logarithm, two slips must be likelier than one change of the water.
const muchBetter = 7

// twoAlike looks for two readings each of which is named without the other, where no single cause
// is likely: two mistakes of one size hide each other.
func (e *engine) twoAlike(n int, j *judgement) bool {
	return e.twoBetter(n, j, math.Inf(-1))
}

// twoBetter is twoAlike where one cause of the whole session is likely, by the logarithm of its odds:
// two slips by which all other readings are as usual may be likelier than a water that changed.
func (e *engine) twoBetter(n int, j *judgement, one float64) bool {
	f := j.own
	if f.t.blank || f.d2 < farOff*float64(len(f.rows)) {
		return false
	}
	f.invert()
	worst, most := -1, 0.0
	for i := range f.rows {
		if d := f.w[i] * f.w[i] / f.inv.at(i, i); d > most {
			worst, most = i, d
		}
	}
	if worst < 0 {
		return false
	}
	second, others, more := e.without(j, Cause{Reading: f.rows[worst].reading})
	if second == nil || others < e.odds || more[0].Reading < 0 || more[0].Kind == Swap {
		return false
	}
	more = slices.Clone(more)
	first, odds, causes := e.without(j, more[0])
	if first == nil || odds < e.odds || causes[0].Reading != f.rows[worst].reading {
		return false
	}
	if !math.IsInf(one, -1) { // a water that moves in some readings looks like slips: only exact ones count
		exact := func(c Cause) bool { return c.Kind == Unit || c.Kind == Ten || c.Kind == Typo }
		if math.Log(odds)+math.Log(others) < one+muchBetter || len(f.rows) < 4 || !exact(causes[0]) || !exact(more[0]) {
			return false
		}
	}
	e.reportTwo(n, first, odds, slices.Clone(causes), second, others, more)
	return true
}

// reportTwo keeps two verdicts on a session; its water learns from the other readings alone.
func (e *engine) reportTwo(n int, first *judgement, odds float64, causes []Cause, second *judgement, others float64, more []Cause) {
	for _, c := range []Cause{causes[0], more[0]} {
		first.beside = append(first.beside, c.Reading)
		if c.Kind == Swap {
			first.beside = append(first.beside, c.With)
		}
	}
	e.report(n, first, odds, causes)
	v := Explanation{Session: n, Best: more[0], Odds: others, Since: 1, Repeat: -1}
	if len(more) > 1 && more[1].Posterior > nameable {
		v.Second = &more[1]
	}
	v.expect(second)
	v.repetition(second, more)
	e.verdicts = append(e.verdicts, v)
}
