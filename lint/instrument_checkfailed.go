package lint

import (
	"fmt"

	"wj/journal"
	"wj/journal/judge"
	"wj/water"
)

var instrumentCheckFailed = &Rule{
	Name: "instrument/check-failed", Severity: Error, Scope: Session, Reach: OfBench, Check: checkInstrumentFailed,
	Title: "a check standard came out further from its true value than the method may err",
}

func checkInstrumentFailed(p *Pass) {
	s := p.Session
	if !judge.IsCheck(s) {
		return
	}
	for i := range s.Readings {
		r := &s.Readings[i]
		c, ok := judge.CheckOf(p.Journal, s, r)
		if !ok || c.Passed || !p.run.facts.checks().Holds(c) {
			continue
		}
		source := "default band, after SM 1020 B"
		if c.Declared {
			source = "the method's accuracy"
		}
		recovery := ""
		if r.Analyte != water.PHValue && c.Truth > 0 {
			recovery = fmt.Sprintf(", a recovery of %s %%", water.Round(100*c.Found/c.Truth, 3))
		}
		since := ""
		if last, ok := p.run.facts.checks().LastPassed(judge.Test{Meter: judge.MeterOf(s, r), Analyte: r.Analyte}, c.At.Add(-1)); ok {
			since = " back to " + p.date(last.At)
		}
		p.ReportReading(s, r, "value", "%s found %s where the standard holds %s%s; allowed is ± %s (%s)", meterName(p, s, r), journal.TypedReading(r), show(r.Analyte, c.Truth), recovery, show(r.Analyte, c.Allowed), source).
			Help("stop; repeat with a fresh standard; if it fails again every %s of this meter%s is doubtful: list what depends on it", r.Analyte, since)
	}
}
