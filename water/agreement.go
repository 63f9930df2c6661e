package water

import "math"

// NormalizedError is E_n = (a − b)/√(U_a² + U_b²) of two results with expanded uncertainties U, k = 2 (ISO 13528:2015, 9.7;
// ISO/IEC 17043:2010, B.3.1.3; clauses from memory): above 1 in size the two do not agree within what they claim. It is NaN where
// neither has an uncertainty.
func NormalizedError(a, expandedA, b, expandedB float64) float64 {
	u := math.Hypot(expandedA, expandedB)
	if u == 0 {
		return math.NaN()
	}
	return (a - b) / u
}

// JointBound is how large |E_n| may be for each of n values that are compared together, so that all of them keep it in 95 % of
// cases where nothing is wrong: one for a single value, and for n the two-sided normal quantile of 0.95^(1/n) over that of 0.95.
// Of values whose errors are correlated more than 95 % keep it, never less (Šidák, J. Am. Stat. Assoc. 62 (1967) 626).
func JointBound(n int) float64 {
	if n <= 1 {
		return 1
	}
	const single = 1.959963984540054 // quantile of 0.975
	return math.Sqrt2 * math.Erfinv(math.Pow(0.95, 1/float64(n))) / single
}
