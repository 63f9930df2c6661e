package stats

import (
	"fmt"
	"math"
)

// Shift is by how much the values of one group lie above those of another.
type Shift struct {
	First, Second int // values in each
	By            float64
	Limits        Interval
}

// ShiftBetween is the median of all differences first − second, whatever the two groups' distributions are as long as they
// have one shape (Hodges & Lehmann, Annals of Mathematical Statistics 34 (1963) 598–611). Its limits are the differences at
// ranks mn/2 − z √(mn(m+n+1)/12), to the nearest integer, counted from either end; a rank below 1 leaves both open
// (Hollander & Wolfe, Nonparametric Statistical Methods, 2nd ed. 1999, 4.3, large-sample approximation, from memory of the
// numbering). Confidence is such as 0.95. Each group needs three values, and the differences must not be more than those of the largest series that TheilSen takes.
func ShiftBetween(first, second []float64, confidence float64) (Shift, error) {
	const what = "shift between groups"
	if err := checkValues(what, first, 3); err != nil {
		return Shift{}, err
	}
	if err := checkValues(what, second, 3); err != nil {
		return Shift{}, err
	}
	if err := checkShare(what, "confidence", confidence); err != nil {
		return Shift{}, err
	}
	m, n := len(first), len(second)
	if m > LargestSlopeSeries*(LargestSlopeSeries-1)/2/n {
		return Shift{}, fmt.Errorf("%s: %d and %d values make too many differences", what, m, n)
	}
	differences := make([]float64, 0, m*n)
	for _, a := range first {
		for _, b := range second {
			differences = append(differences, a-b)
		}
	}
	count := float64(m * n)
	out := Shift{First: m, Second: n, By: selectRank(differences, (count+1)/2), Limits: Interval{math.Inf(-1), math.Inf(1)}}
	reach := NormalQuantile(0.5+confidence/2) * math.Sqrt(count*float64(m+n+1)/12)
	if low := math.Round(count/2 - reach); low >= 1 {
		out.Limits = Interval{selectRank(differences, low), selectRank(differences, count+1-low)}
	}
	return out, nil
}
