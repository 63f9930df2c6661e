package cause

// scratch is memory that one session's fits are made in: it is used again for the next
// session, for an engine that asks for it anew each time spends half of its time in
// collecting what it dropped. Nothing that is kept beyond the session points into it.
type scratch struct {
	numbers pool[float64]
	rows    pool[row]
	leads   pool[[core]float64]
	fits    pool[fit]
	water   tracked // of another site or time, while its density is taken
}

// reset gives all of it back.
func (m *scratch) reset() {
	m.back([4]int{})
}

// mark is where the pools are; back gives back what was taken since then.
func (m *scratch) mark() [4]int {
	return [4]int{m.numbers.used, m.rows.used, m.leads.used, m.fits.used}
}

func (m *scratch) back(to [4]int) {
	m.numbers.used, m.rows.used, m.leads.used, m.fits.used = to[0], to[1], to[2], to[3]
}

// pool gives slices of one array.
type pool[T any] struct {
	all  []T
	used int
}

// take is n zero values.
func (p *pool[T]) take(n int) []T {
	if n > len(p.all)-p.used {
		p.all, p.used = make([]T, max(n, 2*len(p.all), 64)), 0
	}
	s := p.all[p.used : p.used+n : p.used+n]
	p.used += n
	clear(s)
	return s
}

// copied is a copy of a slice.
func (p *pool[T]) copied(list []T) []T {
	s := p.take(len(list))
	copy(s, list)
	return s
}

// square is an empty matrix.
func (m *scratch) square(n int) square { return square{n, m.numbers.take(n * n)} }

func (m *scratch) cloned(s square) square { return square{s.n, m.numbers.copied(s.v)} }
