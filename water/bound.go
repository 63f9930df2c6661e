package water

import "math"

// derivedBound carries readings that are only bounds ("<5") through a derivation: the value with each of them at its limit, and
// on which side of it the true value lies. Of results below their range that pull to both sides, as in the difference of two,
// each is taken where it makes the value highest, its limit or none: the value lies below that. Other bounds that pull to both
// sides leave nothing to say; one that does not matter leaves the value as it is. The uncertainty of the other readings moves the limit outward by two standard uncertainties, so that the
// bound holds with 97.5 %.
func (a *Analysis) derivedBound(id ID) (Value, bool) {
	at, bounds, ok := a.atLimits(id)
	if !ok {
		return Value{}, false
	}
	res := at.result(id)
	if math.IsNaN(res.value) {
		return Value{}, false
	}
	var sides [2]Set // readings with which the value lies below it, and above it
	for of := range bounds.All() {
		switch a.side(&at, id, of, res.value) {
		case Below:
			sides[0].Add(of)
		case Above:
			sides[1].Add(of)
		}
	}
	if !sides[0].Empty() && !sides[1].Empty() {
		for of := range bounds.All() {
			if a.m[of].Bound != Below {
				return Value{}, false
			}
		}
		for of := range sides[1].All() {
			at.Set(of, Measured{})
		}
		if res = at.result(id); math.IsNaN(res.value) {
			return Value{}, false
		}
		sides[1] = Set{}
	}
	out := Value{ID: id, Value: res.value, U: math.Hypot(res.u, at.modelUncertainty(id, res.value)), Derived: true, From: res.used.List(), Note: res.note(&at, id)}
	switch {
	case !sides[0].Empty():
		out.Bound = Below
	case !sides[1].Empty():
		out.Bound = Above
	}
	switch out.Bound {
	case Below:
		out.Value, out.U = out.Value+2*out.U, 0
	case Above:
		out.Value, out.U = out.Value-2*out.U, 0
	}
	return out, true
}

// result is a derived value of the readings; NaN where it has none.
func (a *Analysis) result(id ID) result {
	return a.results(1, func(r *resolver, _ int) float64 { return r.derived(id) }, nil)[0]
}

// atLimits is the analysis with the bounded readings that a value needs at their limits, and which these are; ok is false where the
// value needs more than them.
func (a *Analysis) atLimits(id ID) (at Analysis, bounds Set, ok bool) {
	at = *a
	for {
		r := resolver{a: &at}
		if !math.IsNaN(r.number(id)) {
			return at, bounds, !bounds.Empty()
		}
		more := false
		for of := range r.lack.All() {
			if m, ok := at.Measured(of); ok && m.Bound != Exact {
				at.Set(of, Measured{Value: m.Value})
				bounds.Add(of)
				more = true
			}
		}
		if !more {
			break
		}
	}
	// It may follow from another form of the reading that it lacks, as magnesium hardness from magnesium.
	at, bounds = *a, Set{}
	for of := range a.have.All() {
		if m := a.m[of]; m.Bound != Exact && of != id {
			at.Set(of, Measured{Value: m.Value})
		}
	}
	r := resolver{a: &at}
	if math.IsNaN(r.number(id)) {
		return at, bounds, false
	}
	for of := range r.used.All() {
		if a.m[of].Bound != Exact {
			bounds.Add(of)
		}
	}
	return at, bounds, !bounds.Empty()
}

// side is on which side of its value v, with a bounded reading at its limit, a derived value lies where that reading moves away
// from it: to nothing below its range, to twice the limit above. Exact where it does not matter.
func (a *Analysis) side(at *Analysis, id, of ID, v float64) Bound {
	moved := *at
	away := []float64{0, at.m[of].Value / 2}
	if a.m[of].Bound == Above {
		away = []float64{2 * at.m[of].Value}
	}
	for _, x := range away {
		moved.Set(of, Measured{Value: x})
		r := resolver{a: &moved}
		switch w := r.number(id); {
		case w < v:
			return Below
		case w > v:
			return Above
		case w == v:
			return Exact
		}
	}
	// It has no value there, as a ratio over nothing: it grows without end.
	return Above
}
