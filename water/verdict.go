package water

import "math"

// Verdict says how a value stands to its limits in the light of its
// uncertainty.
type Verdict int8

// The verdicts, from surely under to surely over. "Surely" means that the
// whole 95 % interval (± 2 u) lies on that side; "probably" that the value is
// at least one standard uncertainty away from the limit, so that it lies on that
// side five times in six (normal distribution; JCGM 106:2012, 7 and 8, for the
// use of an interval around the limit). Nearer than that nobody can tell.
const (
	NoVerdict Verdict = iota // no limit was given
	Under                    // surely under the minimum
	ProbablyUnder
	CannotTell
	ProbablyWithin
	Within // surely within
	ProbablyOver
	Over // surely over the maximum
)

var verdictWords = [...]string{"no limit", "under", "probably under", "cannot tell", "probably within", "within", "probably over", "over"}

// String is the verdict in words: "probably over".
func (v Verdict) String() string {
	if v < 0 || int(v) >= len(verdictWords) {
		return "unknown verdict"
	}
	return verdictWords[v]
}

// Outside reports whether the value is surely or probably outside its limits.
func (v Verdict) Outside() bool {
	return v == Under || v == ProbablyUnder || v == ProbablyOver || v == Over
}

// Judge compares a value with a minimum and a maximum in the value's unit,
// each of which may be nil. A limit itself is within. A bound ("<5") is judged
// by what it leaves possible. A value without uncertainty is judged as it is.
func Judge(v Value, minimum, maximum *float64) Verdict {
	if minimum == nil && maximum == nil {
		return NoVerdict
	}
	if math.IsNaN(v.Value) || math.IsNaN(v.U) || minimum != nil && math.IsNaN(*minimum) || maximum != nil && math.IsNaN(*maximum) {
		return CannotTell
	}
	if v.Bound != Exact {
		return judgeBound(v, minimum, maximum)
	}
	// z is how many standard uncertainties the value lies inside the limit.
	low, high := math.Inf(1), math.Inf(1)
	if minimum != nil {
		low = inside(v.Value-*minimum, v.U)
	}
	if maximum != nil {
		high = inside(*maximum-v.Value, v.U)
	}
	switch nearer := math.Min(low, high); {
	case low <= -2 && low <= high:
		return Under
	case high <= -2:
		return Over
	case low <= -1 && low <= high:
		return ProbablyUnder
	case high <= -1:
		return ProbablyOver
	case nearer < 1:
		return CannotTell
	case nearer < 2:
		return ProbablyWithin
	}
	return Within
}

func inside(distance, u float64) float64 {
	if u > 0 {
		return distance / u
	}
	if distance >= 0 {
		return math.Inf(1)
	}
	return math.Inf(-1)
}

// judgeBound: of "<5" all is known that is at or below 5, of ">200" all that is
// at or above 200.
// No concentration is below 0.
func judgeBound(v Value, minimum, maximum *float64) Verdict {
	if v.Bound == Below {
		switch {
		case minimum != nil && *minimum > 0 && v.Value <= *minimum:
			return Under
		case (minimum == nil || *minimum <= 0) && (maximum == nil || v.Value <= *maximum):
			return Within
		}
		return CannotTell
	}
	switch {
	case maximum != nil && v.Value >= *maximum:
		return Over
	case maximum == nil && v.Value >= *minimum:
		return Within
	}
	return CannotTell
}
