package water

import (
	"fmt"
	"math"
)

// Measured is one result of an analysis in the analyte's standard unit.
type Measured struct {
	Bound Bound
	Value float64
	U     float64 // standard uncertainty
	// Shared names what part of the error is shared with: readings with the same
	// name, in this analysis or another, are wrong by it together, each by its own
	// SharedU (a reagent lot, a meter). Empty: the error is the reading's own.
	Shared string
	// SharedU is the part of U that is shared; the rest, in quadrature, is the
	// reading's own. With a name and 0 here, all of U is shared.
	SharedU float64
	Assumed bool // U is the analyte's typical accuracy: nothing was declared
}

// split divides the uncertainty into what is the reading's own and what it
// shares; their squares add up to U squared.
func (m *Measured) split() (own, shared float64) {
	if m.Shared == "" {
		return m.U, 0
	}
	if m.SharedU <= 0 || m.SharedU >= m.U {
		return 0, m.U
	}
	return math.Sqrt(m.U*m.U - m.SharedU*m.SharedU), m.SharedU
}

// Value is a measured or derived value in the standard unit of its name.
type Value struct {
	ID      ID
	Bound   Bound
	Value   float64
	U       float64 // standard uncertainty
	Derived bool
	From    []ID   // the readings that it came from
	Note    string // what was assumed
}

// Expanded is the half-width of the 95 % interval, coverage factor 2 (GUM 6.3.3).
func (v Value) Expanded() float64 { return 2 * v.U }

// Analysis is what was measured in one water. The zero Analysis is empty and
// ready to use. Reading from one Analysis in several goroutines is safe while
// none calls Set or Reset.
type Analysis struct {
	m    [NumAnalytes]Measured
	have Set // those that were measured
}

// Set records a measured value. A value that is not a number is not recorded;
// an uncertainty that is negative or not a number counts as none.
func (a *Analysis) Set(id ID, m Measured) {
	if id >= NumAnalytes || math.IsNaN(m.Value) || math.IsInf(m.Value, 0) {
		return
	}
	if !(m.U >= 0) || math.IsInf(m.U, 0) {
		m.U = 0
	}
	a.m[id] = m
	a.have.Add(id)
}

// Reset makes the analysis empty.
func (a *Analysis) Reset() { a.have = Set{} }

// Measured is the reading of an analyte, if there is one.
func (a *Analysis) Measured(id ID) (Measured, bool) {
	if !a.have.Has(id) {
		return Measured{}, false
	}
	return a.m[id], true
}

// Has reports whether the analyte was measured as a number, not as a bound.
func (a *Analysis) Has(id ID) bool {
	return a.have.Has(id) && a.m[id].Bound == Exact
}

// bound is the bound of a reading; ok is false where there is no reading.
func (a *Analysis) bound(id ID) (b Bound, ok bool) {
	if !a.have.Has(id) {
		return Exact, false
	}
	return a.m[id].Bound, true
}

// Absent says why a value is not available.
type Absent struct {
	ID     ID
	Reason string
}

func (e *Absent) Error() string { return fmt.Sprintf("no %s: %s", e.ID, e.Reason) }

// Number is the measured or derived value as a bare number in the standard
// unit, NaN where it is not available or is only a bound. It computes nothing but
// what the value needs, and allocates nothing unless that is a speciation.
func (a *Analysis) Number(id ID) float64 {
	if a.Has(id) {
		return a.m[id].Value
	}
	r := resolver{a: a}
	return r.number(id)
}

// Value is the measured value, or else the derived one with its standard
// uncertainty and what it came from. The error is *Absent where it cannot be
// had.
func (a *Analysis) Value(id ID) (Value, error) {
	if m, ok := a.Measured(id); ok {
		return Value{ID: id, Bound: m.Bound, Value: m.Value, U: m.U, From: []ID{id}}, nil
	}
	return a.Derive(id)
}

// Derive computes a value from the other readings even where it was measured
// as well, with its standard uncertainty. The error is *Absent where it cannot
// be had. Several values together cost less by DeriveAll.
func (a *Analysis) Derive(id ID) (Value, error) {
	d := a.DeriveAll(id)[0]
	return d.Value, d.Err
}

// Derivation is a derived value, or an *Absent error that says why there is
// none.
type Derivation struct {
	Value
	Err error
}

// DeriveAll computes several values, in the order asked. The speciation of the
// water, and of each water that differs from it by one uncertainty, is done
// once for all of them, and only if one of them needs it.
func (a *Analysis) DeriveAll(ids ...ID) []Derivation {
	results := a.results(len(ids), func(r *resolver, i int) float64 { return r.derived(ids[i]) }, nil)
	out := make([]Derivation, len(ids))
	for i, id := range ids {
		res := &results[i]
		if math.IsNaN(res.value) {
			if b, ok := a.derivedBound(id); ok {
				out[i].Value = b
			} else {
				out[i].Err = &Absent{id, res.reason(a, id)}
			}
			continue
		}
		out[i].Value = Value{ID: id, Value: res.value, U: math.Hypot(res.u, a.modelUncertainty(id, res.value)), Derived: true,
			From: res.used.List(), Note: res.note(a, id)}
	}
	return out
}
