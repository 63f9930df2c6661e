package lint

import (
	"wj/journal"
	"wj/journal/judge"
)

var standardExpired = &Rule{
	Name: "standard/expired", Severity: Error, Scope: Session, Reach: OfRecord, Check: checkStandardExpired,
	Title: "a check was made with a standard that was out of date",
}

func checkStandardExpired(p *Pass) {
	s := p.Session
	lot, ok := p.Journal.Lots.Get(s.StandardLot)
	if s.Sample != journal.SampleStandard || !ok || lot.Expires.IsZero() {
		return
	}
	tested := p.day(judge.TestedAt(s, nil))
	if !tested.After(lot.Expires) {
		return
	}
	p.Report(s.Path, []string{"standard_lot"}, "standard %s expired on %s, and the check was made on %s", lot.ID, journal.FormatDate(lot.Expires), journal.FormatDate(tested)).
		See(lot.Path, []string{"expires"}, "the standard").
		Help("repeat the check with a standard in date: one that is out of date proves nothing either way")
}
