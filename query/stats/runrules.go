package stats

import (
	"fmt"
	"math"
	"strings"
)

// RunRule is a pattern on a control chart that chance seldom makes.
type RunRule struct {
	Name   string // as it is written in settings
	Says   string // what the pattern is
	Source string
	least  int // points that must be there, so that a chart's first points can signal too
	window int // most points looked at
	sided  bool
	holds  func(z []float64) bool // z are the last points, at most window, in standard deviations from the centre, newest last
}

const (
	westernElectric = "Western Electric, Statistical Quality Control Handbook (1956); NIST/SEMATECH e-Handbook 6.3.2"
	nelson          = "Nelson, Journal of Quality Technology 16 (1984) 237–239"
)

// RunRules are all the rules, in the order in which they are reported. A point exactly on the centre line is on
// neither side. Where "two of three" or the like is counted, the newest point must be one of those counted, so that
// a good point is never flagged for the bad ones before it.
var RunRules = []RunRule{
	{"beyond-limits", "one point more than 3 standard deviations from the centre", westernElectric, 1, 1, true,
		func(z []float64) bool { return math.Abs(z[0]) > 3 }},
	{"two-of-three", "two of three points more than 2 standard deviations out on one side", westernElectric, 2, 3, true,
		func(z []float64) bool { return outOnOneSide(z, 2, 2) }},
	{"four-of-five", "four of five points more than 1 standard deviation out on one side", westernElectric, 4, 5, true,
		func(z []float64) bool { return outOnOneSide(z, 1, 4) }},
	{"run-of-eight", "eight points in a row on one side of the centre", westernElectric, 8, 8, true,
		func(z []float64) bool { return outOnOneSide(z, 0, 8) }},
	{"run-of-nine", "nine points in a row on one side of the centre", nelson, 9, 9, true,
		func(z []float64) bool { return outOnOneSide(z, 0, 9) }},
	{"six-trending", "six points in a row, each higher or each lower than the one before", nelson, 6, 6, false,
		func(z []float64) bool {
			return everyStep(z, func(a, b float64) bool { return a > 0 && b > 0 || a < 0 && b < 0 })
		}},
	{"fourteen-alternating", "fourteen points in a row going up and down in turn", nelson, 14, 14, false,
		func(z []float64) bool {
			return everyStep(z, func(a, b float64) bool { return a > 0 && b < 0 || a < 0 && b > 0 })
		}},
	{"fifteen-within", "fifteen points in a row within 1 standard deviation of the centre", nelson, 15, 15, false,
		func(z []float64) bool { return everyPoint(z, func(v float64) bool { return math.Abs(v) < 1 }) }},
	{"eight-outside", "eight points in a row more than 1 standard deviation out, on either side", nelson, 8, 8, false,
		func(z []float64) bool { return everyPoint(z, func(v float64) bool { return math.Abs(v) > 1 }) }},
}

// DefaultRunRules are the names used where nothing is chosen: each further rule buys speed with false alarms (the
// four Western Electric rules together give one per 91.75 points where rule 1 alone gives one per 370; Champ &
// Woodall, Technometrics 29 (1987) 393–399).
var DefaultRunRules = []string{"beyond-limits", "run-of-nine"}

// outOnOneSide says whether at least need of the points, the newest among them, lie further than limit on the
// newest point's side.
func outOnOneSide(z []float64, limit float64, need int) bool {
	newest := z[len(z)-1]
	count := 0
	for _, v := range z {
		if v > limit && newest > limit || v < -limit && newest < -limit {
			count++
		}
	}
	return count >= need
}

func everyPoint(z []float64, good func(float64) bool) bool {
	for _, v := range z {
		if !good(v) {
			return false
		}
	}
	return true
}

// everyStep says whether each two neighbouring steps stand in a relation.
func everyStep(z []float64, good func(a, b float64) bool) bool {
	for i := 2; i < len(z); i++ {
		if !good(z[i-1]-z[i-2], z[i]-z[i-1]) {
			return false
		}
	}
	return true
}

// RunSignal is one occurrence of a pattern. A run that goes on is one signal, not one for each further point.
type RunSignal struct {
	Rule RunRule
	From int // index of the first point of the pattern when it was first complete
	At   int // index of the point that completed it
	To   int // index of the last point at which it was still complete
	High bool
}

// FindRuns looks for patterns in values, in order of time, about a centre with a standard deviation sigma above
// zero. Rules are names from RunRules; none means DefaultRunRules. Signals come in order of the rules' table, then
// of time. High tells the side for rules that have one.
func FindRuns(values []float64, center, sigma float64, rules ...string) ([]RunSignal, error) {
	const what = "run rules"
	if err := checkValues(what, values, 0); err != nil {
		return nil, err
	}
	if err := checkNumber(what, "center", center); err != nil {
		return nil, err
	}
	if err := checkPositive(what, "sigma", sigma); err != nil {
		return nil, err
	}
	if len(rules) == 0 {
		rules = DefaultRunRules
	}
	chosen := map[string]bool{}
	for _, name := range rules {
		chosen[name] = true
	}
	z := make([]float64, len(values))
	for i, v := range values {
		z[i] = (v - center) / sigma
	}
	var out []RunSignal
	for _, rule := range RunRules {
		if chosen[rule.Name] {
			out = append(out, rule.find(z)...)
			delete(chosen, rule.Name)
		}
	}
	for _, name := range rules {
		if chosen[name] {
			return nil, fmt.Errorf("%s: no rule is called %q, there are %s", what, name, strings.Join(runRuleNames(), ", "))
		}
	}
	return out, nil
}

func runRuleNames() []string {
	names := make([]string, len(RunRules))
	for i, r := range RunRules {
		names[i] = r.Name
	}
	return names
}

// find collects the signals of one rule; neighbouring points of one side make one signal.
func (r RunRule) find(z []float64) []RunSignal {
	var out []RunSignal
	for i := r.least - 1; i < len(z); i++ {
		from := max(0, i-r.window+1)
		if !r.holds(z[from : i+1]) {
			continue
		}
		high := z[i] > 0
		if last := len(out) - 1; last >= 0 && out[last].To == i-1 && (!r.sided || out[last].High == high) {
			out[last].To = i
			continue
		}
		out = append(out, RunSignal{Rule: r, From: from, At: i, To: i, High: high})
	}
	return out
}
