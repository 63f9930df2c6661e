package cause

import (
	"math"
	"sync"

	"wj/water"
)

// row is one reading as the filter takes it.
type row struct {
	reading int
	id      water.ID // whose offset counts: of the core coordinate, or of the analyte
	at      int      // core coordinate, -1 for none
	factor  float64  // from the reading's standard unit to the coordinate's
	c       float64  // value in the coordinate's unit
	x       float64
	extra   float64 // further variance of the coordinate
	*Reading
}

func (w *row) put(c float64) { w.c = c; w.x, _ = lift(w.id, c) }

// logSlope is the logarithm of dx/dc at a value.
func (w *row) logSlope(c float64) float64 {
	_, slope := lift(w.id, c)
	return math.Log(slope)
}

// noise is the standard uncertainty of the coordinate at a value.
func (w *row) noise(c float64) float64 {
	_, slope := lift(w.id, c)
	return math.Sqrt(w.variance(c, slope))
}

// variance is the noise squared, slope being that of the coordinate.
func (w *row) variance(c, slope float64) float64 {
	slope *= w.factor
	if w.U > 0 {
		return sq(w.U * slope)
	}
	half := (w.Accuracy.Absolute*w.Dilution + w.Accuracy.Relative*c/w.factor) * slope
	step := w.Accuracy.Resolution * w.Dilution * slope
	return half*half/(1.96*1.96) + step*step/12
}

// rowsOf are the readings that show the water; t decides what a bound says.
func rowsOf(list []Reading, t *tracked, mem *scratch) []row {
	rows := mem.rows.take(len(list))[:0]
	var taken [core]bool
	g := t.levels()
	for i := range list {
		r := &list[i]
		if swinging.Has(r.ID) || math.IsNaN(r.Value) || r.Value < 0 || r.ID == water.PHValue && r.Value > 14 {
			continue
		}
		w := row{reading: i, id: r.ID, at: -1, factor: 1, Reading: r}
		c := r.Value
		known := false
		var middle float64
		if at, factor, ok := coreOf(r.ID); ok {
			if taken[at] {
				continue
			}
			w.at, w.factor, w.id = at, factor, coreID[at]
			c *= factor
			middle, known = lower(w.id, g[at]), !t.blank && t.seen[at] && at != cond
		} else if r.ID >= water.NumAnalytes {
			continue
		} else if l := t.other[r.ID]; l != nil {
			middle, known = lower(r.ID, l.x), true
		}
		switch {
		case r.Bound == water.Below && (!known || middle < c), r.Bound == water.Above && (!known || middle > c):
			continue
		case r.Bound == water.Below:
			c *= 0.7
			w.extra = 0.2 * 0.2
		case r.Bound == water.Above:
			c *= 1.3
			w.extra = 0.2 * 0.2
		}
		if w.at == acid && t.share {
			w.extra = 0.35 * 0.35 // hardly any buffer: the pH wanders
		}
		if t.cycles && (w.at == cah || w.at == tot) {
			w.extra += cycleSD * cycleSD
		}
		if w.at >= 0 {
			taken[w.at] = true
		}
		w.put(c)
		rows = append(rows, w)
	}
	return rows
}

// levels are the coordinates as the water has them at its time, the last one being
// the conductivity's own part.
func (t *tracked) levels() (g [core]float64) {
	s := season(t.at)
	for i := range core {
		g[i] = s[0]*t.x[3*i] + s[1]*t.x[3*i+1] + s[2]*t.x[3*i+2]
	}
	return g
}

// fit is a water held against readings.
type fit struct {
	mem    *scratch
	t      *tracked
	rows   []row
	m      []float64 // predicted coordinates
	r      []float64 // read less predicted
	s      square    // covariance of r, without the site's own factor
	root   square    // the lower root of phi times s
	white  []float64 // the inverse of root, times r
	inv    square    // the inverse of phi times s, and of it times r: see invert
	w      []float64
	phi    float64
	d2     float64
	logdet float64
	nu     float64
	norm   float64         // of the t density, what depends on nothing read
	lead   [][core]float64 // rows of the measurement over the core coordinates
	ok     bool
}

// between is the covariance of two coordinates, as the season has them.
func (t *tracked) between(i, j int, sv [3]float64) float64 {
	at := 3*i*states + 3*j
	a, b, c := t.p[at:at+3:at+3], t.p[at+states:at+states+3:at+states+3], t.p[at+2*states:at+2*states+3:at+2*states+3]
	return sv[0]*(sv[0]*a[0]+sv[1]*a[1]+sv[2]*a[2]) + sv[1]*(sv[0]*b[0]+sv[1]*b[1]+sv[2]*b[2]) + sv[2]*(sv[0]*c[0]+sv[1]*c[1]+sv[2]*c[2])
}

// fit predicts the readings at the water's own time.
func (t *tracked) fit(rows []row, mem *scratch) *fit {
	f := &mem.fits.take(1)[0]
	*f = fit{mem: mem, t: t, rows: rows, phi: t.phi(), nu: t.freedom()}
	k := len(rows)
	f.norm = tNorm(f.nu, k)
	if k == 0 {
		return f
	}
	g := t.levels()
	sv := season(t.at)
	var cov [core][core]float64
	for i := range core {
		for j := range i + 1 {
			v := t.between(i, j, sv)
			cov[i][j], cov[j][i] = v, v
		}
	}
	for i := range ions {
		for j := range ions {
			cov[i][j] += weatherCommon * weatherCommon
		}
		cov[i][i] += weatherOwn * weatherOwn
	}
	cov[acid][acid] += weatherPH * weatherPH
	own := weatherOffset
	if t.share {
		own = 0.06
	}
	cov[cond][cond] += own * own

	// The conductivity is linear about what is expected; of what is not known yet,
	// about what was read.
	lin := g
	for i := range rows {
		if at := rows[i].at; at >= 0 && at != cond && !t.seen[at] {
			lin[at] = rows[i].x
		}
	}
	f.m, f.r, f.lead = mem.numbers.take(k), mem.numbers.take(k), mem.leads.take(k)
	f.s = mem.square(k)
	for i := range rows {
		w := &rows[i]
		switch {
		case w.at < 0:
			l := t.other[w.id]
			if l == nil {
				f.m[i] = w.x
				f.s.add(i, i, 1.5*1.5)
			} else {
				f.m[i] = l.x
				f.s.add(i, i, l.v+t.later+0.03*0.03)
			}
		case w.at == cond && t.share:
			f.lead[i][cond] = 1
			f.m[i] = g[cond] + t.feeding
		case w.at == cond:
			at, slope := conductivity(&lin)
			f.m[i] = at + g[cond]
			for j := range ions {
				f.lead[i][j] = slope[j]
				f.m[i] += slope[j] * (g[j] - lin[j])
			}
			f.lead[i][cond] = 1
		default:
			f.lead[i][w.at] = 1
			f.m[i] = g[w.at]
		}
		f.r[i] = w.x - f.m[i]
		at, slope := lowered(w.id, f.m[i])
		if w.at >= 0 && !t.seen[w.at] {
			at = w.c
			_, slope = lift(w.id, at)
		}
		f.s.add(i, i, w.variance(at, slope)+w.extra)
	}
	for i := range rows {
		for j := range i + 1 {
			v := 0.0
			for a := range core {
				if f.lead[i][a] == 0 {
					continue
				}
				for b := range core {
					v += f.lead[i][a] * f.lead[j][b] * cov[a][b]
				}
			}
			f.s.add(i, j, v)
			if i != j {
				f.s.add(j, i, v)
			}
		}
	}
	if n := len(t.swings); n >= fewSwings {
		for i := range rows {
			for j := range rows {
				for k := range t.swings {
					f.s.add(i, j, t.swings[k].of(rows[i].at)*t.swings[k].of(rows[j].at)/float64(n))
				}
			}
		}
	}
	f.finish()
	return f
}

// finish takes the root.
func (f *fit) finish() {
	scaled := f.mem.cloned(f.s)
	for i := range scaled.v {
		scaled.v[i] *= f.phi
	}
	f.root, f.logdet, f.ok = scaled.cholesky(f.mem)
	if f.ok {
		f.white = f.mem.numbers.copied(f.r)
		f.root.forward(f.white)
		for _, v := range f.white {
			f.d2 += v * v
		}
	}
}

// invert is asked for what holds one reading against the others.
func (f *fit) invert() {
	if f.inv.v == nil {
		f.inv = f.root.inverse(f.mem)
		f.w = f.mem.numbers.take(len(f.r))
		f.inv.times(f.r, f.w)
	}
}

// density is the logarithm of the t density of the readings, less what does not
// depend on them, and of what no water may be.
func (f *fit) density() float64 { return f.student(f.d2, f.logdet) + f.physical() }

func (f *fit) student(d2, logdet float64) float64 {
	return f.norm - logdet/2 - (f.nu+float64(len(f.r)))/2*math.Log1p(d2/f.nu)
}

// tNorm is the logarithm of the factor of a t density of k values with nu degrees of
// freedom, which are whole numbers from 10 to 30 (see freedom).
func tNorm(nu float64, k int) float64 {
	if at := int(nu); at < len(norms) && k < len(norms[at]) {
		return norms[at][k]
	}
	return logT(nu, float64(k))
}

var (
	norms    [31][16]float64
	makeNorm sync.Once // for an engine
)

func tNorms() {
	for nu := 10; nu < len(norms); nu++ {
		for k := range norms[nu] {
			norms[nu][k] = logT(float64(nu), float64(k))
		}
	}
}

func logT(nu, k float64) float64 {
	a, _ := math.Lgamma((nu + k) / 2)
	b, _ := math.Lgamma(nu / 2)
	return a - b - k/2*math.Log(nu*math.Pi)
}

// single is the density with one reading at another coordinate and with a further
// variance: all others count as they are.
func (f *fit) single(i int, x, extra float64) float64 {
	f.invert()
	lii := f.inv.at(i, i)
	rest := f.d2 - f.w[i]*f.w[i]/lii
	middle := f.rows[i].x - f.w[i]/lii
	v, logdet := 1/lii+extra, f.logdet
	if extra > 0 {
		logdet += math.Log(v * lii)
	}
	return f.student(math.Max(0, rest)+(x-middle)*(x-middle)/v, logdet)
}

// window is what one reading may be, all others as they are, without the density
// falling by more than drop.
func (f *fit) window(i int, drop float64) (low, high float64) {
	f.invert()
	lii := f.inv.at(i, i)
	rest := math.Max(0, f.d2-f.w[i]*f.w[i]/lii)
	most := (f.nu+rest)*math.Exp(2*(drop)/(f.nu+float64(len(f.r)))) - f.nu - rest
	half := math.Sqrt(most / lii)
	middle := f.rows[i].x - f.w[i]/lii
	id := f.rows[i].id
	return lower(id, middle-half), lower(id, middle+half)
}

// given is what one reading is expected to be given all others.
func (f *fit) given(i int) (middle, variance float64) {
	f.invert()
	lii := f.inv.at(i, i)
	return f.rows[i].x - f.w[i]/lii, 1 / lii
}

// with is the density with other coordinates for several readings.
func (f *fit) with(x []float64) float64 {
	r := f.mem.numbers.take(len(x))
	for i := range x {
		r[i] = x[i] - f.m[i]
	}
	f.invert()
	return f.student(f.inv.quad(r), f.logdet)
}

// wider is the density with a covariance added.
func (f *fit) wider(add func(i, k int) float64, move float64) float64 {
	s := f.mem.square(len(f.r))
	r := f.mem.numbers.take(len(f.r))
	for i := range f.r {
		r[i] = f.r[i] - move
		for k := range f.r {
			s.set(i, k, f.phi*f.s.at(i, k)+add(i, k))
		}
	}
	root, logdet, ok := s.cholesky(f.mem)
	if !ok {
		return math.Inf(-1)
	}
	root.forward(r)
	d2 := 0.0
	for _, v := range r {
		d2 += v * v
	}
	return f.student(d2, logdet)
}

// physical is the logarithm of how well the readings obey what no water can break,
// of a water that is young: sodium by difference is not below zero, and calcium is
// a part of the hardness. others are values in place of those read, by row.
func (f *fit) physical(others ...instead) float64 {
	if f.t.n >= 10 {
		return 0
	}
	var c, u [ions]float64
	var have [ions]bool
	for i := range f.rows {
		w := &f.rows[i]
		if w.at < 0 || w.at >= ions || w.extra > 0 {
			continue
		}
		v := w.c
		for _, o := range others {
			if o.row == i {
				v = o.c
			}
		}
		_, slope := lift(w.id, v)
		c[w.at], u[w.at], have[w.at] = v, w.noise(v)/slope, true
	}
	p := 0.0
	if have[alk] && have[tot] && have[chl] && have[sul] {
		spread := math.Sqrt(sq(u[alk]/50.043) + sq(u[tot]/50.043) + sq(u[chl]/35.45) + sq(u[sul]/48.028) + 1e-6)
		p += logNormal((sodium(&c) + 0.15) / spread)
	}
	if have[cah] && have[tot] {
		p += logNormal((c[tot] - c[cah] + 1) / math.Hypot(u[cah], u[tot]))
	}
	return p
}

// instead is a value in place of a row's.
type instead struct {
	row int
	c   float64
}

func sq(v float64) float64 { return v * v }

// logNormal is the logarithm of the normal distribution function.
func logNormal(z float64) float64 {
	if z > -8 {
		return math.Log(0.5 * math.Erfc(-z/math.Sqrt2))
	}
	return -z*z/2 - math.Log(-z*math.Sqrt(2*math.Pi))
}

// learn lets the water take up the readings, all but those left out.
func (t *tracked) learn(rows []row, mem *scratch, but func(i int) bool) {
	kept := rows
	if but != nil {
		kept = mem.rows.take(len(rows))[:0]
		for i := range rows {
			if !but(i) {
				kept = append(kept, rows[i])
			}
		}
	}
	t.take(t.fit(kept, mem))
}

// take lets the water take up what a fit of it was made of.
func (t *tracked) take(f *fit) {
	if !f.ok {
		return
	}
	kept := f.rows
	k := len(kept)
	if !t.blank {
		t.scatter += math.Min(f.d2*f.phi, 2.5*float64(k))
		t.readings += float64(k)
	}
	sv := season(t.at)
	// a is the covariance of the states with the readings, by the inverse of the root without
	// the site's own factor: what is learnt is a times white, what is then known better a a'.
	a := f.mem.numbers.take(states * k)
	root := math.Sqrt(f.phi)
	for i := range states {
		var pa [core]float64
		for c := range core {
			pa[c] = t.p[i*states+3*c]*sv[0] + t.p[i*states+3*c+1]*sv[1] + t.p[i*states+3*c+2]*sv[2]
		}
		row := a[i*k : i*k+k]
		for j := range k {
			v := 0.0
			if at := kept[j].at; at >= 0 && at != cond {
				v = pa[at]
			} else {
				for c := range core {
					v += pa[c] * f.lead[j][c]
				}
			}
			row[j] = v * root
		}
		f.root.forward(row)
		for j, v := range row {
			t.x[i] += v * f.white[j] * root
		}
	}
	for i := range states {
		row := a[i*k : i*k+k]
		for l := range i + 1 {
			v := t.p[i*states+l]
			for j, b := range a[l*k : l*k+k] {
				v -= row[j] * b
			}
			t.p[i*states+l], t.p[l*states+i] = v, v
		}
		t.p[i*states+i] = math.Max(t.p[i*states+i], 1e-12)
	}
	for j := range kept {
		w := &kept[j]
		if w.at >= 0 {
			t.seen[w.at] = true
			continue
		}
		u := w.noise(w.c)
		noise := u*u + 0.03*0.03 + w.extra
		if l := t.other[w.id]; l == nil {
			t.other[w.id] = &level{w.x, noise}
		} else {
			k := l.v / (l.v + noise)
			l.x += k * (w.x - l.x)
			l.v *= 1 - k
		}
	}
	for i := range ions {
		t.blank = t.blank && !t.seen[i]
	}
	t.n++
}
