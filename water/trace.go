package water

import (
	"math"
	"math/bits"
	"strings"
)

// idSet is a set of analytes, one bit each.
type idSet uint64

func (s idSet) has(id ID) bool { return s&(1<<id) != 0 }

func (s *idSet) add(id ID) { *s |= 1 << id }

// list is the set in the order of the table.
func (s idSet) list() []ID {
	if s == 0 {
		return nil
	}
	out := make([]ID, 0, bits.OnesCount64(uint64(s)))
	for rest := uint64(s); rest != 0; rest &= rest - 1 {
		out = append(out, ID(bits.TrailingZeros64(rest)))
	}
	return out
}

func (s idSet) names() string {
	var parts []string
	for _, id := range s.list() {
		parts = append(parts, id.String())
	}
	return strings.Join(parts, ", ")
}

// trace is what a derivation met on its way.
type trace struct {
	used    idSet // readings that it used
	lack    idSet // readings that it needs and has not
	bounded idSet // readings below their range, taken as lying anywhere from 0 to there
	assumed idSet // readings that were not made and for which a usual value was taken
	left    idSet // ions that were not measured and were left out of the speciation
	clipped idSet // differences that came out negative and cannot be speciated
	solved  bool  // needed a speciation
	why     string
}

func (t *trace) join(o *trace) {
	t.used |= o.used
	t.lack |= o.lack
	t.bounded |= o.bounded
	t.assumed |= o.assumed
	t.left |= o.left
	t.clipped |= o.clipped
	t.solved = t.solved || o.solved
	if t.why == "" {
		t.why = o.why
	}
}

// reason says why there is no value.
func (t *trace) reason(a *Analysis, id ID) string {
	var parts []string
	for _, id := range t.lack.list() {
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
		switch k, n := t.used.has(Potassium) || t.bounded.has(Potassium), t.used.has(Nitrate) || t.bounded.has(Nitrate); {
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
		if t.used.has(TotalHardness) {
			say("total less calcium hardness")
		}
	case Alkalinity:
		say("from the reported bicarbonate and carbonate")
	case ElectricalConductivity:
		say("calculated, at 25 degC")
	case DissolvedSolids:
		say("calculated, SM 1030 E")
	}
	if t.assumed.has(PHValue) {
		say("pH not measured: " + Round(assumedPH, 2) + " assumed")
	}
	if t.assumed.has(SampleTemperature) {
		say("temperature not measured: " + Round(assumedTemperature, 2) + " degC assumed")
	}
	if t.left != 0 {
		say("not measured and left out: " + t.left.names())
	}
	if t.clipped != 0 {
		say("negative by difference, taken as none: " + t.clipped.names())
	}
	if t.bounded != 0 {
		say("below range, taken as anything from 0 to there: " + t.bounded.names())
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

// lowest is the first analyte of a set that is not empty.
func lowest(s idSet) ID { return ID(bits.TrailingZeros64(uint64(s))) }
