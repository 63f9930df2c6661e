package stats

import (
	"fmt"
	"math"
)

// Scale says what a modified z-score was divided by.
type Scale int

const (
	// ByMAD is the median absolute deviation, as the method means it.
	ByMAD Scale = iota
	// ByMeanDeviation is the mean absolute deviation: more than half of the values are alike, so that their MAD is
	// zero. Any value that differs then looks far out; it is a reason to look, not a finding.
	ByMeanDeviation
	// ByNothing says that all values are alike; all scores are zero.
	ByNothing
)

// ModifiedZLimit is the size of a modified z-score above which a value is flagged (Iglewicz & Hoaglin 1993).
const ModifiedZLimit = 3.5

// ModifiedZ holds the scores of a series against its own median.
type ModifiedZ struct {
	Median, MAD float64
	Scale       Scale
	Scores      []float64
	meanDev     float64
}

// ModifiedZScores are 0.6745 (x − median)/MAD, 0.6745 = Φ⁻¹(3/4) (Iglewicz & Hoaglin, How to Detect and Handle
// Outliers, ASQC 1993; NIST/SEMATECH e-Handbook of Statistical Methods 1.3.5.17). Where the MAD is zero the scores
// are (x − median)/(1.253314 × mean absolute deviation), 1.253314 = √(π/2), the same scale for a normal sample
// (the constant follows from E|Z| = √(2/π)), and Scale says so. Flag values above ModifiedZLimit, never delete
// them. It needs three values.
func ModifiedZScores(values []float64) (ModifiedZ, error) {
	if err := checkValues("modified z-score", values, 3); err != nil {
		return ModifiedZ{}, err
	}
	m := ModifiedZ{Median: median(values)}
	distances := deviations(values, m.Median)
	m.MAD, m.meanDev = median(distances), mean(distances)
	switch {
	case m.MAD > 0:
		m.Scale = ByMAD
	case m.meanDev > 0:
		m.Scale = ByMeanDeviation
	default:
		m.Scale = ByNothing
	}
	m.Scores = make([]float64, len(values))
	for i, v := range values {
		m.Scores[i] = m.score(v)
	}
	return m, nil
}

func (m ModifiedZ) score(v float64) float64 {
	d := v - m.Median
	switch {
	case d == 0:
		return 0
	case m.Scale == ByMAD:
		return 0.6745 * (d / m.MAD)
	}
	return d / m.meanDev / math.Sqrt(math.Pi/2)
}

// Tail says which end of a series an outlier is looked for at.
type Tail int

const (
	EitherEnd Tail = iota // two-sided
	HighEnd               // one-sided, the largest value
	LowEnd                // one-sided, the smallest value
)

// GrubbsTest is a test of the one value that lies furthest out.
type GrubbsTest struct {
	N        int
	Index    int     // of the value tested
	G        float64 // its distance from the mean in standard deviations
	Critical float64 // G above it is an outlier at the level asked for
	P        float64 // upper bound of the probability of so large a G without outlier
	Outlier  bool
}

// Grubbs tests for one outlier in a sample that is otherwise normal: G = max|x − x̄|/s, at one end G = ±(x − x̄)/s
// (Grubbs, Annals of Mathematical Statistics 21 (1950) 27–58; NIST/SEMATECH e-Handbook of Statistical Methods
// 1.3.5.17.1). Level is such as 0.05. It needs three values that are not all alike, and sees only one outlier: two
// that lie together hide each other, where the modified z-score still sees both. Values rounded so coarsely that all
// but one are alike are not a normal sample: G is then at its greatest, and P near 0, whatever the step is. A plain |z| > 3 could not occur at
// all for n ≤ 10, since G is at most (n−1)/√n.
func Grubbs(values []float64, tail Tail, level float64) (GrubbsTest, error) {
	const what = "Grubbs test"
	if err := checkValues(what, values, 3); err != nil {
		return GrubbsTest{}, err
	}
	critical, err := GrubbsCritical(len(values), tail, level)
	if err != nil {
		return GrubbsTest{}, err
	}
	s := deviation(values)
	if s == 0 {
		return GrubbsTest{}, fmt.Errorf("%s: %w", what, ErrNoSpread)
	}
	centre := mean(values)
	t := GrubbsTest{N: len(values), G: math.Inf(-1), Critical: critical}
	for i, v := range values {
		g := (v - centre) / s
		switch tail {
		case LowEnd:
			g = -g
		case EitherEnd:
			g = math.Abs(g)
		}
		if g > t.G {
			t.Index, t.G = i, g
		}
	}
	n := float64(t.N)
	most := (n - 1) / math.Sqrt(n)
	t.G = math.Min(t.G, most)
	// The t that belongs to G, from the formula of the critical value solved for t.
	left := (n-1)*(n-1) - n*t.G*t.G
	student := math.Inf(1)
	if left > 0 {
		student = math.Sqrt(n * (n - 2) * t.G * t.G / left)
	}
	t.P = math.Min(1, sides(tail)*n*StudentTail(student, n-2))
	t.Outlier = t.G > critical
	return t, nil
}

func sides(tail Tail) float64 {
	if tail == EitherEnd {
		return 2
	}
	return 1
}

// GrubbsCritical is (n−1)/√n √(t²/(n−2+t²)), t exceeded with probability level/(2n), at one end level/n, with n − 2
// degrees of freedom (NIST/SEMATECH e-Handbook of Statistical Methods 1.3.5.17.1).
func GrubbsCritical(n int, tail Tail, level float64) (float64, error) {
	const what = "Grubbs test"
	if n < 3 {
		return 0, fmt.Errorf("%s: %w: %d given, at least 3 needed", what, ErrTooFew, n)
	}
	if tail < EitherEnd || tail > LowEnd {
		return 0, fmt.Errorf("%s: end %d is not known", what, int(tail))
	}
	if err := checkShare(what, "level", level); err != nil {
		return 0, err
	}
	f := float64(n)
	t := studentUpper(math.Min(0.5, level/(sides(tail)*f)), f-2)
	return (f - 1) / math.Sqrt(f) * math.Sqrt(t*t/(f-2+t*t)), nil
}
