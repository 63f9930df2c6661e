package plan

import (
	"math"

	"wj/journal"
	"wj/water"
)

// shown are the values that every review shows.
var shown = []water.ID{water.Calcium, water.Magnesium, water.Sodium, water.Chloride, water.Sulfate, water.Alkalinity, water.ResidualAlkalinity}

// Values lists what is to be shown of a change: the usual ions, what its
// target limits, and what it expects.
func (b *Book) Values(c *journal.Change) []water.ID {
	out := append([]water.ID(nil), shown...)
	add := func(id water.ID) {
		for _, known := range out {
			if known == id {
				return
			}
		}
		out = append(out, id)
	}
	if t, ok := b.j.Targets.Get(c.For); ok {
		for i := range t.Ranges {
			if !t.Ranges[i].Mash {
				add(t.Ranges[i].Analyte)
			}
		}
	}
	for _, x := range c.Expect {
		add(x.Name)
	}
	return out
}

// Verdict is one value of a liquor held against its target, all in the
// analyte's standard unit.
type Verdict struct {
	ID       water.ID
	Value    water.Value
	Known    bool    // Value is there
	Why      string  // where it is not
	Min, Max float64 // NaN where there is none
	// Margin is the distance to the nearest limit in standard uncertainties, negative outside; NaN where there is no limit or no
	// uncertainty.
	Margin float64
}

// Limited reports whether the target limits the value.
func (v Verdict) Limited() bool { return !math.IsNaN(v.Min) || !math.IsNaN(v.Max) }

// Inside reports whether the value keeps its limits. A value that is not known
// keeps none.
func (v Verdict) Inside() bool {
	if !v.Limited() {
		return true
	}
	return v.Known && !(v.Value.Value < v.Min) && !(v.Value.Value > v.Max)
}

// Verdict holds one value of a work against the range that the change's target
// gives it.
func (b *Book) Verdict(w *Work, id water.ID) Verdict {
	v := Verdict{ID: id}
	v.Min, v.Max, _ = b.Range(w.Change, id)
	value, err := w.Value(id)
	v.Value, v.Known = value, err == nil
	if err != nil {
		v.Why = err.Error()
	}
	v.Margin = margin(v)
	return v
}

func margin(v Verdict) float64 {
	if !v.Known || !(v.Value.U > 0) {
		return math.NaN()
	}
	d := math.Inf(1)
	if !math.IsNaN(v.Min) {
		d = math.Min(d, v.Value.Value-v.Min)
	}
	if !math.IsNaN(v.Max) {
		d = math.Min(d, v.Max-v.Value.Value)
	}
	if math.IsInf(d, 1) {
		return math.NaN()
	}
	return d / v.Value.U
}

// Verdicts holds all values of a work against the target.
func (b *Book) Verdicts(w *Work) []Verdict {
	var out []Verdict
	for _, id := range b.Values(w.Change) {
		out = append(out, b.Verdict(w, id))
	}
	return out
}

// Range is what the change's target wants of a value, in its standard unit;
// NaN where a limit is not set.
func (b *Book) Range(c *journal.Change, id water.ID) (low, high, aim float64) {
	low, high, aim = math.NaN(), math.NaN(), math.NaN()
	t, ok := b.j.Targets.Get(c.For)
	if !ok {
		return low, high, aim
	}
	for i := range t.Ranges {
		r := &t.Ranges[i]
		if r.Mash || r.Analyte != id {
			continue
		}
		read := func(q journal.Bounded) float64 {
			if !q.Set {
				return math.NaN()
			}
			return id.Info().Standard(q.Quantity)
		}
		return read(r.Min), read(r.Max), read(r.Aim)
	}
	return low, high, aim
}

// Value is a value of the treated liquor.
func (w *Work) Value(id water.ID) (water.Value, error) {
	v, err := w.Prediction.Value(id)
	if err == nil || !equilibrium[id] {
		return v, err
	}
	e, err := w.Prediction.Equilibrate()
	if err != nil {
		return water.Value{}, err
	}
	switch id {
	case water.PHValue:
		return e.PH, nil
	case water.SaturationIndex:
		return e.Calcite, nil
	case water.ElectricalConductivity:
		return e.Conductivity, nil
	default:
		return e.CarbonDioxide, nil
	}
}

// equilibrium holds the values that do not follow from the blend alone.
var equilibrium = map[water.ID]bool{water.PHValue: true, water.SaturationIndex: true, water.ElectricalConductivity: true, water.CarbonDioxide: true}
