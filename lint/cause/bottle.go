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
	var sum [numKinds]float64
	for i := range j.all {
		sum[j.all[i].Kind] += j.all[i].share
	}
	best := 0.0 // that nothing is wrong
	for i := range j.all {
		h := &j.all[i]
		best = max(best, h.gain+math.Log(priors[h.Kind]*j.boost[h.Kind]*h.share/sum[h.Kind]))
	}
	return j.base + max(math.Log(0.1*j.e.odds/priors[Bottle]), best-unlikely-math.Log(priors[Bottle]/float64(sites)))
}

// far reports whether the density of the readings is surely below least at a time: a bound
// that needs no inverse. d2 is at least that of the one reading that is furthest from what is
// expected; the determinant is at least that of the weather, whose logarithms are summed up in
// weather, and the tests alone.
func (t *tracked) far(rows []row, at time.Time, sv [3]float64, weather, least float64) bool {
	days := 0.0
	if !t.at.IsZero() {
		days = math.Min(math.Abs(at.Sub(t.at).Hours()/24), 3650)
	}
	phi, nu, k := t.phi(), t.freedom(), float64(len(rows))
	top := tNorm(nu, len(rows)) - k*math.Log(phi)/2 - weather
	limit := nu * math.Expm1(2*(top-least)/(nu+k)) // of d2, where the tests have no noise
	worst, noise := 0.0, 1.0
	for i := range rows {
		w := &rows[i]
		if w.at < 0 || w.at == cond || !t.seen[w.at] {
			continue
		}
		m := sv[0]*t.x[3*w.at] + sv[1]*t.x[3*w.at+1] + sv[2]*t.x[3*w.at+2]
		walk, day := walkCommon*walkCommon+walkOwn*walkOwn, weatherCommon*weatherCommon+weatherOwn*weatherOwn
		if w.at == acid {
			walk, day = walkPH*walkPH, weatherPH*weatherPH
		}
		test := w.variance(lowered(w.id, m)) + w.extra
		worst = math.Max(worst, sq(w.x-m)/(phi*(t.between(w.at, w.at, sv)+walk*days+day+test)))
		if worst > limit {
			return true
		}
		noise *= 1 + test/sq(w.weather())
	}
	return top-math.Log(noise)/2-(nu+k)/2*math.Log1p(worst/nu) < least
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
// count.
func (j *judgement) bottles() {
	f := j.own
	if f.t.blank || len(f.rows) < 3 {
		return
	}
	mem, sv, least := &j.e.memory, season(j.s.Time), j.least(len(j.e.sites))
	weather := 0.0
	for i := range f.rows {
		weather += math.Log(f.rows[i].weather())
	}
	for site := range j.e.sites {
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
		if shared < 3 {
			continue
		}
		density := math.Inf(-1)
		if !t.far(f.rows, j.s.Time, sv, weather, least) {
			mark := mem.mark()
			if g := t.at0(j.s.Time, mem).fit(f.rows, mem); g.ok {
				density = g.density()
			}
			mem.back(mark)
		}
		j.add(Bottle, -1, site, 1, density)
	}
}
