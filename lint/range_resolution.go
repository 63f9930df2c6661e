package lint

import (
	"strings"

	"wj/journal"
	"wj/water"
)

var rangeResolution = &Rule{
	Name: "range/resolution", Severity: Warning, Scope: Session, Reach: OfRecord, Check: checkRangeResolution,
	Title: "a reading has more decimals than the display shows",
}

func checkRangeResolution(p *Pass) {
	p.eachShown(func(r *journal.Reading, m *journal.Measures, q water.Quantity) {
		if !m.Resolution.Set || q.Expanded > 0 || q.Bound != water.Exact || q.Unit != m.Resolution.Unit || q.Decimals <= m.Resolution.Decimals {
			return
		}
		f := p.ReportReading(p.Session, r, "value", "%s has more decimals than the display, which goes in steps of %s", reads(q, r.Analyte), strings.TrimSpace(m.Resolution.Quantity.String()))
		p.blameRange(f, r, "resolution", "the readings have more decimals than this")
		if len(r.More) == 0 {
			f.Help("if it is a mean, write each replicate as shown: [%s, …]", water.Quantity{Value: q.Value, Decimals: m.Resolution.Decimals, Unit: q.Unit})
			return
		}
		f.Help("write the digits that the display showed")
	})
}
