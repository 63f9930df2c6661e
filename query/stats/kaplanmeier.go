package stats

import (
	"fmt"
	"math"
	"slices"
)

// KaplanMeierStep is one measured value of the estimated distribution.
type KaplanMeierStep struct {
	Value       float64
	Measured    int     // readings at this value
	AtRisk      int     // readings that could have shown it: those at or below it (at or above it for ">" limits)
	Mass        float64 // share of the readings that the estimate places here
	Probability float64 // estimated share of readings at or below it
}

// KaplanMeier is the distribution of readings of which some are only known to lie below (or above) one of several
// limits, estimated without a guess at their values.
type KaplanMeier struct {
	Censoring Censoring
	Steps     []KaplanMeierStep // in rising order
	// Unresolved is the share of the readings that lies beyond the last measured value, below all of them or above
	// all of them, and Outer says on which side. UnresolvedLimit is the limit next to the measured values of those
	// readings, so that all of that share lies beyond it too. It is zero where the outermost reading is measured.
	Unresolved      float64
	UnresolvedLimit float64
	Outer           Side
	// Mean is one number where nothing is unresolved. Otherwise its two ends place the unresolved share at the
	// floor and at the limit; the latter is what EPA 530/R-09-007 (2009), Example 15-1, prints as the mean.
	Mean Interval
	// StandardDeviation is that of the distribution (divisor n), the unresolved share placed at its limit.
	StandardDeviation float64

	floor float64
}

// EstimateKaplanMeier flips readings with "<" limits about a constant, so that they become the right-censored
// times of Kaplan & Meier, JASA 53 (1958) 457–481: F falls at each measured value x, from above, by the factor
// 1 − m/n, with m readings measured at x and n readings at or below it, limits included. A reading "<5" stands
// under a measured 5. Helsel, Statistics for Censored Environmental Data, 2nd ed. (2012), ch. 6; EPA 530/R-09-007
// (2009), 15.3. Readings with ">" limits are not flipped. A series with both is an error: use CensoredQuantile.
// Floor is as in Value.Bounds. At least one reading must be measured.
func EstimateKaplanMeier(values []Value, floor float64) (KaplanMeier, error) {
	const what = "Kaplan-Meier estimate"
	if err := checkCensored(what, values, 1); err != nil {
		return KaplanMeier{}, err
	}
	if err := checkFloor(what, floor); err != nil {
		return KaplanMeier{}, err
	}
	c, err := CountCensored(values)
	if err != nil {
		return KaplanMeier{}, err
	}
	switch {
	case c.Below > 0 && c.Above > 0:
		return KaplanMeier{}, fmt.Errorf("%s: the series has both < and > limits, take its quantiles as intervals instead", what)
	case c.Measured == 0:
		return KaplanMeier{}, fmt.Errorf("%s: %w: all %d readings are limits", what, ErrTooFew, c.N)
	}
	k := KaplanMeier{Censoring: c, floor: floor}
	if c.Above > 0 {
		k.Steps, k.Unresolved, k.UnresolvedLimit = productLimit(values, 1)
		k.Outer = Above
	} else {
		k.Steps, k.Unresolved, k.UnresolvedLimit = productLimit(values, -1)
		slices.Reverse(k.Steps)
		k.Outer = Below
	}
	if k.Unresolved == 0 {
		k.Outer = Measured
	}
	k.summarise()
	return k, nil
}

// productLimit walks the readings in rising order of direction × value (direction 1 for ">" limits, −1 for "<"
// limits) and returns the measured steps in that order, the share that stays beyond the last, and the first of the
// limits that hold that share.
func productLimit(values []Value, direction float64) (steps []KaplanMeierStep, left, limit float64) {
	ordered := slices.Clone(values)
	slices.SortFunc(ordered, func(a, b Value) int {
		switch x, y := direction*a.Number, direction*b.Number; {
		case x < y:
			return -1
		case x > y:
			return 1
		case a.Side == Measured && b.Side != Measured:
			return -1 // a limit outlives the measured value that it equals
		case a.Side != Measured && b.Side == Measured:
			return 1
		}
		return 0
	})
	left = 1.0
	last := -1
	for i := 0; i < len(ordered); {
		j := i
		for j < len(ordered) && ordered[j].Number == ordered[i].Number && ordered[j].Side == ordered[i].Side {
			j++
		}
		if ordered[i].Side == Measured {
			atRisk, here := len(ordered)-i, j-i
			mass := left * float64(here) / float64(atRisk)
			if atRisk == here {
				mass = left
			}
			steps = append(steps, KaplanMeierStep{Value: ordered[i].Number, Measured: here, AtRisk: atRisk, Mass: mass})
			left -= mass
			last = j - 1
		}
		i = j
	}
	if last == len(ordered)-1 {
		return steps, 0, 0
	}
	return steps, left, ordered[last+1].Number
}

// summarise fills the cumulative probabilities, the mean and the standard deviation.
func (k *KaplanMeier) summarise() {
	below := 0.0
	if k.Outer == Below {
		below = k.Unresolved
	}
	sum := 0.0
	for i := range k.Steps {
		below += k.Steps[i].Mass
		k.Steps[i].Probability = math.Min(1, below)
		sum += k.Steps[i].Mass * k.Steps[i].Value
	}
	if k.Outer != Above {
		k.Steps[len(k.Steps)-1].Probability = 1
	}
	atLimit := sum + k.Unresolved*k.UnresolvedLimit
	k.Mean = Interval{atLimit, atLimit}
	switch k.Outer {
	case Below:
		k.Mean.Low = sum + k.Unresolved*math.Min(k.floor, k.UnresolvedLimit)
	case Above:
		k.Mean.High = math.Inf(1)
	}
	square := k.Unresolved * (k.UnresolvedLimit - atLimit) * (k.UnresolvedLimit - atLimit)
	for _, s := range k.Steps {
		square += s.Mass * (s.Value - atLimit) * (s.Value - atLimit)
	}
	k.StandardDeviation = math.Sqrt(square)
}

// Quantile is the smallest value with at least the share p of the readings at or below it. Where p falls in the
// unresolved share it is an interval from the floor to the limit, or from the limit without end. Between two steps
// nothing is interpolated.
func (k KaplanMeier) Quantile(p float64) (Interval, error) {
	if !(p >= 0 && p <= 1) {
		return Interval{}, fmt.Errorf("Kaplan-Meier quantile: share %v is not between 0 and 1", p)
	}
	if len(k.Steps) == 0 {
		return Interval{}, fmt.Errorf("Kaplan-Meier quantile: %w: no measured value", ErrTooFew)
	}
	// Sums of shares such as 1/25 carry rounding; a share that is met but for that counts as met.
	const rounding = 1e-12
	if k.Outer == Below && p <= k.Unresolved-rounding {
		return Interval{math.Min(k.floor, k.UnresolvedLimit), k.UnresolvedLimit}, nil
	}
	for _, s := range k.Steps {
		if s.Probability >= p-rounding {
			return Interval{s.Value, s.Value}, nil
		}
	}
	return Interval{k.UnresolvedLimit, math.Inf(1)}, nil
}

// Median is Quantile at one half.
func (k KaplanMeier) Median() (Interval, error) { return k.Quantile(0.5) }
