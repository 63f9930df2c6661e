package stats

import "math"

// DetectionLimit is a method detection limit.
type DetectionLimit struct {
	N       int
	T       float64 // Student's t, 99 % one-sided, n − 1 degrees of freedom
	Limit   float64
	Shaky   bool // fewer than the seven replicates that the procedure asks for
	Average float64
}

// BlankDetectionLimit is MDL_b = x̄ + t(0.99, n−1) s of blanks, a mean below zero counted as zero: 40 CFR 136, Appendix B,
// revision 2 (2017). The method's limit is the greater of it and that of replicates spiked at one low level, which no bench
// keeps. It needs two blanks; fewer than seven are marked Shaky.
func BlankDetectionLimit(blanks []float64) (DetectionLimit, error) {
	if err := checkValues("detection limit", blanks, 2); err != nil {
		return DetectionLimit{}, err
	}
	d := DetectionLimit{N: len(blanks), Shaky: len(blanks) < 7, Average: mean(blanks)}
	d.T = StudentQuantile(0.99, float64(d.N-1))
	d.Limit = math.Max(0, d.Average) + d.T*deviation(blanks)
	return d, nil
}
