package stats

import (
	"fmt"
	"math"
	"slices"
)

// Side says on which side of its number a reading lies.
type Side int8

const (
	// Measured is a number that was read.
	Measured Side = iota
	// Below is "<5": under the range of the method, somewhere at or below the number.
	Below
	// Above is ">200": over the range of the method, somewhere at or above the number.
	Above
)

// Value is a reading as it was reported: a number, or only a limit that it lies below or above.
type Value struct {
	Number float64
	Side   Side
}

// String writes the value as a bench slip does: 12.1, <5, >200.
func (v Value) String() string {
	switch v.Side {
	case Below:
		return fmt.Sprintf("<%g", v.Number)
	case Above:
		return fmt.Sprintf(">%g", v.Number)
	}
	return fmt.Sprintf("%g", v.Number)
}

// Bounds is the interval in which the true reading lies. Floor is the least that the quantity can be: 0 for a
// concentration, math.Inf(-1) where there is no such number, as for a logarithm or a difference.
func (v Value) Bounds(floor float64) Interval {
	switch v.Side {
	case Below:
		return Interval{math.Min(floor, v.Number), v.Number}
	case Above:
		return Interval{v.Number, math.Inf(1)}
	}
	return Interval{v.Number, v.Number}
}

// Censoring counts what is known of a series.
type Censoring struct {
	N, Measured, Below, Above int
	// Limits are the distinct limits of the values below, and of those above, in rising order.
	LimitsBelow, LimitsAbove []float64
}

// Share is the part of the values that are only limits, 0 to 1; 0 of no values.
func (c Censoring) Share() float64 {
	if c.N == 0 {
		return 0
	}
	return float64(c.Below+c.Above) / float64(c.N)
}

// CountCensored counts the measured and the censored values of a series and collects their limits.
func CountCensored(values []Value) (Censoring, error) {
	if err := checkCensored("counting", values, 0); err != nil {
		return Censoring{}, err
	}
	c := Censoring{N: len(values)}
	for _, v := range values {
		switch v.Side {
		case Measured:
			c.Measured++
		case Below:
			c.Below++
			c.LimitsBelow = append(c.LimitsBelow, v.Number)
		case Above:
			c.Above++
			c.LimitsAbove = append(c.LimitsAbove, v.Number)
		}
	}
	for _, limits := range []*[]float64{&c.LimitsBelow, &c.LimitsAbove} {
		slices.Sort(*limits)
		*limits = slices.Compact(*limits)
	}
	return c, nil
}

// checkCensored refuses numbers that checkNumber refuses and sides that are not known.
func checkCensored(what string, values []Value, least int) error {
	if len(values) < least {
		return fmt.Errorf("%s: %w: %d given, at least %d needed", what, ErrTooFew, len(values), least)
	}
	for i, v := range values {
		if !usable(v.Number) {
			return checkNumber(what, fmt.Sprintf("value %d", i+1), v.Number)
		}
		if v.Side < Measured || v.Side > Above {
			return fmt.Errorf("%s: value %d is neither measured nor below or above a limit", what, i+1)
		}
	}
	return nil
}

// bounds splits values into the least and the most that each can be.
func bounds(values []Value, floor float64) (lows, highs []float64) {
	lows, highs = make([]float64, len(values)), make([]float64, len(values))
	for i, v := range values {
		b := v.Bounds(floor)
		lows[i], highs[i] = b.Low, b.High
	}
	return lows, highs
}

// CensoredQuantile is the narrowest interval in which the quantile p of the true readings must lie, whatever the
// readings behind the limits were: each order statistic rises with every value, so the quantile of the least
// possible values and that of the greatest possible ones enclose it and both can be reached. No value is put in
// for a limit; half the limit, the usual stand-in, has no ground (Helsel, Statistics for Censored Environmental
// Data, 2nd ed. 2012, ch. 1). Floor is as in Value.Bounds. Interval.Known reports whether anything can be said.
func CensoredQuantile(values []Value, p float64, kind QuantileKind, floor float64) (Interval, error) {
	if err := checkCensored("quantile", values, 1); err != nil {
		return Interval{}, err
	}
	if err := checkFloor("quantile", floor); err != nil {
		return Interval{}, err
	}
	if !(p >= 0 && p <= 1) {
		return Interval{}, fmt.Errorf("quantile: share %v is not between 0 and 1", p)
	}
	h, err := kind.position(p, len(values))
	if err != nil {
		return Interval{}, err
	}
	lows, highs := bounds(values, floor)
	slices.Sort(lows)
	slices.Sort(highs)
	return Interval{atRank(lows, h), atRank(highs, h)}, nil
}

// CensoredMedian is CensoredQuantile at one half. It is one number whenever less than half of the values are
// censored on one side and every limit lies on its own side of the middle.
func CensoredMedian(values []Value, floor float64) (Interval, error) {
	return CensoredQuantile(values, 0.5, Weibull, floor)
}

// CensoredMAD is an interval in which the median absolute deviation of the true readings lies. With M in the
// interval of the median, each |x − M| lies between the gap of the two intervals and their widest distance, and
// the median rises with each of them. It encloses the truth but may be wider than need be where the median
// itself is only an interval.
func CensoredMAD(values []Value, floor float64) (Interval, error) {
	middle, err := CensoredMedian(values, floor)
	if err != nil {
		return Interval{}, fmt.Errorf("median absolute deviation: %w", err)
	}
	least, most := make([]float64, len(values)), make([]float64, len(values))
	for i, v := range values {
		b := v.Bounds(floor)
		least[i] = math.Max(0, math.Max(gap(b.Low, middle.High), gap(middle.Low, b.High)))
		most[i] = math.Max(gap(b.High, middle.Low), gap(middle.High, b.Low))
	}
	h := (float64(len(values)) + 1) / 2
	return Interval{atRank(sorted(least), h), atRank(sorted(most), h)}, nil
}

// gap is a − b; of two equal infinities it is 0, since then the distance may be nothing.
func gap(a, b float64) float64 {
	if a == b {
		return 0
	}
	return a - b
}

// Recensor brings a series with several limits to one: everything below the highest "<" limit, measured values
// too, becomes "<" that limit, and everything above the lowest ">" limit becomes ">" that one. A limit that was
// lowered over the years otherwise looks like a falling trend (Helsel, Statistics for Censored Environmental
// Data, 2nd ed. 2012, ch. 12). The result has the order of the input. It is an error where a "<" limit reaches
// over a ">" limit, since then no value is left that can be compared.
func Recensor(values []Value) ([]Value, error) {
	c, err := CountCensored(values)
	if err != nil {
		return nil, fmt.Errorf("re-censoring: %w", err)
	}
	low, high := math.Inf(-1), math.Inf(1)
	if c.Below > 0 {
		low = c.LimitsBelow[len(c.LimitsBelow)-1]
	}
	if c.Above > 0 {
		high = c.LimitsAbove[0]
	}
	if low > high {
		return nil, fmt.Errorf("re-censoring: <%g and >%g overlap, split the series where the method changed", low, high)
	}
	out := make([]Value, len(values))
	for i, v := range values {
		switch {
		case v.Side == Below || v.Side == Measured && v.Number < low:
			out[i] = Value{low, Below}
		case v.Side == Above || v.Side == Measured && v.Number > high:
			out[i] = Value{high, Above}
		default:
			out[i] = v
		}
	}
	return out, nil
}

// scores are numbers in the order of re-censored values, all "<" alike and under every measured value, all ">"
// alike and over every measured value: what a rank test needs.
func scores(values []Value) ([]float64, error) {
	one, err := Recensor(values)
	if err != nil {
		return nil, err
	}
	var measured []float64
	for _, v := range one {
		if v.Side == Measured {
			measured = append(measured, v.Number)
		}
	}
	slices.Sort(measured)
	measured = slices.Compact(measured)
	out := make([]float64, len(one))
	for i, v := range one {
		switch v.Side {
		case Below:
			out[i] = 0
		case Above:
			out[i] = float64(len(measured) + 1)
		default:
			rank, _ := slices.BinarySearch(measured, v.Number)
			out[i] = float64(rank + 1)
		}
	}
	return out, nil
}
