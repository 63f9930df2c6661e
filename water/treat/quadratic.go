package treat

import (
	"errors"
	"math"
)

// quadratic is a strictly convex problem: least ½ x'Hx + g'x with lo <= x <= hi, and the first `shares` of x adding up to 1.
//
// It is solved by the primal active-set method (Nocedal & Wright, Numerical Optimization, 2nd ed. 2006, algorithm 16.3):
// variables at a bound are held there; the rest move to the least point of their plane, or as far as the next bound; at
// such a point the multiplier with the wrong sign names a bound to let go of. It ends at a point that satisfies the
// Karush–Kuhn–Tucker conditions, which for a convex problem is the least there is. Bounded variables are never a rounding
// error outside their bounds.
type quadratic struct {
	n, shares int
	h         []float64 // n × n, row by row
	g         []float64
	lo, hi    []float64

	x         []float64
	gradient  []float64
	held      []int8 // -1 at lo, +1 at hi, 0 free
	lambda    float64
	steps     int
	tolerance float64

	free          []int
	factor        []float64
	first, second []float64
	direction     []float64
}

var errNoOptimum = errors.New("find doses: the active set did not settle; loosen the bounds, or report the plan")

func newQuadratic(n, shares int) *quadratic {
	return &quadratic{
		n: n, shares: shares, h: make([]float64, n*n), g: make([]float64, n), lo: make([]float64, n), hi: make([]float64, n),
		x: make([]float64, n), gradient: make([]float64, n), held: make([]int8, n), free: make([]int, 0, n),
		factor: make([]float64, n*n), first: make([]float64, n), second: make([]float64, n), direction: make([]float64, n),
	}
}

// start puts x at a feasible point: shares at their lower bounds, then filled up in order.
func (q *quadratic) start() {
	rest := 1.0
	for i := range q.n {
		q.x[i] = q.lo[i]
		if i < q.shares {
			rest -= q.lo[i]
		} else if math.IsInf(q.lo[i], 0) {
			q.x[i] = math.Min(0, q.hi[i])
		}
	}
	for i := range q.shares {
		take := math.Max(0, math.Min(rest, q.hi[i]-q.lo[i]))
		q.x[i] += take
		rest -= take
	}
	for i := range q.n {
		q.held[i] = 0
		switch {
		case q.x[i] <= q.lo[i]:
			q.held[i] = -1
		case q.x[i] >= q.hi[i]:
			q.held[i] = 1
		}
	}
}

// multiplierTolerance, in the units of the objective per unit of a variable; the part of the largest curvature stands for
// rounding in the slopes.
const (
	multiplierTolerance = 1e-10
	roundingTolerance   = 1e-13
)

// solve runs to the end from the point that start or an earlier solve left.
func (q *quadratic) solve() error {
	limit := 60*q.n + 200
	q.tolerance = multiplierTolerance
	for i := range q.n {
		q.tolerance = math.Max(q.tolerance, roundingTolerance*q.h[i*q.n+i])
	}
	refined := 0
	for q.steps = 0; q.steps < limit; q.steps++ {
		q.computeGradient()
		if blocked := q.move(); blocked {
			refined = 0
			continue
		}
		q.computeGradient()
		// Where goods nearly replace each other the factor has lost digits: the same step again wins them back.
		if refined < 3 && q.residual() > q.tolerance {
			refined++
			continue
		}
		refined = 0
		if !q.release(q.steps > limit/2) {
			return nil
		}
	}
	return errNoOptimum
}

// residual is the largest slope left along the free variables, and sets the multiplier of the sum of shares to their mean.
func (q *quadratic) residual() float64 {
	sum, count := 0.0, 0
	for i := range q.shares {
		if q.held[i] == 0 {
			sum -= q.gradient[i]
			count++
		}
	}
	if count > 0 {
		q.lambda = sum / float64(count)
	}
	worst := 0.0
	for i := range q.n {
		if q.held[i] == 0 {
			worst = math.Max(worst, math.Abs(q.multiplier(i)))
		}
	}
	return worst
}

func (q *quadratic) computeGradient() {
	for i := range q.n {
		row := q.h[i*q.n : i*q.n+q.n]
		sum := q.g[i]
		for j, v := range row {
			sum += v * q.x[j]
		}
		q.gradient[i] = sum
	}
}

// move goes to the least point of the plane of the free variables, or as far as the next bound, which it then holds. It
// reports whether a bound was in the way.
func (q *quadratic) move() bool {
	q.free = q.free[:0]
	freeShares := 0
	for i := range q.n {
		if q.held[i] == 0 {
			q.free = append(q.free, i)
			if i < q.shares {
				freeShares++
			}
		}
	}
	q.lambda = 0
	if len(q.free) == 0 {
		return false
	}
	k := q.factorize()
	for a, i := range q.free {
		q.first[a], q.second[a] = q.gradient[i], 0
		if i < q.shares {
			q.second[a] = 1
		}
	}
	q.substitute(q.first[:k])
	if freeShares > 0 {
		q.substitute(q.second[:k])
		top, bottom := 0.0, 0.0
		for a, i := range q.free {
			if i < q.shares {
				top += q.first[a]
				bottom += q.second[a]
			}
		}
		q.lambda = -top / bottom
	}
	for a, i := range q.free {
		q.direction[a] = -q.first[a]
		if freeShares > 0 {
			q.direction[a] -= q.lambda * q.second[a]
		}
		if freeShares == 1 && i < q.shares {
			q.direction[a] = 0 // alone it cannot move
		}
	}
	length, at := 1.0, -1
	for a, i := range q.free {
		var room float64
		switch d := q.direction[a]; {
		case d < 0:
			room = (q.lo[i] - q.x[i]) / d
		case d > 0:
			room = (q.hi[i] - q.x[i]) / d
		default:
			continue
		}
		if room < length {
			length, at = math.Max(0, room), a
		}
	}
	for a, i := range q.free {
		q.x[i] += length * q.direction[a]
		q.x[i] = math.Max(q.lo[i], math.Min(q.hi[i], q.x[i]))
	}
	if at >= 0 {
		i := q.free[at]
		if q.direction[at] < 0 {
			q.x[i], q.held[i] = q.lo[i], -1
		} else {
			q.x[i], q.held[i] = q.hi[i], 1
		}
	}
	return at >= 0
}

// multiplier is the slope of the objective along a variable, the sum of the shares kept.
func (q *quadratic) multiplier(i int) float64 {
	if i < q.shares {
		return q.gradient[i] + q.lambda
	}
	return q.gradient[i]
}

// release frees the held variable that gains most by leaving its bound, or the first one that gains (Bland's rule against
// cycling). It reports false at the optimum.
func (q *quadratic) release(first bool) bool {
	if !q.settleLambda() {
		return true
	}
	best, worst := -1, q.tolerance
	for i := range q.n {
		if q.held[i] == 0 || q.lo[i] == q.hi[i] {
			continue
		}
		if gain := float64(q.held[i]) * q.multiplier(i); gain > worst {
			best, worst = i, gain
			if first {
				break
			}
		}
	}
	if best < 0 {
		return false
	}
	q.held[best] = 0
	return true
}

// settleLambda finds the multiplier of the sum of shares where all shares are held: any number between the slopes of those
// that may only grow and those that may only shrink. Where there is none, one of each is freed together, and it reports
// false.
func (q *quadratic) settleLambda() bool {
	up, down := -1, -1 // the share that gains most by growing, by shrinking
	for i := range q.shares {
		if q.held[i] == 0 {
			return true
		}
		if q.lo[i] == q.hi[i] {
			continue
		}
		if q.held[i] < 0 && (up < 0 || q.gradient[i] < q.gradient[up]) {
			up = i
		}
		if q.held[i] > 0 && (down < 0 || q.gradient[i] > q.gradient[down]) {
			down = i
		}
	}
	switch {
	case up < 0 && down < 0:
	case down < 0:
		q.lambda = -q.gradient[up]
	case up < 0:
		q.lambda = -q.gradient[down]
	case q.gradient[down]-q.gradient[up] > q.tolerance:
		q.held[up], q.held[down] = 0, 0
		return false
	default:
		q.lambda = -(q.gradient[up] + q.gradient[down]) / 2
	}
	return true
}

// factorize fills the Cholesky factor of the free part of H and returns its size. A pivot that rounding has eaten is
// lifted: that direction is one of which the objective knows next to nothing.
func (q *quadratic) factorize() int {
	k := len(q.free)
	for a := range k {
		i := q.free[a]
		for b := range a + 1 {
			sum := q.h[i*q.n+q.free[b]]
			for m := range b {
				sum -= q.factor[a*k+m] * q.factor[b*k+m]
			}
			if a == b {
				q.factor[a*k+a] = math.Sqrt(math.Max(sum, 1e-16*math.Abs(q.h[i*q.n+i])+1e-300))
			} else {
				q.factor[a*k+b] = sum / q.factor[b*k+b]
			}
		}
	}
	return k
}

func (q *quadratic) substitute(v []float64) {
	k := len(v)
	for a := range k {
		for m := range a {
			v[a] -= q.factor[a*k+m] * v[m]
		}
		v[a] /= q.factor[a*k+a]
	}
	for a := k - 1; a >= 0; a-- {
		for m := a + 1; m < k; m++ {
			v[a] -= q.factor[m*k+a] * v[m]
		}
		v[a] /= q.factor[a*k+a]
	}
}
