package water

import "math"

// result is a value with its standard uncertainty and what it met.
type result struct {
	value, u float64
	trace
}

// Replicates divides the standard uncertainty u of one reading into what repeats
// at random, with standard deviation repeat, and what the lot or meter makes wrong
// alike each time. The mean of n readings has the uncertainty total; shared is
// the part of it that other readings with the same lot share (Measured.SharedU).
// Random errors shrink with the square root of n (GUM 4.2.3), a bias does not. With
// no repeatability known (0) half the variance counts as random: common
// practice, no source.
func Replicates(u, repeat float64, n int) (total, shared float64) {
	if !(u > 0) {
		return 0, 0
	}
	if !(repeat > 0) {
		repeat = u / math.Sqrt2
	}
	repeat = math.Min(repeat, u)
	variance := u*u - repeat*repeat
	return math.Sqrt(variance + repeat*repeat/float64(max(n, 1))), math.Sqrt(variance)
}

// Contribution is one error source of a value and by how much the value moves
// when the source is one standard uncertainty higher. The squares of the changes
// add up to the variance of the value.
type Contribution struct {
	Part   int    // which water of a blend, from 0; 0 for a single water; -1 for what several share
	ID     ID     // the reading; NumNames for what several readings share, or for a share of a blend
	Shared string // the name of what is shared, "" for a reading's own error
	Change float64
}

// source is one independent error: of a reading alone, or of all readings that
// share a name.
type source struct {
	moves  Set // readings that it moves
	shared string
}

// sources lists the independent errors among the readings named, in the order
// of the table.
func (a *Analysis) sources(among Set) []source {
	list := make([]source, 0, NumAnalytes)
	for id := range among.All() {
		m := &a.m[id]
		own, shared := m.split()
		if own > 0 {
			list = append(list, source{moves: SetOf(id)})
		}
		if shared > 0 && !listed(list, m.Shared) {
			s := source{shared: m.Shared}
			for o := range among.All() {
				if o >= id && a.m[o].Shared == m.Shared {
					s.moves.Add(o)
				}
			}
			list = append(list, s)
		}
	}
	return list
}

func listed(list []source, name string) bool {
	for i := range list {
		if list[i].shared == name {
			return true
		}
	}
	return false
}

// move moves a source of a by a number of its standard uncertainties, from the
// values in at.
func (a *Analysis) move(s *source, by float64, at *Analysis) {
	for id := range s.moves.All() {
		own, shared := a.m[id].split()
		if s.shared == "" {
			shared = own
		}
		a.m[id].Value = at.m[id].Value + by*shared
	}
}

// filled is the analysis with numbers where a derivation took a usual value or
// the middle of what is below a range, each with the uncertainty of that.
func (a *Analysis) filled(t *trace) Analysis {
	b := *a
	for id := range t.bounded.All() {
		// Rectangular between 0 and the limit (GUM 4.3.7).
		b.Set(id, Measured{Value: a.m[id].Value / 2, U: math.Abs(a.m[id].Value) / math.Sqrt(12)})
	}
	if t.assumed.Has(PHValue) {
		b.Set(PHValue, Measured{Value: assumedPH, U: assumedPHU, Assumed: true})
	}
	if t.assumed.Has(SampleTemperature) {
		b.Set(SampleTemperature, Measured{Value: assumedTemperature, U: assumedTemperatureU, Assumed: true})
	}
	return b
}

// results evaluates n quantities and their standard uncertainties by the law of
// propagation (GUM 5.1.2, 5.2.2): each independent source is moved by its
// standard uncertainty both ways and half the differences are added in
// quadrature (GUM 5.1.3, note 2; Kragten 1994, Analyst 119, 2161), so that a
// reading that enters twice counts as the one error it is. What needs a speciation
// is moved both ways by pH only: it is nearly linear in the rest.
// Contributions are handed to each, if it is not nil.
func (a *Analysis) results(n int, eval func(r *resolver, i int) float64, each func(i int, c Contribution)) []result {
	out := make([]result, n)
	base := resolver{a: a}
	var all trace
	for i := range out {
		base.begin()
		v := eval(&base, i)
		if math.IsInf(v, 0) {
			v = math.NaN()
		}
		out[i] = result{value: v, trace: base.trace}
		if !math.IsNaN(v) {
			all.join(&base.trace)
		}
	}
	filled := a.filled(&all)
	work := filled
	higher, lower := make([]float64, n), make([]float64, n)
	r := resolver{a: &work, conductance: base.conductance}
	moves := func(i int, s *source) bool {
		t := &out[i]
		return !math.IsNaN(t.value) && (t.used.Meets(&s.moves) || t.bounded.Meets(&s.moves) || t.assumed.Meets(&s.moves))
	}
	at := func(s *source, by float64, into []float64, solved bool) {
		work.move(s, by, &filled)
		r.speciated = false
		for i := range out {
			into[i] = math.NaN()
			if moves(i, s) && (solved || !out[i].solved) {
				r.begin()
				into[i] = eval(&r, i)
			}
		}
		work.move(s, 0, &filled)
	}
	for _, s := range filled.sources(all.used.Union(all.bounded).Union(all.assumed)) {
		at(&s, 1, higher, true)
		bothWays := s.moves.Has(PHValue)
		for i := range out {
			bothWays = bothWays || moves(i, &s) && math.IsNaN(higher[i])
		}
		at(&s, -1, lower, bothWays)
		for i := range out {
			d := halfDifference(lower[i], out[i].value, higher[i])
			if t := &out[i]; math.IsNaN(d) {
				if moves(i, &s) {
					t.value, t.why = math.NaN(), "within the uncertainty of "+s.moves.String()+" it has no answer either way"
				}
				continue
			}
			out[i].u = math.Hypot(out[i].u, d)
			if each != nil {
				c := Contribution{ID: NumNames, Shared: s.shared, Change: d}
				if s.shared == "" {
					c.ID = s.moves.first()
				}
				each(i, c)
			}
		}
	}
	return out
}

// halfDifference is half of what lies between the two sides, or the change to
// the one side that has an answer.
func halfDifference(lower, at, higher float64) float64 {
	switch {
	case math.IsNaN(lower) && math.IsNaN(higher):
		return math.NaN()
	case math.IsNaN(lower):
		return higher - at
	case math.IsNaN(higher):
		return at - lower
	}
	return (higher - lower) / 2
}

// Budget lists what makes up the uncertainty of a derived value, in the order of
// the analyte table. The error is *Absent where there is no such value.
func (a *Analysis) Budget(id ID) ([]Contribution, error) {
	var list []Contribution
	res := a.results(1, func(r *resolver, _ int) float64 { return r.derived(id) }, func(_ int, c Contribution) { list = append(list, c) })[0]
	if math.IsNaN(res.value) {
		return nil, &Absent{id, res.reason(a, id)}
	}
	return list, nil
}

// Spread is the standard uncertainty of any function f of this analysis that
// depends on the readings named.
func (a *Analysis) Spread(from []ID, f func(*Analysis) float64) float64 {
	var among Set
	for _, id := range from {
		if a.Has(id) {
			among.Add(id)
		}
	}
	at, sum := f(a), 0.0
	work := *a
	for _, s := range a.sources(among) {
		work.move(&s, -1, a)
		low := f(&work)
		work.move(&s, 1, a)
		high := f(&work)
		work.move(&s, 0, a)
		if d := halfDifference(low, at, high); !math.IsNaN(d) {
			sum += d * d
		}
	}
	return math.Sqrt(sum)
}
