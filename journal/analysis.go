package journal

import (
	"fmt"
	"math"
	"strings"
	"time"

	"wj/water"
)

// Factor is what the mean of a reading's replicates is multiplied by: the
// dilution, or 1 for what no dilution scales (water.ID.Scales).
func (r *Reading) Factor() float64 {
	if r.Dilution == 0 || !r.Analyte.Scales() {
		return 1
	}
	return r.Dilution
}

// Result is what a reading says: the mean of its replicates times its factor,
// in the unit as typed. Any bound among the replicates makes the result a bound.
func (r *Reading) Result() (value float64, bound water.Bound) {
	sum := r.First.Value
	bound = r.First.Bound
	for i := range r.More {
		q := &r.More[i]
		v := q.Value
		if q.Unit != r.First.Unit {
			v, _ = r.Analyte.Info().Convert(q.Value, q.Unit, r.First.Unit)
		}
		sum += v
		if bound == water.Exact {
			bound = q.Bound
		}
	}
	return sum / float64(1+len(r.More)) * r.Factor(), bound
}

// Measures is what the reading's meter, or else its method, declares for the
// analyte; nil where nothing is declared.
func (j *Journal) Measures(s *Session, r *Reading) *Measures {
	name := r.Instrument
	if name == "" {
		name = s.Instrument
	}
	if name == "" && s.Source != SourceBench {
		name = j.laboratory(s)
	}
	var out *Measures
	if in, ok := j.Instruments.Get(name); ok {
		out = in.Measures[r.Analyte]
	}
	method := r.Method
	if method == "" && out != nil {
		method = out.Method
	}
	if m, ok := j.Methods.Get(method); ok {
		if mm := m.Measures[r.Analyte]; mm != nil && (out == nil || r.Method != "") {
			return mm
		}
	}
	return out
}

// laboratory is the id of the instrument record, of the sort laboratory, that
// declares what the laboratory or supplier of a session promises: found by its id
// or its name; "" where there is none. An accreditation names these figures.
func (j *Journal) laboratory(s *Session) string {
	for _, in := range j.Instruments.List {
		if in.Sort == "laboratory" && in.Void == nil && s.Laboratory != "" && (strings.EqualFold(in.ID, s.Laboratory) || strings.EqualFold(in.Name, s.Laboratory)) {
			return in.ID
		}
	}
	return ""
}

// Uncertainty is the standard uncertainty of a single reading's result in the
// analyte's standard unit: from its own ±, else from what the meter, method or
// laboratory promises, else (assumed) from what such a test usually reaches, or
// by what laboratories differ ([water.Analyte.Outside]). Replicates
// do not shrink it: the bias of a lot or a calibration does not average out.
func (j *Journal) Uncertainty(s *Session, r *Reading) (u float64, assumed bool) {
	info := r.Analyte.Info()
	d := r.Factor()
	scale := 1.0
	if r.First.Unit != info.Unit {
		one, err := info.Convert(1, r.First.Unit, info.Unit)
		zero := 0.0
		if info.Unit.Family() == water.Temperature {
			zero, _ = info.Convert(0, r.First.Unit, info.Unit)
		}
		if err != nil {
			return math.NaN(), true
		}
		scale = one - zero
	}
	if r.First.Expanded > 0 {
		return r.First.Expanded / 2 * scale * d, false
	}
	value, _ := r.Result()
	raw := info.Standard(water.Quantity{Value: value / d, Unit: r.First.Unit})
	if m := j.Measures(s, r); m != nil && m.HasAccuracy {
		return m.Accuracy.Uncertainty(raw, d), false
	}
	if s.Source != SourceBench {
		accuracy, _ := info.Outside()
		return accuracy.Uncertainty(raw, d), true
	}
	return info.Typical.Uncertainty(raw, d), true
}

// Measured is a reading as an analysis takes it; ok is false for a reading
// that could not be read.
func (j *Journal) Measured(s *Session, r *Reading) (water.Measured, bool) {
	if r.Faulty {
		return water.Measured{}, false
	}
	value, bound := r.Result()
	m := water.Measured{Bound: bound, Value: r.Analyte.Info().Standard(water.Quantity{Value: value, Unit: r.First.Unit})}
	if math.IsNaN(m.Value) {
		return m, false
	}
	m.U, m.Assumed = j.Uncertainty(s, r)
	j.share(s, r, &m)
	return m, true
}

// share says what part of a bench reading's error it has in common with other
// readings: all that is not repeatability comes from the reagent lot or, for a
// probe, from the meter. Replicates shrink only a repeatability that the meter
// declares.
func (j *Journal) share(s *Session, r *Reading, m *water.Measured) {
	if s.Source != SourceBench || m.Bound != water.Exact {
		return
	}
	meter := r.Instrument
	if meter == "" {
		meter = s.Instrument
	}
	switch {
	case r.Lot != "":
		m.Shared = "lot " + r.Lot
	case meter != "":
		m.Shared = "meter " + meter + " " + r.Analyte.String()
	default:
		return
	}
	repeat, n := 0.0, 1
	if declared := j.Measures(s, r); declared != nil && declared.Repeatability != (water.Accuracy{}) {
		d := r.Factor()
		repeat = (declared.Repeatability.Absolute + declared.Repeatability.Relative*math.Abs(m.Value/d)) * d
		n = r.Replicates()
	}
	m.U, m.SharedU = water.Replicates(m.U, repeat, n)
}

// Analysis fills a with the session's readings and their uncertainties.
func (j *Journal) Analysis(s *Session, a *water.Analysis) {
	a.Reset()
	for i := range s.Readings {
		if m, ok := j.Measured(s, &s.Readings[i]); ok {
			a.Set(s.Readings[i].Analyte, m)
		}
	}
}

// Values fills a with the session's readings without their uncertainties,
// which cost more and are seldom asked for.
func Values(s *Session, a *water.Analysis) {
	a.Reset()
	for i := range s.Readings {
		r := &s.Readings[i]
		if r.Faulty {
			continue
		}
		value, bound := r.Result()
		info := r.Analyte.Info()
		if r.First.Unit != info.Unit {
			value = info.Standard(water.Quantity{Value: value, Unit: r.First.Unit})
		}
		if !math.IsNaN(value) {
			a.Set(r.Analyte, water.Measured{Bound: bound, Value: value})
		}
	}
}

// Regime is the supply regime of a site on the day of a session; "" where the
// site declares none.
func (s *Site) Regime(at time.Time) string {
	for _, p := range s.Supply {
		if p.Covers(at) {
			return p.Regime
		}
	}
	return ""
}

// Preferred is the unit in which people of the owner like to read a value:
// the owner's, else the journal's, else the standard unit.
func (j *Journal) Preferred(owner string, id water.ID) water.Unit {
	if o, ok := j.Owners.Get(owner); ok {
		if u, ok := o.Units[id]; ok {
			return u
		}
	}
	if u, ok := j.Settings.Units[id]; ok {
		return u
	}
	return id.Info().Unit
}

// TypedReading writes a reading as it was typed: "21 mg/L, 22 mg/L × 2"; of what
// no dilution scales "7.4 in a sample diluted 2-fold".
func TypedReading(r *Reading) string {
	text := r.First.String()
	if len(r.More) > 0 {
		for i := range r.More {
			text += ", " + r.More[i].String()
		}
	}
	switch {
	case r.Dilution == 1 || r.Dilution == 0:
	case r.Analyte.Scales():
		text += fmt.Sprintf(" × %g", r.Dilution)
	default:
		text += fmt.Sprintf(" in a sample diluted %g-fold", r.Dilution)
	}
	return text
}

// PersonName is the name of a person, or the id where there is no record.
func (j *Journal) PersonName(id string) string {
	if p, ok := j.People.Get(id); ok && p.Name != "" {
		return p.Name
	}
	return id
}
