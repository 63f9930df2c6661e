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

// SpikedDetectionLimit is MDL_S = t(0.99, n−1) s of replicates spiked at one low level, and BlankDetectionLimit is
// MDL_b = x̄ + t s of blanks, a mean below zero counted as zero. The method's limit is the greater of the two.
// 40 CFR 136, Appendix B, revision 2 (2017). It needs two replicates; fewer than seven are marked Shaky.
func SpikedDetectionLimit(replicates []float64) (DetectionLimit, error) {
	return detectionLimit(replicates, 0)
}

// BlankDetectionLimit: see SpikedDetectionLimit.
func BlankDetectionLimit(blanks []float64) (DetectionLimit, error) {
	return detectionLimit(blanks, 1)
}

func detectionLimit(values []float64, share float64) (DetectionLimit, error) {
	if err := checkValues("detection limit", values, 2); err != nil {
		return DetectionLimit{}, err
	}
	d := DetectionLimit{N: len(values), Shaky: len(values) < 7, Average: mean(values)}
	d.T = StudentQuantile(0.99, float64(d.N-1))
	d.Limit = share*math.Max(0, d.Average) + d.T*deviation(values)
	return d, nil
}
