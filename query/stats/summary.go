package stats

import (
	"fmt"
	"math"
	"slices"
)

// Mean is the arithmetic mean. A second pass adds the mean of the residuals, so that pH values and conductivities
// in the thousands keep their last digit.
func Mean(values []float64) (float64, error) {
	if err := checkValues("mean", values, 1); err != nil {
		return 0, err
	}
	return mean(values), nil
}

// mean is Mean of values that have been checked.
func mean(values []float64) float64 {
	n := float64(len(values))
	sum := 0.0
	for _, v := range values {
		sum += v
	}
	centre := sum / n
	rest := 0.0
	for _, v := range values {
		rest += v - centre
	}
	return centre + rest/n
}

// StandardDeviation is the sample standard deviation with divisor n − 1. It needs two values.
func StandardDeviation(values []float64) (float64, error) {
	if err := checkValues("standard deviation", values, 2); err != nil {
		return 0, err
	}
	return deviation(values), nil
}

// deviation is StandardDeviation of values that have been checked. Values that are all alike give exactly zero.
func deviation(values []float64) float64 {
	if alike(values) {
		return 0
	}
	centre := mean(values)
	sum := 0.0
	for _, v := range values {
		sum += (v - centre) * (v - centre)
	}
	return math.Sqrt(sum / float64(len(values)-1))
}

// alike says whether all values are the same number.
func alike(values []float64) bool {
	for _, v := range values {
		if v != values[0] {
			return false
		}
	}
	return true
}

// QuantileKind says how a quantile falls between two ordered values, numbered as in Hyndman & Fan, The American
// Statistician 50 (1996) 361–365.
type QuantileKind int

const (
	// Weibull is type 6, position (n+1)p: the plotting position that hydrology uses (Helsel et al., USGS
	// Techniques and Methods 4-A3, 2020, ch. 1). It suits a history that is a sample of the water.
	Weibull QuantileKind = 6
	// Linear is type 7, position (n−1)p + 1: what most spreadsheets and R do unless told otherwise.
	Linear QuantileKind = 7
)

// position is the 1-based rank of quantile p among n ordered values, kept within them.
func (k QuantileKind) position(p float64, n int) (float64, error) {
	h := 0.0
	switch k {
	case Weibull:
		h = p * float64(n+1)
	case Linear:
		h = p*float64(n-1) + 1
	default:
		return 0, fmt.Errorf("quantile: kind %d is not known, use 6 (Weibull) or 7 (linear)", int(k))
	}
	return math.Min(math.Max(h, 1), float64(n)), nil
}

// Quantile is the value below which the share p (0 to 1) of the values lies. Below the first and above the last
// plotting position it is the first and the last value.
func Quantile(values []float64, p float64, kind QuantileKind) (float64, error) {
	if err := checkValues("quantile", values, 1); err != nil {
		return 0, err
	}
	if !(p >= 0 && p <= 1) {
		return 0, fmt.Errorf("quantile: share %v is not between 0 and 1", p)
	}
	h, err := kind.position(p, len(values))
	if err != nil {
		return 0, err
	}
	return atRank(sorted(values), h), nil
}

// Median is the middle value, or the mean of the two middle ones. Every kind of quantile agrees on it.
func Median(values []float64) (float64, error) {
	if err := checkValues("median", values, 1); err != nil {
		return 0, err
	}
	return median(values), nil
}

// median is Median of values that have been checked.
func median(values []float64) float64 {
	return atRank(sorted(values), (float64(len(values))+1)/2)
}

// MAD is the median absolute deviation from the median, not scaled: multiply by 1.4826 to compare it with the
// standard deviation of a normal sample (Hampel, JASA 69 (1974) 383–393; 1/Φ⁻¹(3/4) = 1.4826).
func MAD(values []float64) (float64, error) {
	if err := checkValues("median absolute deviation", values, 1); err != nil {
		return 0, err
	}
	return median(deviations(values, median(values))), nil
}

// deviations are the distances of the values from a centre.
func deviations(values []float64, centre float64) []float64 {
	out := make([]float64, len(values))
	for i, v := range values {
		out[i] = math.Abs(v - centre)
	}
	return out
}

// LagOneAutocorrelation is r₁ = Σ(xᵢ − x̄)(xᵢ₊₁ − x̄)/Σ(xᵢ − x̄)², the values in order of time (NIST/SEMATECH
// e-Handbook of Statistical Methods 1.3.5.12). A chart for individuals gives false alarms where it is far above
// zero; about 2/√n is the size that chance alone seldom exceeds. It needs three values that are not all alike.
func LagOneAutocorrelation(values []float64) (float64, error) {
	if err := checkValues("autocorrelation", values, 3); err != nil {
		return 0, err
	}
	if alike(values) {
		return 0, fmt.Errorf("autocorrelation: %w", ErrNoSpread)
	}
	centre := mean(values)
	top, bottom := 0.0, 0.0
	for i, v := range values {
		bottom += (v - centre) * (v - centre)
		if i > 0 {
			top += (v - centre) * (values[i-1] - centre)
		}
	}
	if bottom == 0 {
		return 0, fmt.Errorf("autocorrelation: %w", ErrNoSpread)
	}
	return top / bottom, nil
}

// sorted is an ordered copy.
func sorted(values []float64) []float64 {
	out := slices.Clone(values)
	slices.Sort(out)
	return out
}

// atRank reads an ordered series at a 1-based rank, between two values in proportion; a rank on a value takes that
// value alone.
func atRank(ordered []float64, h float64) float64 {
	below := int(math.Floor(h))
	share := h - float64(below)
	low := ordered[below-1]
	if share == 0 || below == len(ordered) {
		return low
	}
	return between(low, ordered[below], share)
}

// between is the number that lies a share of the way from low to high. An unknown (infinite) neighbour leaves it
// unknown on that side.
func between(low, high, share float64) float64 {
	switch {
	case low == high || math.IsInf(low, -1):
		return low
	case math.IsInf(high, 1):
		return high
	}
	return low + share*(high-low)
}
