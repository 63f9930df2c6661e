// Package stats answers statistical questions about a series of readings: is this one out of line, has the
// process moved, is there a trend, what is the middle of values of which some are only known as "<5".
//
//	slope, err := stats.TheilSen(years, sulfate, 0.95)
//	if errors.Is(err, stats.ErrTooFew) {
//		fmt.Println("too few readings for a trend")
//	}
//	fmt.Println(slope.PerUnit, slope.Limits) // mg/L a year, with 95 % limits
//
// It is pure: slices of numbers in, results out. It knows no journal, no unit and no clock; the caller
// keeps the units, and a result has the unit of the values that went in unless its comment says otherwise.
//
// What holds everywhere:
//
//   - Input is never changed, and its order matters only where a function says so (charts, run rules).
//   - A value must be finite and smaller than 1e150 in size, so that squares and sums stay finite. Anything else
//     is an error that names the place of the value; NaN never comes out where finite numbers went in.
//   - Too little data is ErrTooFew, values that are all alike where spread is needed is ErrNoSpread; both are
//     wrapped with what was attempted, so that a caller can tell "cannot say yet" from a mistake.
//   - What cannot be known is not invented: an open end of an Interval is an infinity, never half of a limit.
//   - Flagging is not deleting: no function drops a value.
//
// Every formula names its source where it stands. The published worked examples that the package is held to are
// in testdata/published/statistics.tsv at the root of the repository.
package stats

import (
	"errors"
	"fmt"
	"math"
)

// ErrTooFew says that there are fewer values than the method needs.
var ErrTooFew = errors.New("too few values")

// ErrNoSpread says that the values are all alike, so that a method that divides by their spread has no answer.
var ErrNoSpread = errors.New("the values are all alike")

// largest is the greatest size of a value: its square, and the sum of many squares, is still finite.
const largest = 1e150

// checkValues refuses values that are not finite or too large, and fewer than least of them.
func checkValues(what string, values []float64, least int) error {
	if len(values) < least {
		return fmt.Errorf("%s: %w: %d given, at least %d needed", what, ErrTooFew, len(values), least)
	}
	for i, v := range values {
		if !usable(v) {
			return checkNumber(what, fmt.Sprintf("value %d", i+1), v)
		}
	}
	return nil
}

func usable(v float64) bool { return math.Abs(v) <= largest }

// checkNumber refuses one number that is not finite or too large.
func checkNumber(what, name string, v float64) error {
	if !usable(v) {
		return fmt.Errorf("%s: %s is %v, not a finite number below 1e150 in size", what, name, v)
	}
	return nil
}

// checkPositive refuses a number that is not above zero.
func checkPositive(what, name string, v float64) error {
	if err := checkNumber(what, name, v); err != nil {
		return err
	}
	if v <= 0 {
		return fmt.Errorf("%s: %s is %v, it must be above zero", what, name, v)
	}
	return nil
}

// checkFloor refuses a floor that is NaN; both infinities have a meaning.
func checkFloor(what string, floor float64) error {
	if math.IsNaN(floor) {
		return fmt.Errorf("%s: the floor is not a number; use 0 for a concentration, math.Inf(-1) for none", what)
	}
	return nil
}

// checkShare refuses a probability that is not strictly between 0 and 1.
func checkShare(what, name string, p float64) error {
	if !(p > 0 && p < 1) {
		return fmt.Errorf("%s: %s is %v, it must be between 0 and 1, such as 0.95", what, name, p)
	}
	return nil
}

// checkPairs refuses two series of different length, and values as checkValues does.
func checkPairs(what string, x, y []float64, least int) error {
	if len(x) != len(y) {
		return fmt.Errorf("%s: %d values of x but %d of y, they must go in pairs", what, len(x), len(y))
	}
	if err := checkValues(what+", x", x, least); err != nil {
		return err
	}
	return checkValues(what+", y", y, least)
}

// Interval is a closed range in which a number lies. An infinite end means that nothing is known on that side.
type Interval struct {
	Low, High float64
}

// Exact says whether the interval is one number.
func (i Interval) Exact() bool { return i.Low == i.High && !math.IsInf(i.Low, 0) }

// Known says whether the interval says anything at all; false means that the number is not available.
func (i Interval) Known() bool { return !math.IsInf(i.Low, -1) || !math.IsInf(i.High, 1) }

// Bounded says whether both ends are finite.
func (i Interval) Bounded() bool { return !math.IsInf(i.Low, 0) && !math.IsInf(i.High, 0) }

// Contains says whether v lies in the interval, its ends included.
func (i Interval) Contains(v float64) bool { return i.Low <= v && v <= i.High }
