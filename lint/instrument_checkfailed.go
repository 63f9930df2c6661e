package lint

import (
	"fmt"

	"wj/journal"
	"wj/water"
)

var instrumentCheckFailed = &Rule{
	Name: "instrument/check-failed", Severity: Error, Scope: Session, Check: checkInstrumentFailed,
	Title: "a check standard came out further from its true value than the method may err",
}

func checkInstrumentFailed(p *Pass) {
	s := p.Session
	if s.Sample != "check-standard" {
		return
	}
	for i := range s.Readings {
		r := &s.Readings[i]
		c, ok := p.run.facts.check(s, r)
		if !ok || c.passed {
			continue
		}
		source := "default band, after SM 1020 B"
		if c.declared {
			source = "the method's accuracy"
		}
		recovery := ""
		if r.Analyte != water.PHValue && c.truth > 0 {
			recovery = fmt.Sprintf(", a recovery of %s %%", water.Round(100*c.found/c.truth, 3))
		}
		since := ""
		if last, ok := lastPassed(p.run.facts.checks()[meterAnalyte{meterOf(s, r), r.Analyte}], c.at.Add(-1)); ok {
			since = " back to " + p.date(last.at)
		}
		p.ReportReading(s, r, "value", "%s found %s where the standard holds %s%s; allowed is ± %s (%s)", meterName(p, s, r), journal.TypedReading(r), show(r.Analyte, c.truth), recovery, show(r.Analyte, c.allowed), source).
			Help("stop; repeat with a fresh standard; if it fails again every %s of this meter%s is doubtful: list what rests on it", r.Analyte, since)
	}
}
