package lint

import (
	"time"

	"wj/journal"
	"wj/journal/judge"
)

var sampleOrder = &Rule{
	Name: "sample/order", Severity: Error, Scope: Session, Reach: OfRecord, Check: checkSampleOrder, Bars: true, AsksHistory: true,
	Title:    "a sample was tested before it was taken, or in the future",
	Settings: []Threshold{{"clock", "5 min", "min", "how far two clocks may differ"}},
}

func checkSampleOrder(p *Pass) {
	s := p.Session
	slack := time.Duration(p.Setting("clock") * float64(time.Minute))
	told := false // a year that was mistyped is in both times, and reported of the first
	future := func(t time.Time, keys ...string) {
		if !told && !t.IsZero() && !p.Now.IsZero() && t.After(p.Now.Add(slack)) {
			told = true
			p.Report(s.Path, keys, "%s lies in the future: now is %s", journal.FormatTime(t), p.moment(p.Now)).Help("check day, month and year, and the computer's clock")
		}
	}
	early := func(t time.Time, keys ...string) {
		if !t.IsZero() && !s.Sampled.IsZero() && t.Before(s.Sampled.Add(-slack)) {
			p.Report(s.Path, keys, "tested at %s, which is %s before the sample was taken", journal.FormatTime(t), span(s.Sampled.Sub(t))).
				Help("check both times, their offsets and their dates")
		}
	}
	future(s.Sampled, "sampled")
	future(s.Tested, "tested")
	early(s.Tested, "tested")
	for i := range s.Readings {
		if r := &s.Readings[i]; !r.Tested.IsZero() {
			future(r.Tested, "readings", r.Analyte.String(), "tested")
			early(r.Tested, "readings", r.Analyte.String(), "tested")
		}
	}
	if p.Git == nil {
		return
	}
	if c, ok := p.Git.Added(s.Path); ok && judge.TestedAt(s, nil).After(c.Written.Add(slack)) {
		p.Report(s.Path, []string{"tested"}, "tested at %s, but committed before, at %s", journal.FormatTime(judge.TestedAt(s, nil)), p.moment(c.Written)).
			Help("check the time and its offset, and the clock of the computer that committed it")
	}
}
