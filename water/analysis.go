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
	// Shared names what the error is shared with: readings with the same name,
	// in this analysis or another, are wrong by the same share of their U (a
	// reagent lot, a meter). Empty: the error is the reading's own.
	Shared  string
	Assumed bool // U is the analyte's typical accuracy: nothing was declared
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
// ready to use.
type Analysis struct {
	m    [NumAnalytes]Measured
	have uint64 // bit i: m[i] was measured
}

// Set records a measured value.
func (a *Analysis) Set(id ID, m Measured) {
	if id < NumAnalytes {
		a.m[id] = m
		a.have |= 1 << id
	}
}

// Reset makes the analysis empty.
func (a *Analysis) Reset() { a.have = 0 }

// Measured is the reading of an analyte, if there is one.
func (a *Analysis) Measured(id ID) (Measured, bool) {
	if id >= NumAnalytes || a.have&(1<<id) == 0 {
		return Measured{}, false
	}
	return a.m[id], true
}

// Has reports whether the analyte was measured as a number, not as a bound.
func (a *Analysis) Has(id ID) bool {
	return id < NumAnalytes && a.have&(1<<id) != 0 && a.m[id].Bound == Exact
}

// Absent says why a value cannot be had.
type Absent struct {
	ID     ID
	Reason string
}

func (e *Absent) Error() string { return fmt.Sprintf("no %s: %s", e.ID, e.Reason) }

// Number is the measured or derived value as a bare number in the standard
// unit, NaN where it cannot be had or is only a bound.
func (a *Analysis) Number(id ID) float64 {
	if a.Has(id) {
		return a.m[id].Value
	}
	v, _ := a.derive(id, nil)
	return v
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
// as well. Its uncertainty follows the law of propagation (GUM 5.1.2 and
// 5.2.2): each independent error source is moved by its standard uncertainty
// in turn and the changes are added in quadrature (Kragten 1994, Analyst 119,
// 2161), so that a reading that enters twice counts as the one error it is.
func (a *Analysis) Derive(id ID) (Value, error) {
	var used uint64
	v, why := a.derive(id, &used)
	if why != nil {
		if b, ok := a.scaledBound(id); ok {
			return b, nil
		}
		return Value{}, &Absent{id, why.reason(a)}
	}
	out := Value{ID: id, Value: v, Derived: true, Note: a.note(id)}
	for i := ID(0); i < NumAnalytes; i++ {
		if used&(1<<i) != 0 {
			out.From = append(out.From, i)
		}
	}
	out.U = a.spread(out.From, func(b *Analysis) float64 { x, _ := b.derive(id, nil); return x }, v)
	return out, nil
}

// Spread is the standard uncertainty of any function f of this analysis that
// rests on the readings named.
func (a *Analysis) Spread(from []ID, f func(*Analysis) float64) float64 {
	return a.spread(from, f, f(a))
}

func (a *Analysis) spread(from []ID, f func(*Analysis) float64, at float64) float64 {
	b := *a
	sum := 0.0
	for i, id := range from {
		m := a.m[id]
		if m.Shared != "" && sharedEarlier(a, from[:i], m.Shared) {
			continue // moved together with the first of its kind
		}
		b.m[id].Value = m.Value + m.U
		if m.Shared != "" {
			for _, other := range from[i+1:] {
				if a.m[other].Shared == m.Shared {
					b.m[other].Value = a.m[other].Value + a.m[other].U
				}
			}
		}
		d := f(&b) - at
		if m.U != 0 && !math.IsNaN(d) {
			sum += d * d
		}
		b = *a
	}
	return math.Sqrt(sum)
}

func sharedEarlier(a *Analysis, from []ID, name string) bool {
	for _, id := range from {
		if a.m[id].Shared == name {
			return true
		}
	}
	return false
}

// scaledBound carries a bound through the derivations that only scale one
// reading: calcium from calcium hardness, bicarbonate from alkalinity.
func (a *Analysis) scaledBound(id ID) (Value, bool) {
	var from ID
	switch id {
	case Calcium:
		from = CalciumHardness
	case CalciumHardness:
		from = Calcium
	case Magnesium:
		from = MagnesiumHardness
	case MagnesiumHardness:
		from = Magnesium
	default:
		return Value{}, false
	}
	m, ok := a.Measured(from)
	if !ok || m.Bound == Exact {
		return Value{}, false
	}
	// One mole of calcium (magnesium) stands for one of CaCO3.
	return Value{ID: id, Bound: m.Bound, Value: m.Value * table[id].MolarMass / table[from].MolarMass, Derived: true, From: []ID{from}}, true
}
