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

// checkInstrumentFailed notes a check beyond its warning limit as long as none follows it.
func checkInstrumentFailed(p *Pass) {
	s := p.Session
	p.blank(s)
	if !judge.IsCheck(s) {
		return
	}
	checks := p.run.facts.checks()
	for i := range s.Readings {
		r := &s.Readings[i]
		c, ok := checks.Of(s, r)
		if !ok || !c.Beyond {
			continue
		}
		recovery := ""
		if r.Analyte != water.PHValue && c.Truth > 0 {
			recovery = fmt.Sprintf(", a recovery of %s %%", water.Round(100*c.Found/c.Truth, 3))
		}
		found := fmt.Sprintf("%s found %s where the standard holds %s%s", meterName(p, s, r), journal.TypedReading(r), show(r.Analyte, c.Truth), recovery)
		test := judge.Test{Meter: judge.MeterOf(s, r), Analyte: r.Analyte}
		if c.Passed {
			if _, later := checks.Next(test, c.At); !later {
				p.ReportReading(s, r, "value", "%s; ± %s is passed by one check of twenty by chance, and a second one of three fails", found, show(r.Analyte, c.Allowed)).atMost(Info).
					Help("repeat the check before the next session")
			}
			continue
		}
		allowed := fmt.Sprintf("allowed is ± %s (default band, after SM 1020 B)", show(r.Analyte, c.Allowed))
		switch {
		case c.Again:
			allowed = fmt.Sprintf("± %s (the method's accuracy) was passed twice in three checks or portions, on the same side", show(r.Analyte, c.Allowed))
		case c.Declared:
			allowed = fmt.Sprintf("allowed is ± %s (1.5 times the method's accuracy)", show(r.Analyte, 1.5*c.Allowed))
		}
		since := ""
		if last, ok := checks.LastPassed(test, c.At.Add(-1)); ok {
			since = " back to " + p.date(last.At)
		}
		p.ReportReading(s, r, "value", "%s; %s", found, allowed).
			Help("stop; repeat with a fresh standard; if it fails again every %s of this meter%s is doubtful: list what depends on it", r.Analyte, since)
	}
}

// blank reports what a blank holds beyond what its test may err by at nothing.
func (p *Pass) blank(s *journal.Session) {
	for _, b := range judge.Blanks(p.Journal, s) {
		f := p.ReportReading(s, b.Reading, "value", "the blank holds %s, and %s is what a blank may show (1.5 times the method's accuracy, or the bottom of its range)", reads(b.Holds, b.Reading.Analyte), show(b.Reading.Analyte, b.Most))
		f.d.Bars = false
		p.as(f, Warning).Help("was it a blank? else repeat it with fresh distilled water, clean cells and a new pack of the reagent")
	}
}
