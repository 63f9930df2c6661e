package query

import "math"

// verdict is the answer to a condition on one session. The order matters: see and, or. unsure comes from a comparison
// within its uncertainty and is settled there, by surely or maybe.
type verdict uint8

const (
	yes verdict = iota
	unsure
	censored
	absent
	faulty
	no
)

// and is no where either is no, else the worst of the two.
func and(a, b verdict) verdict { return max(a, b) }

// or is yes where either is yes, else the worst that is not no.
func or(a, b verdict) verdict {
	switch {
	case a == yes || b == yes:
		return yes
	case a == no:
		return b
	case b == no:
		return a
	}
	return max(a, b)
}

func not(a verdict) verdict {
	switch a {
	case yes:
		return no
	case no:
		return yes
	}
	return a
}

func truth(is bool) verdict {
	if is {
		return yes
	}
	return no
}

// num is a number of one session, or what is known instead.
type num struct {
	v float64
	k known
}

// known says what v is: the number, a bound that the number lies strictly below or above, or nothing.
type known int8

const (
	isBelow    known = -1
	isExact    known = 0
	isAbove    known = 1
	isCensored known = 2 // a bound that does not carry through the computation
	isAbsent   known = 3
	isFaulty   known = 4
)

func nothing(k known) num { return num{math.NaN(), k} }

func exact(v float64) num {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return nothing(isAbsent)
	}
	return num{v, isExact}
}

// why is the verdict on a comparison that a number without value takes part in.
func (n num) why() verdict {
	switch n.k {
	case isAbsent:
		return absent
	case isFaulty:
		return faulty
	}
	return censored
}

func (n num) negative() num {
	if n.k == isBelow || n.k == isAbove {
		n.k = -n.k
	}
	n.v = -n.v
	return n
}

// add adds; two bounds on the same side add to a bound, on different sides to nothing known.
func (n num) add(m num) num {
	worst := max(n.k, m.k)
	switch {
	case worst >= isCensored:
		return nothing(worst)
	case n.k*m.k < 0:
		return nothing(isCensored)
	case n.k != isExact:
		return num{n.v + m.v, n.k}
	}
	if v := n.v + m.v; !math.IsInf(v, 0) {
		return num{v, m.k}
	}
	return nothing(isAbsent)
}

// times multiplies; a bound may be multiplied by a number only.
func (n num) times(m num) num {
	worst := max(n.k, m.k)
	switch {
	case worst >= isCensored:
		return nothing(worst)
	case n.k != isExact && m.k != isExact:
		return nothing(isCensored)
	case n.k != isExact:
		n, m = m, n
	}
	v := n.v * m.v
	switch {
	case math.IsNaN(v) || math.IsInf(v, 0):
		return nothing(isAbsent)
	case n.v < 0:
		return num{v, -m.k}
	case n.v == 0:
		return num{0, isExact}
	}
	return num{v, m.k}
}

// over divides; the divisor must be a number, since a bound may hide a zero.
func (n num) over(m num) num {
	worst := max(n.k, m.k)
	switch {
	case worst >= isCensored:
		return nothing(worst)
	case m.k != isExact:
		return nothing(isCensored)
	case m.v == 0:
		return nothing(isAbsent)
	}
	v := n.v / m.v
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return nothing(isAbsent)
	}
	k := n.k
	if m.v < 0 {
		k = -k
	}
	return num{v, k}
}

// comparison is an operator between numbers, texts or times.
type comparison uint8

const (
	equal comparison = iota
	different
	less
	lessOrEqual
	greater
	greaterOrEqual
)

var comparisons = map[string]comparison{"==": equal, "!=": different, "<": less, "<=": lessOrEqual, ">": greater, ">=": greaterOrEqual}

// holds applies a comparison to the sign of a difference.
func (op comparison) holds(sign int) bool {
	switch op {
	case equal:
		return sign == 0
	case different:
		return sign != 0
	case less:
		return sign < 0
	case lessOrEqual:
		return sign <= 0
	case greater:
		return sign > 0
	}
	return sign >= 0
}

// sameTo is the relative difference under which two numbers count as the same: conversions round in the 16th
// digit, and 6.6 dKH must be equal to 6.6 dKH.
const sameTo = 1e-12

func signOf(d, a, b float64) int {
	switch {
	case math.Abs(d) <= sameTo*max(math.Abs(a), math.Abs(b)):
		return 0
	case d < 0:
		return -1
	}
	return 1
}

// compare answers a op b where both sides may be off by half together, the half-width of the 95 % interval of
// their difference; 0 for a plain comparison.
func compare(op comparison, a, b num, half float64) verdict {
	d := a.add(b.negative())
	if d.k >= isCensored {
		return d.why()
	}
	low, high := signOf(d.v-half, a.v, b.v), signOf(d.v+half, a.v, b.v)
	switch d.k {
	case isBelow: // strictly below: at most at the bound, and not on it
		if high > 0 {
			return censored
		}
		return truth(op.holds(-1))
	case isAbove:
		if low < 0 {
			return censored
		}
		return truth(op.holds(1))
	}
	if low == high {
		return truth(op.holds(low))
	}
	// The interval reaches from low to high; it may hold 0 inside.
	first := op.holds(low)
	if op.holds(high) != first || (low < 0 && high > 0 && op.holds(0) != first) {
		return unsure
	}
	return truth(first)
}
