package cause

import (
	"math"
	"slices"

	"wj/water"
)

// scored is a hypothesis with the logarithm of its likelihood over that of
// "nothing is wrong", and its share of the family.
type scored struct {
	Cause
	gain  float64
	share float64
}

// judgement is what is known when a session is scored.
type judgement struct {
	e      *engine
	s      *Session
	own    *fit
	base   float64
	all    []scored
	boost  [numKinds]float64 // on the priors
	regime string
	beside []int // readings that another verdict on the session is about

	low, high []float64 // by row, the values beyond which it is hopeless
}

// hopeless is how far, in the logarithm of the density, a value is from what the other
// readings lead to expect when it counts for nothing: by e^-25 even where a factor of a
// thousand was gained by the mapping.
const hopeless = 32.0

func (j *judgement) add(k Kind, row, with int, share, density float64) *scored {
	reading := -1
	if row >= 0 {
		reading = j.own.rows[row].reading
	}
	j.all = append(j.all, scored{Cause{Kind: k, Reading: reading, With: with, Means: math.NaN()}, density - j.base, share})
	return &j.all[len(j.all)-1]
}

// single scores one reading with another value; jacobian is the logarithm of what
// the density of the number typed gains by the mapping.
func (j *judgement) single(i int, c, jacobian, extra float64) float64 {
	f := j.own
	w := &f.rows[i]
	if f.t.blank {
		rows := j.e.memory.rows.copied(f.rows)
		rows[i].put(c)
		g := f.t.fit(rows, &j.e.memory)
		if !g.ok {
			return math.Inf(-1)
		}
		return g.density() + jacobian + w.logSlope(c) - w.logSlope(w.c)
	}
	if extra == 0 && (c < j.low[i] || c > j.high[i]) {
		return math.Inf(-1)
	}
	x, _ := lift(w.id, c)
	return f.single(i, x, extra) + f.physical(instead{i, c}) + jacobian + w.logSlope(c) - w.logSlope(w.c)
}

// score weighs every hypothesis. It is false where nothing can be reported.
func (j *judgement) score() bool {
	f := j.own
	tied := f.tied()
	if !f.t.blank {
		j.low, j.high = j.e.memory.numbers.take(len(f.rows)), j.e.memory.numbers.take(len(f.rows))
		for i := range f.rows {
			j.low[i], j.high[i] = f.window(i, hopeless)
		}
	}
	for i := range f.rows {
		w := &f.rows[i]
		if !tied && !f.pair(w) && (f.t.blank || !f.t.knows(w)) {
			continue // nothing says what it should be
		}
		if w.Bound != water.Exact || w.at == acid {
			if w.at == acid && !f.t.blank && w.Bound == water.Exact {
				j.typos(i)
			}
			continue
		}
		j.units(i)
		for _, t := range []struct{ f, share float64 }{{10, 1}, {0.1, 1}, {100, 0.2}, {0.01, 0.2}} {
			h := j.add(Ten, i, -1, t.share, j.single(i, w.c*t.f, math.Log(t.f), 0))
			h.Factor, h.Means = t.f, w.Value*t.f
		}
		j.dilutions(i)
		if !f.t.blank {
			j.typos(i)
		}
		for k := range i {
			j.swap(i, k)
		}
	}
	j.cut()
	j.regimes()
	if f.t.blank {
		return len(j.all) > 0
	}
	fresh := false
	for i := range f.rows {
		w := &f.rows[i]
		wide := testSD * testSD
		switch {
		case w.at == acid:
			wide = testPH * testPH
		case w.at < 0:
			wide = testTrace * testTrace
		}
		j.add(Test, i, -1, 1, f.single(i, w.x, wide)+f.physical())
		if w.Lot != "" {
			share := 1.0
			if j.e.fresh(j.s.Site, w.Reading) {
				share, fresh = freshLot, true
			}
			j.add(Lot, i, -1, share, f.single(i, w.x, lotSD*lotSD)+f.physical())
		}
	}
	if !fresh {
		j.boost[Lot] *= usedLot
	}
	j.whole()
	return j.bottles() && len(j.all) > 0
}

func (j *judgement) units(i int) {
	w := &j.own.rows[i]
	for _, u := range j.e.unitFactors(w.ID, w.Unit) {
		h := j.add(Unit, i, -1, u.weight, j.single(i, w.c*u.f, math.Log(u.f), 0))
		h.Factor, h.Unit, h.Twice, h.Means = u.f, u.unit, u.twice, w.Value*u.f
	}
}

// dilutions scores other dilutions than the one written.
func (j *judgement) dilutions(i int) {
	w := &j.own.rows[i]
	if !w.ID.Dilutable() || w.at == cond {
		return
	}
	for _, d := range []float64{1, 2, 3, 4, 5, 10} {
		if d == w.Dilution {
			continue
		}
		share := 0.3
		if d == 1 || d == 2 && w.Dilution == 1 || d*d == w.Dilution {
			share = 1
		}
		c := w.c * d / w.Dilution
		if w.Dilution == 1 && !w.Diluted && (w.Max == 0 || c/w.factor < 0.7*w.Max) {
			share *= offRange
		}
		h := j.add(Dilution, i, -1, share, j.single(i, c, math.Log(d/w.Dilution), 0))
		h.Factor, h.Means = d/w.Dilution, w.Value*d/w.Dilution
	}
}

func (j *judgement) typos(i int) {
	w := &j.own.rows[i]
	if w.Number == "" {
		return
	}
	list := j.e.originals(w.Number)
	typed := w.Value
	per := perNumber(w)
	if per == 0 {
		return
	}
	best, means, weighed := math.Inf(-1), typed, false
	gains := j.e.memory.numbers.take(len(list))[:0]
	for _, o := range list {
		v := o.value * per
		if w.at == acid && (v < 3 || v > 12) {
			continue
		}
		weighed = true
		density := j.single(i, v*w.factor, 0, 0)
		if math.IsInf(density, -1) {
			continue
		}
		gain := math.Log(o.share) + density - j.base
		if gain > best {
			best, means = gain, v
		}
		gains = append(gains, gain)
	}
	if weighed {
		h := j.add(Typo, i, -1, 1, logSum(gains)+j.base)
		h.Means = means
	}
}

// logSum is the logarithm of the sum of the exponentials, however large they are.
func logSum(of []float64) float64 {
	if len(of) == 0 {
		return math.Inf(-1)
	}
	top, sum := slices.Max(of), 0.0
	if math.IsInf(top, -1) {
		return top
	}
	for _, v := range of {
		sum += math.Exp(v - top)
	}
	return top + math.Log(sum)
}

// perNumber is the value in the standard unit that one of the typed number makes.
func perNumber(w *row) float64 {
	info := w.ID.Info()
	if w.ID == water.PHValue {
		return 1
	}
	one, err := info.Convert(1, w.Unit, info.Unit)
	if err != nil {
		return 0
	}
	return one * w.Dilution
}

// swap scores two readings whose numbers were exchanged.
func (j *judgement) swap(i, k int) {
	f := j.own
	a, b := &f.rows[i], &f.rows[k]
	if b.Bound != water.Exact || a.at == cond || b.at == cond || b.at == acid || a.c == b.c || !f.t.knows(a) || !f.t.knows(b) {
		return
	}
	perA, perB := perNumber(a), perNumber(b)
	if perA == 0 || perB == 0 {
		return
	}
	numberA, numberB := a.Value/perA, b.Value/perB
	best := math.Inf(-1)
	for _, with := range []bool{true, false} { // the dilution went with the number, or stayed
		da, db := perA, perB
		if with {
			da, db = perA/a.Dilution*b.Dilution, perB/b.Dilution*a.Dilution
		} else if a.Dilution == b.Dilution {
			break
		}
		ca, cb := numberB*da*a.factor, numberA*db*b.factor
		rows := j.e.memory.rows.copied(f.rows)
		rows[i].put(ca)
		rows[k].put(cb)
		jacobian := a.logSlope(ca) - a.logSlope(a.c) + b.logSlope(cb) - b.logSlope(b.c) + math.Log(da/perA*db/perB)
		var density float64
		if f.t.blank {
			g := f.t.fit(rows, &j.e.memory)
			if !g.ok {
				return
			}
			density = g.density()
		} else {
			x := j.e.memory.numbers.take(len(rows))
			for n := range rows {
				x[n] = rows[n].x
			}
			density = f.with(x) + f.physical(instead{i, ca}, instead{k, cb})
		}
		best = math.Max(best, density+jacobian)
	}
	h := j.add(Swap, i, b.reading, 1, best)
	h.Means = numberB * perA
}

// tied reports whether the readings can contradict each other: by the conductivity
// and the sum of the ions.
func (f *fit) tied() bool {
	n, conductivity := 0, false
	for i := range f.rows {
		if at := f.rows[i].at; at >= 0 && at < ions {
			n++
		} else if at == cond {
			conductivity = true
		}
	}
	return n >= 4 || n >= 2 && conductivity
}

// pair reports whether a reading is one of the two of hardness that hold each other.
func (f *fit) pair(w *row) bool {
	n := 0
	for i := range f.rows {
		if at := f.rows[i].at; at == cah || at == tot {
			n++
		}
	}
	return n == 2 && (w.at == cah || w.at == tot)
}

// knows reports whether the water has been read for this before.
func (t *tracked) knows(w *row) bool {
	if w.at >= 0 {
		return t.blank || t.seen[w.at]
	}
	return t.other[w.id] != nil
}

// regimes scores the site's other supply periods.
func (j *judgement) regimes() {
	if j.own.t.blank && j.regime != "" {
		return // a new period is a new water
	}
	for _, r := range j.e.sites[j.s.Site].regimes {
		if r.name == j.regime || r.active == nil || r.active.blank || r.name == "" {
			continue
		}
		if g := r.active.at0(j.s.Time, &j.e.memory).fit(j.own.rows, &j.e.memory); g.ok {
			j.add(Supply, -1, -1, 1, g.density()).Regime = r.name
		}
	}
}

// cut scores a sample that was diluted as a whole.
func (j *judgement) cut() {
	f := j.own
	if len(f.rows) < 3 {
		return
	}
	for _, d := range []float64{2, 3} {
		rows := j.e.memory.rows.copied(f.rows)
		jacobian := 0.0
		for i := range rows {
			w := &rows[i]
			if w.at == acid || w.Bound != water.Exact {
				continue
			}
			was := w.logSlope(w.c)
			w.put(w.c * d)
			jacobian += math.Log(d) + w.logSlope(w.c) - was
		}
		if g := f.t.fit(rows, &j.e.memory); g.ok {
			h := j.add(Cut, -1, -1, 1/(d-1), g.density()+jacobian)
			h.Factor = d
		}
	}
}

// whole scores what moves several readings at once.
func (j *judgement) whole() {
	f := j.own
	physical := f.physical()
	tests := 0
	for i := range f.rows {
		if j.photometric(i) {
			tests++
		}
	}
	if tests >= 3 {
		j.add(Meter, -1, -1, 1, physical+f.wider(func(i, k int) float64 {
			if j.photometric(i) && j.photometric(k) {
				return meterSD * meterSD
			}
			return 0
		}, 0))
	}
	if g := f.t.widen(changeCommon, changeOwn, &j.e.memory).fit(f.rows, &j.e.memory); g.ok {
		j.add(Change, -1, -1, 1, g.density())
	}
	other := f.t.widen(otherCommon, otherOwn, &j.e.memory)
	other.seen = [core]bool{} // linear about what was read
	if g := other.fit(f.rows, &j.e.memory); g.ok {
		j.add(Change, -1, -1, 1, g.density())
	}
	switch j.e.sites[j.s.Site].Stage {
	case "ro-permeate":
		j.add(Treatment, -1, -1, 1, physical+f.wider(func(i, k int) float64 {
			if f.rows[i].at == acid || f.rows[k].at == acid {
				return 0
			}
			return treatmentSD * treatmentSD
		}, treatmentMove))
	case "softener-outlet":
		j.softener(physical)
	}
}

// changed is the largest gain of a change of the water.
func (j *judgement) changed() (gain float64) {
	for i := range j.all {
		if k := j.all[i].Kind; k == Change || k == Treatment || k == Supply {
			gain = math.Max(gain, j.all[i].gain)
		}
	}
	return gain
}

// softener scores hardness that comes through: a twelfth to all of the feed's.
func (j *judgement) softener(physical float64) {
	f := j.own
	feed := j.e.feed(j.s.Site, j.s.Time)
	if feed == nil {
		return
	}
	g := feed.levels()
	hard := lower(water.TotalHardness, g[tot])
	gains := j.e.memory.numbers.take(16)[:0]
	for part := 0.08; part <= 1; part *= 1.25 {
		rows := j.e.memory.rows.copied(f.rows)
		x := j.e.memory.numbers.take(len(rows))
		for i := range rows {
			x[i] = rows[i].x
			if at := rows[i].at; at == tot || at == cah {
				// The softener's own level, raised by what comes through.
				own := lower(rows[i].id, f.m[i])
				shift, _ := lift(rows[i].id, own+part*hard)
				x[i] -= shift - f.m[i]
			}
		}
		gains = append(gains, f.with(x)+physical)
	}
	j.add(Treatment, -1, -1, 1, logSum(gains)-math.Log(float64(len(gains))))
}

func (j *judgement) photometric(i int) bool {
	w := &j.own.rows[i]
	return w.at >= 0 && w.at != acid && w.at != cond && !w.Probe && w.Meter != "" && w.Meter == j.meter()
}

// meter is the photometer that most readings share.
func (j *judgement) meter() string {
	count, best := map[string]int{}, ""
	for i := range j.own.rows {
		if w := &j.own.rows[i]; !w.Probe && w.Meter != "" {
			if count[w.Meter]++; count[w.Meter] > count[best] {
				best = w.Meter
			}
		}
	}
	return best
}

// weights are the shares that each kind was scored with, and the priors of those that were.
func (j *judgement) weights() (sum, prior [numKinds]float64, total float64) {
	for i := range j.all {
		sum[j.all[i].Kind] += j.all[i].share
	}
	for k := range prior {
		if sum[k] > 0 {
			prior[k] = priors[k] * j.boost[k]
			total += prior[k]
		}
	}
	return sum, prior, total
}

// decide turns the scores into posteriors by the priors: odds that something is
// wrong, and the causes, most likely first. Hypotheses of one kind about the same
// reading count as one.
func (j *judgement) decide() (odds float64, causes []Cause) {
	sum, prior, total := j.weights()
	if total == 0 {
		return 0, nil
	}
	top := math.Inf(-1) // weights are relative to the largest gain: what no water can be is far below any number
	for i := range j.all {
		top = math.Max(top, j.all[i].gain)
	}
	if math.IsInf(top, -1) {
		return 0, nil
	}
	causes = j.e.causes[:0]
	best := j.e.memory.numbers.take(len(j.all))[:0] // beside causes: of what it is made of, the largest
	for i := range j.all {
		h := &j.all[i]
		if math.IsInf(h.gain, -1) {
			continue
		}
		weight := prior[h.Kind] / total * h.share / sum[h.Kind] * math.Exp(h.gain-top)
		odds += weight
		at := -1 // a bottle is of another site each
		if h.Kind != Bottle {
			at = slices.IndexFunc(causes, func(c Cause) bool { return c.Kind == h.Kind && c.Reading == h.Reading && sameCause(c, h.Cause) })
		}
		if at < 0 {
			c := h.Cause
			c.Posterior = weight
			causes = append(causes, c)
			best = append(best, weight)
			continue
		}
		c := &causes[at]
		c.Posterior += weight
		if weight > best[at] {
			best[at] = weight
			posterior := c.Posterior
			*c = h.Cause
			c.Posterior = posterior
		}
	}
	j.e.causes = causes
	for i := range causes {
		causes[i].Posterior /= odds
	}
	odds *= math.Exp(math.Max(math.Min(top, 600), -600))
	slices.SortStableFunc(causes, func(a, b Cause) int {
		switch {
		case a.Posterior > b.Posterior:
			return -1
		case a.Posterior < b.Posterior:
			return 1
		}
		return 0
	})
	return odds, causes
}

// sameCause distinguishes two causes of one kind and reading: a swap by the other reading, a supply by its period, a dilution by its
// direction.
func sameCause(a, b Cause) bool {
	if a.Kind == Dilution && (a.Factor > 1) != (b.Factor > 1) {
		return false
	}
	return a.With == b.With && a.Regime == b.Regime
}
