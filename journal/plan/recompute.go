package plan

import (
	"fmt"
	"math"
	"strings"

	"wj/journal"
	"wj/water"
)

// Version names the arithmetic of predictions. It changes when the same records
// would give other figures, and is printed with every result.
const Version = "wj-treat-3"

// Difference is an expectation that is not what the change computes to.
type Difference struct {
	Expected journal.Expected
	Computed water.Value
	Why      string // where it could not be computed
	Spread   bool   // only the half-width differs
	Words    string
}

// halfWidths is by what factor a written half-width may differ from the
// computed one: how much of a meter's accuracy two readings share is a
// judgement, and it moves a half-width by up to the root of two.
const halfWidths = 1.5

// Recompute holds what a change expects against what its basis sessions and
// additions give. Figures that differ by no more than one step of their last
// written digit are the same, and so are half-widths of one size.
func (b *Book) Recompute(w *Work) []Difference {
	var out []Difference
	for _, x := range w.Change.Expect {
		d := Difference{Expected: x}
		info := x.Name.Info()
		v, err := w.expected(x.Name)
		if err != nil {
			d.Why = err.Error()
			d.Words = fmt.Sprintf("%s is expected, and cannot be computed: %v", x.Name, err)
			out = append(out, d)
			continue
		}
		d.Computed = v
		step := math.Pow(10, -float64(x.Value.Decimals))
		high := x.Value
		high.Value += step
		written := info.Standard(x.Value)
		tolerance := math.Abs(info.Standard(high)-written) * (1 + 1e-9)
		spread := x.Value.Expanded * math.Abs(info.Standard(high)-written) / step
		if x.Value.Bound != water.Exact || math.IsNaN(written) {
			d.Words = fmt.Sprintf("%s is expected as %s, and an expectation is a number with its ±: %s", x.Name, x.Value, Text(v))
			out = append(out, d)
			continue
		}
		ratio := math.Max(spread/v.Expanded(), v.Expanded()/spread)
		off := math.Abs(v.Value-written) > tolerance
		if d.Spread = !off && spread > 0 && v.U > 0 && ratio > halfWidths && math.Abs(v.Expanded()-spread) > tolerance; off || d.Spread {
			d.Words = fmt.Sprintf("%s: %s is written, %s is computed (%s)", x.Name, x.Value, Text(v), Version)
			out = append(out, d)
		}
	}
	return out
}

// AsSampled is the work of what a sample of the tank holds, before what goes into
// the mash with the grist and into the kettle.
func (w *Work) AsSampled() *Work {
	p := w.Prediction.Plan.AsSampled()
	if len(p.Additions) == len(w.Prediction.Plan.Additions) {
		return w
	}
	out := *w
	prediction, err := predict(p)
	if err != nil {
		return w
	}
	out.Prediction = prediction
	return &out
}

// expected is a value as a change expects it of a sample of the tank: where solids make a range, the
// middle of it with a half-width that reaches both ends.
func (w *Work) expected(id water.ID) (water.Value, error) {
	r, err := w.AsSampled().Range(id)
	v := r.Value
	if err == nil && r.Solids() {
		v.Value, v.U = (r.Low+r.High)/2, (r.High-r.Low)/4
	}
	return v, err
}

// Text writes a value ± its 95 % half-width with its unit, as expect: has it.
func Text(v water.Value) string {
	value, half := spread(v)
	text := value
	if half != "" {
		text += " ± " + half
	}
	if unit := v.ID.Info().Unit; !unit.IsNone() {
		text += " " + unit.String()
	}
	return text
}

// spread rounds a value to whole units of its half-width, or finer where that
// is below one: the half-width with one digit, two where it begins with a 1.
func spread(v water.Value) (value, half string) {
	u := v.Expanded()
	if !(u > 0) {
		return water.Round(v.Value, 3), ""
	}
	decimals := 0
	for scaled := u; scaled < 0.95 && decimals < 6; scaled *= 10 {
		decimals++
	}
	value = fmt.Sprintf("%.*f", decimals, v.Value)
	if strings.Trim(value, "-0.") == "" {
		value = strings.TrimPrefix(value, "-")
	}
	return value, fmt.Sprintf("%.*f", decimals, u)
}

// Expect lists what a change should expect: calcium, sulfate, chloride,
// alkalinity, residual alkalinity, and what else the additions change, as far as
// it can be computed.
func (b *Book) Expect(w *Work) []journal.Entry {
	var out []journal.Entry
	for _, id := range b.Values(w.Change) {
		v, err := w.expected(id)
		if err != nil {
			continue
		}
		switch id {
		case water.Calcium, water.Sulfate, water.Chloride, water.Alkalinity, water.ResidualAlkalinity:
		default:
			if blend, err := w.Prediction.Blend(id); err != nil || math.Abs(v.Value-blend.Value) < 1e-6 {
				continue
			}
		}
		out = append(out, journal.Entry{Key: id.String(), Value: Text(v)})
	}
	return out
}
