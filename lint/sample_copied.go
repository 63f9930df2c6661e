package lint

import (
	"wj/journal"
	"wj/water"
)

var sampleCopied = &Rule{
	Name: "sample/copied", Severity: Warning, Scope: History, Check: checkCopied,
	Title:    "all readings are those of the site's previous session, to the digit",
	Settings: []Threshold{{"digits", "10", "", "significant digits that must agree in all before it is no chance"}},
}

func checkCopied(p *Pass) {
	own := p.Site.Own
	for i := 1; i < len(own); i++ {
		s, before := own[i], own[i-1]
		if digits := same(s, before); float64(digits) >= p.Setting("digits") {
			p.Report(s.Path, []string{"readings"}, "all %d readings are those of %s, to the digit", len(s.Readings), before.ID).
				Help("was the form copied and not filled in? repeat one test; if the water really did not move, say so under `ignore`")
		}
	}
}

// same counts the significant digits of two sessions' readings, if all are the
// same; 0 otherwise. pH and temperature may well repeat and do not count.
func same(a, b *journal.Session) int {
	if len(a.Readings) != len(b.Readings) {
		return 0
	}
	digits := 0
	for i := range a.Readings {
		x := &a.Readings[i]
		y, ok := b.Reading(x.Analyte)
		if !ok || x.Faulty || y.Faulty || x.First != y.First || x.Dilution != y.Dilution || len(x.More) != len(y.More) {
			return 0
		}
		for k := range x.More {
			if x.More[k] != y.More[k] {
				return 0
			}
		}
		if x.First.Bound == water.Exact && x.Analyte != water.PHValue && x.Analyte != water.SampleTemperature {
			digits += int(x.First.Digits)
		}
	}
	return digits
}
