package lint

import (
	"wj/journal"
	"wj/water"
)

var rangeUnder = &Rule{
	Name: "range/under", Severity: Warning, Scope: Session, Reach: OfRecord, Check: checkRangeUnder,
	Title: "a reading below the bottom of the method's range is written as a number",
}

func checkRangeUnder(p *Pass) {
	p.eachShown(func(r *journal.Reading, m *journal.Measures, q water.Quantity) {
		if m.Low.Set && q.Bound == water.Below && r.Factor() == 1 && standard(r, q) > standard(r, m.Low.Quantity)*(1+1e-9) {
			p.ReportReading(p.Session, r, "value", "%s is not what is below the range of %s, which starts at %s", reads(q, r.Analyte), rangeOf(p.Session, r), m.Low.Quantity).
				Help("write the number that the display showed, or <%s where it showed none; above the range it is >", m.Low.Quantity)
			return
		}
		if !m.Low.Set || q.Bound != water.Exact || standard(r, q) >= standard(r, m.Low.Quantity)*(1-1e-9) {
			return
		}
		f := p.ReportReading(p.Session, r, "value", "%s is below the range of %s, which starts at %s", reads(q, r.Analyte), rangeOf(p.Session, r), m.Low.Quantity).
			Help("write <%s: below its range the method cannot distinguish a value from nothing", m.Low.Quantity)
		p.blameRange(f, r, "range", "the readings are below this range")
	})
}
