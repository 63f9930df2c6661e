package lint

import (
	"wj/journal"
	"wj/journal/judge"
	"wj/water"
)

var rangeOver = &Rule{
	Name: "range/over", Severity: Error, Scope: Session, Reach: OfRecord, Check: checkRangeOver,
	Title: "a reading at or above the top of the method's range is written as a number",
}

func checkRangeOver(p *Pass) {
	p.eachShown(func(r *journal.Reading, m *journal.Measures, q water.Quantity) {
		if m.High.Set && q.Bound == water.Above && standard(r, q) < 0.95*standard(r, m.High.Quantity) {
			f := p.ReportReading(p.Session, r, "value", "%s is not what is above the range of %s, which ends at %s", reads(q, r.Analyte), rangeOf(p.Session, r), m.High.Quantity)
			f.d.Bars = false
			p.as(f, Warning).Help("write the number that the display showed, or >%s where it ran over; below the range it is <", m.High.Quantity)
			return
		}
		if !m.High.Set || q.Bound != water.Exact {
			return
		}
		shown, top := standard(r, q), standard(r, m.High.Quantity)
		if shown < top*(1-1e-9) {
			return
		}
		f := p.ReportReading(p.Session, r, "value", "%s is at or above the top of the range of %s, %s", reads(q, r.Analyte), rangeOf(p.Session, r), m.High.Quantity)
		p.blameRange(f, r, "range", "the readings are beyond this range")
		if r.Analyte == water.PHValue {
			f.Help("write >%s: the meter saturates there; use a method that reads higher", m.High.Quantity)
			return
		}
		f.Help("write >%s: the meter saturates there; then dilute the sample, repeat, and write the dilution", m.High.Quantity)
	})
}

// standard is a quantity as shown, before dilution, in the analyte's standard
// unit.
func standard(r *journal.Reading, q water.Quantity) float64 { return r.Analyte.Info().Standard(q) }

// eachShown calls do for each value that a meter of the brewery's own showed,
// replicates one by one, where the meter or method declares its range.
func (p *Pass) eachShown(do func(r *journal.Reading, m *journal.Measures, q water.Quantity)) {
	s := p.Session
	if !judge.Bench(s) {
		return
	}
	for i := range s.Readings {
		r := &s.Readings[i]
		if r.Faulty {
			continue
		}
		m := p.Journal.Measures(s, r)
		if m == nil {
			continue
		}
		do(r, m, r.First)
		for k := range r.More {
			do(r, m, r.More[k])
		}
	}
}

// meterName names the meter of a reading for a message.
func meterName(p *Pass, s *journal.Session, r *journal.Reading) string {
	if id := judge.MeterOf(s, r); id != "" {
		return id
	}
	return "the method"
}

// rangeOf is whose range a reading is held against: the method's where the
// reading names one, else the meter's.
func rangeOf(s *journal.Session, r *journal.Reading) string {
	if r.Method != "" {
		return "method " + r.Method
	}
	if name := judge.MeterOf(s, r); name != "" {
		return name
	}
	return "the method"
}
