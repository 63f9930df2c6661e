package stats

import (
	"fmt"
	"math"
	"slices"
)

// Kendall is a test of whether y tends to rise or fall with x; with x the time it is the Mann-Kendall trend test.
type Kendall struct {
	N int
	// S is the number of rising pairs less that of falling ones.
	S int
	// TauA is 2S/(n(n−1)). TauB divides by the pairs that are not tied and is the larger where there are ties;
	// packages differ in which of them they call tau. TauB is 0 where all x or all y are alike.
	TauA, TauB float64
	// Variance of S without trend, corrected for ties.
	Variance float64
	// Z is (S ∓ 1)/√Variance, 0 where S is 0.
	Z float64
	// P is the two-sided probability of so strong a tendency without trend: the exact one where Exact says so,
	// that of the normal approximation otherwise.
	P     float64
	Exact bool
	// PNormal is the two-sided probability from Z, whatever P is.
	PNormal float64
}

// exactKendall is the largest n for which P is exact: above it the normal approximation of Z is good to about 0.001
// (Gilbert, Statistical Methods for Environmental Pollution Monitoring (1987), 16.4.2, uses his exact table A18 up
// to n = 10; Helsel et al., USGS Techniques and Methods 4-A3 (2020), ch. 12, too).
const exactKendall = 10

// MannKendall tests for a monotonic trend of y over x (Mann, Econometrica 13 (1945) 245–259; Kendall, Rank
// Correlation Methods, 4th ed. 1975, ch. 4 and 5, for the variance with ties in either series). The order of the
// pairs does not matter: two readings of one moment are a tie in x, which counts for neither side. It needs three
// pairs. The values must be independent: a series of daily readings that drifts gives a P that is too small.
func MannKendall(x, y []float64) (Kendall, error) {
	if err := checkPairs("Mann-Kendall test", x, y, 3); err != nil {
		return Kendall{}, err
	}
	return kendall(x, y), nil
}

// MannKendallCensored is MannKendall of readings with limits. They are re-censored to one limit first, so that a
// limit that changed over time is no trend, and all readings below it are ties (Helsel, Statistics for Censored
// Environmental Data, 2nd ed. 2012, ch. 12).
func MannKendallCensored(x []float64, y []Value) (Kendall, error) {
	const what = "Mann-Kendall test"
	if err := checkCensored(what+", y", y, 3); err != nil {
		return Kendall{}, err
	}
	ranks, err := scores(y)
	if err != nil {
		return Kendall{}, fmt.Errorf("%s: %w", what, err)
	}
	return MannKendall(x, ranks)
}

// kendall is MannKendall of two or more pairs that have been checked.
func kendall(x, y []float64) Kendall {
	n := len(x)
	order := make([]int, n)
	for i := range order {
		order[i] = i
	}
	slices.SortFunc(order, func(a, b int) int {
		if c := compare(x[a], x[b]); c != 0 {
			return c
		}
		return compare(y[a], y[b])
	})
	// Knight, JASA 61 (1966) 436–439: sorted by x and then y, the falling pairs are the exchanges that sorting by y
	// needs, and the rising ones are what the ties leave.
	ys := make([]float64, n)
	tiedBoth := 0
	for i, at := range order {
		ys[i] = y[at]
	}
	run := 1
	for i := 1; i <= n; i++ {
		if i < n && x[order[i]] == x[order[i-1]] && ys[i] == ys[i-1] {
			run++
			continue
		}
		tiedBoth += run * (run - 1) / 2
		run = 1
	}
	falling := exchanges(ys, make([]float64, n))
	tx, ty := tieGroups(x), tieGroups(y)
	pairs := n * (n - 1) / 2
	s := pairs - tx.pairs - ty.pairs + tiedBoth - 2*falling

	k := Kendall{N: n, S: s, TauA: float64(s) / float64(pairs)}
	if free := float64(pairs-tx.pairs) * float64(pairs-ty.pairs); free > 0 {
		k.TauB = float64(s) / math.Sqrt(free)
	}
	f := float64(n)
	k.Variance = (f*(f-1)*(2*f+5) - tx.cubic - ty.cubic) / 18
	if n > 2 {
		k.Variance += tx.triples*ty.triples/(9*f*(f-1)*(f-2)) + float64(tx.pairs)*2*float64(ty.pairs)*2/(2*f*(f-1))
	}
	if tx.pairs == pairs || ty.pairs == pairs {
		k.Variance = 0
	}
	k.Z = continuityZ(s, k.Variance)
	k.PNormal = twoSidedNormal(k.Z)
	k.P = k.PNormal
	if n <= exactKendall && tx.pairs == 0 && ty.pairs == 0 {
		k.P, k.Exact = exactKendallP(n, s), true
	}
	return k
}

func compare(a, b float64) int {
	switch {
	case a < b:
		return -1
	case a > b:
		return 1
	}
	return 0
}

// continuityZ moves S one towards zero before it is held against its standard deviation, since S goes in steps of 2.
func continuityZ(s int, variance float64) float64 {
	switch {
	case s == 0 || variance <= 0:
		return 0
	case s > 0:
		return float64(s-1) / math.Sqrt(variance)
	}
	return float64(s+1) / math.Sqrt(variance)
}

func twoSidedNormal(z float64) float64 { return math.Erfc(math.Abs(z) / math.Sqrt2) }

// ties are the sums over groups of t equal values that the variance of S takes.
type ties struct {
	pairs   int     // Σ t(t−1)/2
	cubic   float64 // Σ t(t−1)(2t+5)
	triples float64 // Σ t(t−1)(t−2)
}

func tieGroups(values []float64) ties {
	ordered := sorted(values)
	var out ties
	for i := 0; i < len(ordered); {
		j := i
		for j < len(ordered) && ordered[j] == ordered[i] {
			j++
		}
		t := float64(j - i)
		out.pairs += (j - i) * (j - i - 1) / 2
		out.cubic += t * (t - 1) * (2*t + 5)
		out.triples += t * (t - 1) * (t - 2)
		i = j
	}
	return out
}

// exchanges sorts a in place by merging and counts the pairs that were in falling order.
func exchanges(a, buffer []float64) int {
	n := len(a)
	if n < 2 {
		return 0
	}
	half := n / 2
	count := exchanges(a[:half], buffer[:half]) + exchanges(a[half:], buffer[half:])
	i, j := 0, half
	for k := range buffer {
		if j >= n || i < half && a[i] <= a[j] {
			buffer[k] = a[i]
			i++
		} else {
			buffer[k] = a[j]
			j++
			count += half - i
		}
	}
	copy(a, buffer)
	return count
}

// exactKendallP is the two-sided probability of |S| or more among the n! orders of n different values: the number
// of orders with k falling pairs follows from that for n − 1 by c(n,k) = Σ c(n−1, k−i), i = 0…n−1 (Kendall 1975,
// ch. 5). Twice the smaller tail, at most 1.
func exactKendallP(n, s int) float64 {
	pairs := n * (n - 1) / 2
	count := []float64{1}
	for m := 2; m <= n; m++ {
		next := make([]float64, m*(m-1)/2+1)
		for k, c := range count {
			for i := range m {
				next[k+i] += c
			}
		}
		count = next
	}
	if s < 0 {
		s = -s
	}
	tail, all := 0.0, 0.0
	for k, c := range count {
		all += c
		if pairs-2*k >= s {
			tail += c
		}
	}
	return math.Min(1, 2*tail/all)
}
