package cause

import (
	"math"
	"time"
)

// unlikely is how far, as a logarithm, the weight of another site's water is below that of
// the best cause when it counts for nothing, be there hundreds of sites.
const unlikely = 14.0

// least is the density that another site's water needs, of so many, to count at all beside
// what was scored already. Waters that explain the readings hardly better than the site's own
// are left out: all of them together stay below a tenth of the odds that are reported.
func (j *judgement) least(sites int) float64 {
	sum, _, _ := j.weights()
	best := 0.0 // that nothing is wrong
	for i := range j.all {
		h := &j.all[i]
		best = max(best, h.gain+math.Log(priors[h.Kind]*j.boost[h.Kind]*h.share/sum[h.Kind]))
	}
	return j.base + max(math.Log(0.1*j.e.odds/priors[Bottle]), best-unlikely-math.Log(priors[Bottle]/float64(sites)))
}

// bound is what the density of a session's readings by another water is at most: a bound that
// needs no inverse, and -Inf where it is below least.
type bound struct {
	rows    []row
	at      time.Time
	season  [3]float64
	weather float64 // the sum of the logarithms of what a day adds to each reading
	least   float64
	far     int                                 // the reading by which the last water that was too far was so
	limits  [31]struct{ enough, young float64 } // by freedom: of exp(2 (top - least) / (nu + k)), the site's own scatter left out
}

func (j *judgement) bound(least float64) *bound {
	b := &bound{rows: j.own.rows, at: j.s.Time, season: season(j.s.Time), least: least}
	for i := range b.rows {
		b.weather += math.Log(b.rows[i].weather())
	}
	k := float64(len(b.rows))
	for n := 10; n < len(b.limits); n++ {
		nu := float64(n)
		b.limits[n].enough = math.Exp(2 * (tNorm(nu, len(b.rows)) - b.weather - least) / (nu + k))
		b.limits[n].young = math.Exp(math.Log(4) * k / (nu + k))
	}
	return b
}

// of is the bound of one water. d2 is at least that of the one reading that is furthest from
// what is expected; the determinant is at least that of the weather and the tests alone.
func (b *bound) of(t *tracked) float64 {
	days := 0.0
	if !t.at.IsZero() {
		days = math.Min(math.Abs(b.at.Sub(t.at).Hours()/24), 3650)
	}
	phi, nu, k := t.phi(), t.freedom(), float64(len(b.rows))
	// The limit of d2 where the tests have no noise: phi^(-k/(nu+k)) lies below its chord from 1/4 to 1.
	l := &b.limits[int(nu)]
	limit := l.enough
	if phi < 1 {
		limit *= 1 + (1-phi)/0.75*(l.young-1)
	}
	limit = phi * nu * (limit - 1)
	// Waters that are far off are mostly so by the same reading: it is asked first.
	if counts(&b.rows[b.far], t) {
		if d2, _ := b.alone(t, b.far, days); d2 > limit {
			return math.Inf(-1)
		}
	}
	worst, noise := 0.0, 1.0
	for i := range b.rows {
		w := &b.rows[i]
		if !counts(w, t) {
			continue
		}
		d2, test := b.alone(t, i, days)
		if worst = max(worst, d2); worst > limit {
			b.far = i
			return math.Inf(-1)
		}
		noise *= 1 + test/sq(w.weather())
	}
	top := tNorm(nu, len(b.rows)) - k*math.Log(phi)/2 - b.weather - math.Log(noise)/2
	if most := top - (nu+k)/2*math.Log1p(worst/phi/nu); most >= b.least {
		return most
	}
	return math.Inf(-1)
}

// counts reports whether a reading is of what a water has been read for.
func counts(w *row, t *tracked) bool { return w.at >= 0 && w.at != cond && t.seen[w.at] }

// alone is the d2 of one reading, and the variance of its test.
func (b *bound) alone(t *tracked, i int, days float64) (d2, test float64) {
	w := &b.rows[i]
	m := b.season[0]*t.x[3*w.at] + b.season[1]*t.x[3*w.at+1] + b.season[2]*t.x[3*w.at+2]
	walk, day := walkCommon*walkCommon+walkOwn*walkOwn, weatherCommon*weatherCommon+weatherOwn*weatherOwn
	if w.at == acid {
		walk, day = walkPH*walkPH, weatherPH*weatherPH
	}
	test = w.variance(lowered(w.id, m)) + w.extra
	return sq(w.x-m) / (t.between(w.at, w.at, b.season) + walk*days + day + test), test
}

// weather is the least standard deviation that a day's water adds to a reading.
func (w *row) weather() float64 {
	switch {
	case w.at < 0:
		return 0.03
	case w.at == acid:
		return weatherPH
	case w.at == cond:
		return weatherOffset
	}
	return weatherOwn
}

// bottles scores the waters of all other sites; what is scored before says which of them can
// count. It is false where nothing is reported, regardless of what they are.
func (j *judgement) bottles() bool {
	f := j.own
	if f.t.blank || len(f.rows) < 3 {
		return true
	}
	mem, b := &j.e.memory, j.bound(j.least(len(j.e.sites)))
	bounds, others, upper := mem.numbers.take(len(j.e.sites)), 0.0, 0.0
	for site := range j.e.sites {
		bounds[site] = math.NaN()
		t := j.e.sites[site].now(j.s.Time)
		if site == j.s.Site || t == nil {
			continue
		}
		shared := 0
		for i := range f.rows {
			if at := f.rows[i].at; at >= 0 && t.seen[at] {
				shared++
			}
		}
		if shared >= 3 {
			others++
			bounds[site] = b.of(t)
			if !math.IsInf(bounds[site], -1) {
				upper += math.Exp(math.Min(bounds[site]-j.base, 600))
			}
		}
	}
	if others == 0 {
		return true
	}
	sum, prior, total := j.weights()
	prior[Bottle] = priors[Bottle] * j.boost[Bottle]
	total += prior[Bottle]
	odds := prior[Bottle] / total * upper / others
	for i := range j.all {
		if h := &j.all[i]; !math.IsInf(h.gain, -1) {
			odds += prior[h.Kind] / total * h.share / sum[h.Kind] * math.Exp(math.Min(h.gain, 600))
		}
	}
	if odds < j.e.odds {
		return false
	}
	for site, most := range bounds {
		if math.IsNaN(most) {
			continue
		}
		density := most
		if !math.IsInf(most, -1) {
			mark := mem.mark()
			density = math.Inf(-1)
			if g := j.e.sites[site].now(j.s.Time).at0(j.s.Time, mem).fit(f.rows, mem); g.ok {
				density = g.density()
			}
			mem.back(mark)
		}
		j.add(Bottle, -1, site, 1, density)
	}
	return true
}
