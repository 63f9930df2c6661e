package stats

import (
	"fmt"
	"math"
	"slices"
)

// PlottingPosition is the estimated share of readings at or below a measured one.
type PlottingPosition struct {
	Value    float64
	Position float64 // 0 to 1
	Z        float64 // the normal quantile of the position
}

// OrderRegression is the result of robust regression on order statistics: a line through the logarithms of the
// measured readings on normal quantiles stands in for the censored ones, and only for the summary; no single
// censored reading is given a value.
type OrderRegression struct {
	Censoring Censoring
	Positions []PlottingPosition // of the measured readings, in rising order
	// Intercept and Slope are those of ln(value) on Z.
	Intercept, Slope float64
	// Mean and StandardDeviation (divisor n − 1) are of the measured readings with the modelled ones.
	Mean, StandardDeviation float64
	// LogMean and LogStandardDeviation are the same of the natural logarithms.
	LogMean, LogStandardDeviation float64
	Median                        float64
	Modelled                      []float64 // the stand-ins, in rising order, not belonging to single readings
}

// RobustOrderRegression is robust ROS for readings with one or several "<" limits (or ">" limits, by turning the
// logarithms about): plotting positions of Hirsch & Stedinger (1987) as in Helsel & Cohn, Water Resources Research
// 24 (1988) 1997–2004, with constant a = 0; EPA 530/R-09-007 (2009), 15.4 and Example 15-2; Helsel, Statistics for
// Censored Environmental Data, 2nd ed. (2012), ch. 6. All numbers must be above zero. It needs three measured
// readings that are not all alike and refuses a series of which more than 80 % is censored, where Helsel (2012)
// would report no more than the share above a limit. A modelled value may exceed its limit; that is the method.
func RobustOrderRegression(values []Value) (OrderRegression, error) {
	const what = "regression on order statistics"
	if err := checkCensored(what, values, 3); err != nil {
		return OrderRegression{}, err
	}
	c, err := CountCensored(values)
	if err != nil {
		return OrderRegression{}, err
	}
	switch {
	case c.Below > 0 && c.Above > 0:
		return OrderRegression{}, fmt.Errorf("%s: the series has both < and > limits, take its quantiles as intervals instead", what)
	case c.Measured < 3:
		return OrderRegression{}, fmt.Errorf("%s: %w: %d measured readings, at least 3 needed", what, ErrTooFew, c.Measured)
	case c.Share() > 0.8:
		return OrderRegression{}, fmt.Errorf("%s: %w: %d of %d readings are limits, at most 80 %% may be", what, ErrTooFew, c.Below+c.Above, c.N)
	}
	turn := 1.0
	if c.Above > 0 {
		turn = -1
	}
	var measured []float64
	limits := map[float64]int{}
	for i, v := range values {
		if v.Number <= 0 {
			return OrderRegression{}, fmt.Errorf("%s: value %d is %v, logarithms need values above zero", what, i+1, v)
		}
		if y := turn * math.Log(v.Number); v.Side == Measured {
			measured = append(measured, y)
		} else {
			limits[y]++
		}
	}
	slices.Sort(measured)
	if alike(measured) {
		return OrderRegression{}, fmt.Errorf("%s: %w", what, ErrNoSpread)
	}
	positions, hidden := plottingPositions(measured, limits)
	z := make([]float64, len(positions))
	for i, p := range positions {
		z[i] = NormalQuantile(p)
	}
	line := leastSquares(z, measured)

	out := OrderRegression{Censoring: c, Intercept: turn * line.Intercept, Slope: line.Slope}
	logs := make([]float64, 0, len(values))
	for i, y := range measured {
		p, q := positions[i], z[i]
		if turn < 0 {
			p, q = 1-p, -q
		}
		out.Positions = append(out.Positions, PlottingPosition{Value: math.Exp(turn * y), Position: p, Z: q})
		logs = append(logs, turn*y)
	}
	for _, p := range hidden {
		y := turn * (line.Intercept + line.Slope*NormalQuantile(p))
		logs = append(logs, y)
		out.Modelled = append(out.Modelled, math.Exp(y))
	}
	plain := make([]float64, len(logs))
	for i, y := range logs {
		plain[i] = math.Exp(y)
		if plain[i] > largest {
			return OrderRegression{}, fmt.Errorf("%s: the line runs out of range, the readings do not follow it", what)
		}
	}
	if turn < 0 {
		slices.Reverse(out.Positions)
	}
	slices.Sort(out.Modelled)
	out.LogMean, out.LogStandardDeviation = mean(logs), deviation(logs)
	out.Mean, out.StandardDeviation, out.Median = mean(plain), deviation(plain), median(plain)
	return out, nil
}

// plottingPositions gives the shares of the measured values (in rising order) and of the censored ones. Between
// two limits the measured values divide the share evenly that the exceedance probabilities of the limits leave
// them: pe_j = pe_{j+1} + A_j/(A_j+B_j) (1 − pe_{j+1}), where A_j values are measured from limit j up to the next
// and B_j readings are known to lie below it (Helsel & Cohn 1988, eq. 3 and 4, from memory of the numbering).
func plottingPositions(measured []float64, limits map[float64]int) (shown, hidden []float64) {
	edges := []float64{math.Inf(-1)}
	for limit := range limits {
		edges = append(edges, limit)
	}
	slices.Sort(edges)
	// first[j] is the index of the first measured value at or above edge j.
	first := make([]int, len(edges)+1)
	for j, edge := range edges {
		first[j], _ = slices.BinarySearch(measured, edge)
	}
	first[len(edges)] = len(measured)
	exceed := make([]float64, len(edges)+1)
	exceed[0] = 1
	censored := 0
	for _, count := range limits {
		censored += count
	}
	for j := len(edges) - 1; j > 0; j-- {
		within := first[j+1] - first[j]
		under := first[j] + censored
		censored -= limits[edges[j]]
		exceed[j] = exceed[j+1] + float64(within)/float64(within+under)*(1-exceed[j+1])
	}
	for j := range edges {
		within := first[j+1] - first[j]
		for i := 1; i <= within; i++ {
			share := float64(i) / float64(within+1)
			shown = append(shown, (1-exceed[j])+(exceed[j]-exceed[j+1])*share)
		}
		if j == 0 {
			continue
		}
		count := limits[edges[j]]
		for i := 1; i <= count; i++ {
			hidden = append(hidden, (1-exceed[j])*float64(i)/float64(count+1))
		}
	}
	return shown, hidden
}
