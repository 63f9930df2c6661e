package stats

import (
	"fmt"
	"math"

	"wj/water"
)

// RelativePercentDifference is 100 |a − b|/mean of two results of one sample (the figure that Standard Methods
// 1020 B asks of duplicates, from memory). Both must be 0 or more and not both 0: for pH and temperatures it has no meaning.
func RelativePercentDifference(a, b float64) (float64, error) {
	const what = "relative percent difference"
	for _, v := range []float64{a, b} {
		if err := checkNumber(what, "a result", v); err != nil {
			return 0, err
		}
		if v < 0 {
			return 0, fmt.Errorf("%s: a result is %v, it must be 0 or more", what, v)
		}
	}
	if a+b == 0 {
		return 0, fmt.Errorf("%s: both results are 0", what)
	}
	return 100 * math.Abs(a-b) / ((a + b) / 2), nil
}

// Recovery is 100 found/made in percent, where made is what the standard was made up to hold, above zero (Standard Methods 1020 B, from memory).
func Recovery(found, made float64) (float64, error) {
	if err := checkNumber("recovery", "the value found", found); err != nil {
		return 0, err
	}
	if err := checkPositive("recovery", "the value of the standard", made); err != nil {
		return 0, err
	}
	return 100 * (found / made), nil
}

// NormalizedError is E_n, see [water.NormalizedError], of numbers from anywhere: it is an error where one is none, where an
// uncertainty is below zero, and where neither result has one.
func NormalizedError(a, expandedA, b, expandedB float64) (float64, error) {
	const what = "normalized error"
	for _, v := range []float64{a, expandedA, b, expandedB} {
		if err := checkNumber(what, "a number", v); err != nil {
			return 0, err
		}
	}
	if expandedA < 0 || expandedB < 0 {
		return 0, fmt.Errorf("%s: an uncertainty is below zero", what)
	}
	if expandedA == 0 && expandedB == 0 {
		return 0, fmt.Errorf("%s: neither result has an uncertainty, state that of one at least", what)
	}
	return water.NormalizedError(a, expandedA, b, expandedB), nil
}

// RangeTest is whether replicates lie as close together as the repeatability of their method promises.
type RangeTest struct {
	Range, Critical float64
	Exceeds         bool
}

// RepeatabilityRange holds the range of n replicates against the critical range f(n) s_r, f(n) the quantile of the
// range of n standard normal values: ISO 5725-6:1994, clause 5 and Table 1, from memory (2.8 for two replicates, 3.3 for three,
// at 95 %). Repeatability is the standard deviation s_r of the method under repeatability conditions, above zero;
// probability is such as 0.95.
func RepeatabilityRange(replicates []float64, repeatability, probability float64) (RangeTest, error) {
	const what = "range of replicates"
	if err := checkValues(what, replicates, 2); err != nil {
		return RangeTest{}, err
	}
	if err := checkPositive(what, "repeatability", repeatability); err != nil {
		return RangeTest{}, err
	}
	if err := checkShare(what, "probability", probability); err != nil {
		return RangeTest{}, err
	}
	ordered := sorted(replicates)
	t := RangeTest{Range: ordered[len(ordered)-1] - ordered[0]}
	t.Critical = RangeQuantile(probability, len(replicates)) * repeatability
	t.Exceeds = t.Range > t.Critical
	return t, nil
}

// Pair is two results of the same water, such as bench and laboratory.
type Pair struct {
	First, Second float64
}

// PairedComparison is how the first method differs from the second over several waters.
type PairedComparison struct {
	N                 int
	MeanDifference    float64 // first − second
	StandardDeviation float64 // of the differences
	StandardError     float64
	Limits            Interval // confidence limits of the mean difference
	T, P              float64  // two-sided, n − 1 degrees of freedom
	MedianDifference  float64
}

// ComparePairs is the paired t-test (Gosset 1908; NIST/SEMATECH e-Handbook of Statistical Methods 7.3.1.1). Confidence is such as 0.95. It needs two pairs; differences that are all alike have no test and
// are ErrNoSpread.
func ComparePairs(pairs []Pair, confidence float64) (PairedComparison, error) {
	const what = "paired comparison"
	if err := checkShare(what, "confidence", confidence); err != nil {
		return PairedComparison{}, err
	}
	differences := make([]float64, len(pairs))
	for i, p := range pairs {
		if !usable(p.First) {
			return PairedComparison{}, checkNumber(what, fmt.Sprintf("first of pair %d", i+1), p.First)
		}
		if !usable(p.Second) {
			return PairedComparison{}, checkNumber(what, fmt.Sprintf("second of pair %d", i+1), p.Second)
		}
		differences[i] = p.First - p.Second
	}
	if err := checkValues(what, differences, 2); err != nil {
		return PairedComparison{}, err
	}
	n := float64(len(pairs))
	c := PairedComparison{N: len(pairs), MeanDifference: mean(differences), StandardDeviation: deviation(differences)}
	c.MedianDifference = median(differences)
	c.StandardError = c.StandardDeviation / math.Sqrt(n)
	if c.StandardError == 0 {
		return c, fmt.Errorf("%s: every difference is %v: %w", what, c.MeanDifference, ErrNoSpread)
	}
	reach := StudentQuantile(0.5+confidence/2, n-1) * c.StandardError
	c.Limits = Interval{c.MeanDifference - reach, c.MeanDifference + reach}
	c.T = c.MeanDifference / c.StandardError
	c.P = 2 * StudentTail(math.Abs(c.T), n-1)
	return c, nil
}
