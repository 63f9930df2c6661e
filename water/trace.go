package water

import (
	"math"
	"strings"
)

// trace is what a derivation met on its way.
type trace struct {
	used    Set  // readings that it used
	lack    Set  // readings that it needs and has not
	bounded Set  // readings below their range, taken as lying anywhere from 0 to there
	assumed Set  // readings that were not made and for which a usual value was taken
	left    Set  // ions that were not measured and were left out of the speciation
	clipped Set  // differences that came out negative and cannot be speciated
	solved  bool // needed a speciation
	why     string
}

func (t *trace) join(o *trace) {
	t.used = t.used.Union(o.used)
	t.lack = t.lack.Union(o.lack)
	t.bounded = t.bounded.Union(o.bounded)
	t.assumed = t.assumed.Union(o.assumed)
	t.left = t.left.Union(o.left)
	t.clipped = t.clipped.Union(o.clipped)
	t.solved = t.solved || o.solved
	if t.why == "" {
		t.why = o.why
	}
}

// reason says why there is no value.
func (t *trace) reason(a *Analysis, id ID) string {
	var parts []string
	for id := range t.lack.All() {
		switch b, _ := a.bound(id); b {
		case Below:
			parts = append(parts, id.String()+" is only known to be below "+Round(a.m[id].Value, 3))
		case Above:
			parts = append(parts, id.String()+" is only known to be above "+Round(a.m[id].Value, 3))
		default:
			parts = append(parts, "needs "+id.String())
		}
	}
	if t.why != "" {
		parts = append(parts, t.why)
	}
	if len(parts) == 0 {
		return "it is measured, not derived"
	}
	return strings.Join(parts, ", ")
}

// note says what a derived value assumes.
func (t *trace) note(a *Analysis, id ID) string {
	var parts []string
	say := func(s string) { parts = append(parts, s) }
	switch id {
	case Sodium:
		switch k, n := t.used.Has(Potassium) || t.bounded.Has(Potassium), t.used.Has(Nitrate) || t.bounded.Has(Nitrate); {
		case !k && !n:
			say("by difference: includes potassium, less nitrate and all errors")
		case !k:
			say("by difference: includes potassium and all errors")
		case !n:
			say("by difference: less nitrate, with all errors")
		default:
			say("by difference: with all errors")
		}
	case Magnesium, MagnesiumHardness:
		if t.used.Has(TotalHardness) {
			say("total less calcium hardness")
		}
	case Alkalinity:
		say("from the reported bicarbonate and carbonate")
	case ElectricalConductivity:
		say("calculated, at 25 degC")
	case DissolvedSolids:
		say("calculated, SM 1030 E")
	}
	if t.assumed.Has(PHValue) {
		say("pH not measured: " + Round(assumedPH, 2) + " assumed")
	}
	if t.assumed.Has(SampleTemperature) {
		say("temperature not measured: " + Round(assumedTemperature, 2) + " degC assumed")
	}
	if !t.left.Empty() {
		say("not measured and left out: " + t.left.String())
	}
	if !t.clipped.Empty() {
		say("negative by difference, taken as none: " + t.clipped.String())
	}
	if !t.bounded.Empty() {
		say("below range, taken as anything from 0 to there: " + t.bounded.String())
	}
	return strings.Join(parts, "; ")
}

// begin makes the resolver ready for another value of the same analysis; a
// speciation already done is kept.
func (r *resolver) begin() { r.trace = trace{} }

// number is a derived value, NaN where there is none.
func (r *resolver) number(id ID) float64 {
	v := r.derived(id)
	if math.IsInf(v, 0) {
		return math.NaN()
	}
	return v
}
