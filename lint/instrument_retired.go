package lint

import (
	"time"

	"wj/journal"
	"wj/journal/judge"
)

var instrumentRetired = &Rule{
	Name: "instrument/retired", Severity: Error, Scope: Session, Reach: OfRecord, Check: checkInstrumentRetired,
	Title: "a meter was used before or after its time in service",
}

func checkInstrumentRetired(p *Pass) {
	s := p.Session
	p.service(s.Instrument, judge.TestedAt(s, nil), "instrument")
	for i := range s.Readings {
		if r := &s.Readings[i]; r.Instrument != "" && r.Instrument != s.Instrument {
			p.service(r.Instrument, judge.TestedAt(s, r), "readings", r.Analyte.String(), "instrument")
		}
	}
}

func (p *Pass) service(id string, at time.Time, keys ...string) {
	in, ok := p.Journal.Instruments.Get(id)
	if !ok || at.IsZero() || in.Covers(at.In(p.zone())) {
		return
	}
	span, when := "since", "was not in service before "+journal.FormatDate(in.Since)
	if !in.Until.IsZero() && p.day(at).After(in.Until) {
		span, when = "until", "was retired on "+journal.FormatDate(in.Until)
	}
	p.Report(p.Session.Path, keys, "%s %s, and this was tested on %s", id, when, p.date(at)).
		See(in.Path, []string{"until"}, "the meter").
		Blame(in.Path, []string{span}, "%s %s, and was used beyond that", id, when).
		Help("which meter was it? correct the name; if a retired meter was used again, give it a check standard and a new period of service")
}
