package lint

import (
	"math"

	"wj/journal"
	"wj/water"
)

var sampleReplicates = &Rule{
	Name: "sample/replicates", Severity: Warning, Scope: Session, Reach: OfRecord, Check: checkReplicates,
	Title:    "replicates of one sample differ by more than the method repeats",
	Settings: []Threshold{{"difference", "10 %", "%", "of the mean, where it is more than the method's accuracy"}},
}

// checkReplicates allows two replicates to differ by 10 % of their mean, or by
// the method's 95 % accuracy near the low end, whichever is more (after SM 1020
// and common practice); more replicates by their range, widened by f(n)/f(2) of
// ISO 5725-6:1994, 5.2.2. Where the method states its repeatability the critical
// range of ISO 5725-6 at 99 % is taken instead.
func checkReplicates(p *Pass) {
	s := p.Session
	for i := range s.Readings {
		r := &s.Readings[i]
		if r.Faulty || len(r.More) == 0 {
			continue
		}
		values := []float64{standard(r, r.First)}
		exact := r.First.Bound == water.Exact
		for k := range r.More {
			values = append(values, standard(r, r.More[k]))
			exact = exact && r.More[k].Bound == water.Exact
		}
		low, high, sum := values[0], values[0], 0.0
		for _, v := range values {
			low, high, sum = math.Min(low, v), math.Max(high, v), sum+v
		}
		if !exact || math.IsNaN(sum) || high == low {
			continue
		}
		allowed, source := p.replicateLimit(s, r, sum/float64(len(values)), len(values))
		if high-low <= allowed {
			continue
		}
		p.ReportReading(s, r, "value", "replicates of %s differ by %s, more than %s (%s)", journal.TypedReading(r), show(r.Analyte, high-low), show(r.Analyte, allowed), source).
			Help("make a third test in a clean cell and keep all three: the mean of two that disagree is nobody's result")
	}
}

func (p *Pass) replicateLimit(s *journal.Session, r *journal.Reading, mean float64, n int) (float64, string) {
	if m := p.Journal.Measures(s, r); m != nil {
		if sr := m.Repeatability.Absolute + m.Repeatability.Relative*math.Abs(mean); sr > 0 {
			return p.run.facts.criticalRange(0.99, n) * sr, "critical range of ISO 5725-6 from the method's repeatability"
		}
	}
	wider := p.run.facts.criticalRange(0.95, n) / p.run.facts.criticalRange(0.95, 2)
	relative := 0.0
	if r.Analyte != water.PHValue && r.Analyte != water.SampleTemperature {
		relative = p.Setting("difference") / 100 * math.Abs(mean)
	}
	accuracy := 2 * r.Analyte.Info().Typical.Uncertainty(mean, 1)
	if m := p.Journal.Measures(s, r); m != nil && m.HasAccuracy {
		accuracy = 2 * m.Accuracy.Uncertainty(mean, 1)
	}
	if relative > accuracy {
		return wider * relative, plain(p.Setting("difference")) + " % of the mean"
	}
	return wider * accuracy, "the method's accuracy at this level"
}
