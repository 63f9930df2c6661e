package water

import (
	"fmt"
	"math"
	"slices"
	"strings"
)

// Convert brings a quantity to another unit without being told the analyte,
// where every analyte that both units fit gives the same factor. Where they
// give different factors it says which ones, and where no analyte has both it
// says why not.
func Convert(q Quantity, to Unit) (float64, error) {
	from := q.Unit
	if from.IsNone() || to.IsNone() {
		return math.NaN(), fmt.Errorf("%s has no unit to convert: say what it is in, such as 118 mg/L CaCO3", q)
	}
	if from == to {
		return q.Value, nil
	}
	if from.Family() == to.Family() && from.basis == to.basis && from.Family() != CarbonateDegree {
		return to.fromBase(from.base(q.Value)), nil
	}
	var results []float64
	var names []string
	for i := range table {
		a := &table[i]
		if a.entity == mixedHardness || !a.fits(from) || !a.fits(to) {
			continue
		}
		v, err := a.Convert(q.Value, from, to)
		if err != nil {
			continue
		}
		if slices.ContainsFunc(results, func(r float64) bool { return math.Abs(v-r) <= 1e-9*math.Abs(v) }) {
			continue
		}
		results, names = append(results, v), append(names, fmt.Sprintf("%s (%s %s)", a.Key, Round(v, 4), to))
	}
	switch len(results) {
	case 1:
		return results[0], nil
	case 0:
		return math.NaN(), fmt.Errorf("%s cannot become %s: %s", from, to, whyNot(from, to))
	}
	if len(names) > 4 {
		names = append(names[:4], "…")
	}
	return math.NaN(), fmt.Errorf("%s becomes a different number of %s for each of %s: say which is meant", from, to, strings.Join(names, ", "))
}

// whyNot says why no fixed factor leads from one unit to the other.
func whyNot(from, to Unit) string {
	a, b := from.Family(), to.Family()
	concentration := func(f Family) bool {
		return f == MassPerVolume || f == AmountPerVolume || f == ChargePerVolume || f == HardnessDegree || f == AlkalinityDegree || f == CarbonateDegree
	}
	switch {
	case concentration(a) && b == Conductivity || a == Conductivity && concentration(b):
		return "conductivity depends on all ions together, so one concentration has no fixed factor to it"
	case a == HardnessDegree && b == AlkalinityDegree || a == AlkalinityDegree && b == HardnessDegree:
		return "one is hardness (calcium and magnesium), the other alkalinity; the number would be the same but not the thing"
	case concentration(a) && concentration(b) && (from.basis != NoBasis || to.basis != NoBasis):
		return fmt.Sprintf("no analyte is stated both as %s and as %s", from, to)
	case concentration(a) && concentration(b):
		return "no analyte is stated in both; is a basis missing, as in mg/L CaCO3?"
	}
	return fmt.Sprintf("one is a %s, the other a %s, and no fixed factor joins them", a, b)
}
