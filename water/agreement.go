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
