package lint

import (
	"slices"
	"strings"

	"wj/journal/judge"
	"wj/water"
)

var unitInstrument = &Rule{
	Name: "unit/instrument", Severity: Warning, Scope: Session, Reach: OfRecord, Check: checkUnitInstrument,
	Title: "a reading is in a unit that the meter's display cannot show",
}

func checkUnitInstrument(p *Pass) {
	s := p.Session
	if !judge.Bench(s) {
		return
	}
	for i := range s.Readings {
		r := &s.Readings[i]
		m := p.Journal.Measures(s, r)
		if r.Faulty || m == nil || len(m.Units) == 0 || r.First.Unit.IsNone() || slices.Contains(m.Units, r.First.Unit) {
			continue
		}
		shown := make([]string, len(m.Units))
		for k, u := range m.Units {
			shown[k] = u.String()
		}
		f := p.ReportReading(s, r, "value", "%s, but %s shows %s", reads(r.First, r.Analyte), meterName(p, s, r), strings.Join(shown, " or "))
		p.blameRange(f, r, "units", "the readings are in another unit")
		help := "read the display again and write its own unit; a number converted by hand is no reading"
		if v, err := r.Analyte.Info().Convert(r.First.Value, r.First.Unit, m.Units[0]); err == nil {
			help += "; if it was converted, the display showed about " + water.Round(v, 3) + " " + m.Units[0].String()
		}
		f.Help("%s", help)
	}
}
