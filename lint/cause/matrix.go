package cause

import "math"

// square is a symmetric matrix, row by row.
type square struct {
	n int
	v []float64
}

func (m square) at(i, k int) float64     { return m.v[i*m.n+k] }
func (m square) set(i, k int, v float64) { m.v[i*m.n+k] = v }
func (m square) add(i, k int, v float64) { m.v[i*m.n+k] += v }
func (m square) quad(r []float64) (d float64) {
	for i := range m.n {
		row := 0.0
		for k := range m.n {
			row += m.v[i*m.n+k] * r[k]
		}
		d += row * r[i]
	}
	return d
}

// times adds the product to out.
func (m square) times(r, out []float64) {
	for i := range m.n {
		for k := range m.n {
			out[i] += m.v[i*m.n+k] * r[k]
		}
	}
}

// cholesky is the lower root and the logarithm of the determinant; ok is false for a matrix
// that is not positive definite.
func (m square) cholesky(mem *scratch) (l square, logdet float64, ok bool) {
	n := m.n
	l = mem.square(n)
	det := 1.0
	for i := range n {
		row := l.v[i*n : i*n+n]
		for k := 0; k <= i; k++ {
			s := m.v[i*n+k]
			other := l.v[k*n : k*n+n]
			for j := range k {
				s -= row[j] * other[j]
			}
			if i != k {
				row[k] = s / other[k]
				continue
			}
			if !(s > 0) || math.IsInf(s, 1) {
				return square{}, 0, false
			}
			row[i] = math.Sqrt(s)
			if det *= s; det < 1e-100 || det > 1e100 {
				logdet, det = logdet+math.Log(det), 1
			}
		}
	}
	return l, logdet + math.Log(det), true
}

// forward solves l x = r in place, l being a lower root.
func (l square) forward(r []float64) {
	for i := range l.n {
		row := l.v[i*l.n : i*l.n+i]
		s := r[i]
		for j, v := range row {
			s -= v * r[j]
		}
		r[i] = s / l.v[i*l.n+i]
	}
}

// inverse is that of the matrix whose lower root l is.
func (l square) inverse(mem *scratch) square {
	n := l.n
	inv := mem.square(n)
	col := mem.numbers.take(n)
	for c := range n {
		clear(col)
		col[c] = 1
		l.forward(col)
		for i := n - 1; i >= 0; i-- {
			s := col[i]
			for j := i + 1; j < n; j++ {
				s -= l.at(j, i) * inv.at(j, c)
			}
			inv.set(i, c, s/l.at(i, i))
		}
	}
	return inv
}
