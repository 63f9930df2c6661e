package plan

import (
	"math"

	"wj/journal"
	"wj/water"
	"wj/water/treat"
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

// TargetCheck is one value of a liquor held against its target, all in the
// analyte's standard unit.
type TargetCheck struct {
	ID       water.ID
	Value    water.Value
	Range    treat.Range // the value with its interval over all that solids may do
	Known    bool        // Value is there
	Why      string      // where it is not
	Min, Max float64     // NaN where there is none
	// Margin is the distance to the nearest limit in standard uncertainties, negative outside; NaN where there is no limit or no
	// uncertainty.
	Margin float64
}

// Limited reports whether the target limits the value.
func (v TargetCheck) Limited() bool { return !math.IsNaN(v.Min) || !math.IsNaN(v.Max) }

// Inside reports whether the value keeps its limits. A value that is not known
// keeps none.
func (v TargetCheck) Inside() bool {
	if !v.Limited() {
		return true
	}
	least, most := v.ends()
	return v.Known && !(least < v.Min) && !(most > v.Max)
}

// ends are the least and the largest value that solids may leave.
func (v TargetCheck) ends() (least, most float64) {
	return math.Min(v.Value.Value, math.Min(v.Range.None, v.Range.Tank)), math.Max(v.Value.Value, math.Max(v.Range.None, v.Range.Tank))
}

// Worst is the value at the end of what solids may do that lies farthest out of
// the limits, or nearest to one; the value itself where solids change nothing.
func (v TargetCheck) Worst() float64 {
	least, most := v.ends()
	switch {
	case math.IsNaN(v.Max) && math.IsNaN(v.Min):
		return v.Value.Value
	case math.IsNaN(v.Max) || v.Min-least > most-v.Max:
		return least
	}
	return most
}

// Verdict holds one value of a work against the range that the change's target
// gives it.
func (b *Book) Verdict(w *Work, id water.ID) TargetCheck {
	v := TargetCheck{ID: id}
	v.Min, v.Max, _ = b.Range(w.Change, id)
	r, err := w.Range(id)
	v.Value, v.Range, v.Known = r.Value, r, err == nil
	if err != nil {
		v.Why = err.Error()
	}
	v.Margin = margin(v)
	return v
}

func margin(v TargetCheck) float64 {
	if !v.Known || !(v.Value.U > 0) {
		return math.NaN()
	}
	d := math.Inf(1)
	least, most := v.ends()
	if !math.IsNaN(v.Min) {
		d = math.Min(d, least-v.Min)
	}
	if !math.IsNaN(v.Max) {
		d = math.Min(d, v.Max-most)
	}
	if math.IsInf(d, 1) {
		return math.NaN()
	}
	return d / v.Value.U
}

// Verdicts holds all values of a work against the target.
func (b *Book) Verdicts(w *Work) []TargetCheck {
	var out []TargetCheck
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
	if !ok || c.Tank == tankSparge && (id == water.ResidualAlkalinity || id == water.Alkalinity || id == water.PHValue) {
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
	r, err := w.Range(id)
	return r.Value, err
}

// Range is a value of the treated liquor with its interval of 95 %, over all
// that solids may do.
func (w *Work) Range(id water.ID) (treat.Range, error) {
	r, err := w.Prediction.Range(id)
	if err == nil || !equilibrium[id] {
		return r, err
	}
	e, err := w.Prediction.Equilibrate()
	if err != nil {
		return treat.Range{}, err
	}
	plain := func(v water.Value, in treat.Interval) treat.Range {
		return treat.Range{Value: v, Low: in.Low, High: in.High, None: v.Value, Tank: v.Value, Full: v.Value}
	}
	even := func(v water.Value) treat.Range {
		return plain(v, treat.Interval{Low: v.Value - v.Expanded(), High: v.Value + v.Expanded()})
	}
	switch id {
	case water.PHValue:
		return plain(e.PH, e.PHRange), nil
	case water.SaturationIndex:
		return plain(e.Calcite, e.CalciteRange), nil
	case water.ElectricalConductivity:
		return even(e.Conductivity), nil
	default:
		return even(e.CarbonDioxide), nil
	}
}

// equilibrium holds the values that do not follow from the blend alone.
var equilibrium = map[water.ID]bool{water.PHValue: true, water.SaturationIndex: true, water.ElectricalConductivity: true, water.CarbonDioxide: true}
