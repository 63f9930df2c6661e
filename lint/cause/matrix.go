package cause

import "math"

// square is a symmetric matrix, row by row.
type square struct {
	n int
	v []float64
}

func newSquare(n int) square             { return square{n, make([]float64, n*n)} }
func (m square) at(i, k int) float64     { return m.v[i*m.n+k] }
func (m square) set(i, k int, v float64) { m.v[i*m.n+k] = v }
func (m square) add(i, k int, v float64) { m.v[i*m.n+k] += v }
func (m square) clone() square           { return square{m.n, append([]float64(nil), m.v...)} }
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

func (m square) times(r []float64) []float64 {
	out := make([]float64, m.n)
	for i := range m.n {
		for k := range m.n {
			out[i] += m.v[i*m.n+k] * r[k]
		}
	}
	return out
}

// inverse is the inverse and the logarithm of the determinant, by Cholesky; ok is
// false for a matrix that is not positive definite.
func (m square) inverse() (inv square, logdet float64, ok bool) {
	n := m.n
	l := newSquare(n)
	for i := range n {
		for k := 0; k <= i; k++ {
			s := m.at(i, k)
			for j := range k {
				s -= l.at(i, j) * l.at(k, j)
			}
			if i != k {
				l.set(i, k, s/l.at(k, k))
				continue
			}
			if !(s > 0) || math.IsInf(s, 1) {
				return square{}, 0, false
			}
			l.set(i, i, math.Sqrt(s))
			logdet += math.Log(s)
		}
	}
	inv = newSquare(n)
	col := make([]float64, n)
	for c := range n {
		for i := range n {
			s := 0.0
			if i == c {
				s = 1
			}
			for j := range i {
				s -= l.at(i, j) * col[j]
			}
			col[i] = s / l.at(i, i)
		}
		for i := n - 1; i >= 0; i-- {
			s := col[i]
			for j := i + 1; j < n; j++ {
				s -= l.at(j, i) * inv.at(j, c)
			}
			inv.set(i, c, s/l.at(i, i))
		}
	}
	return inv, logdet, true
}
