package lint

import (
	"wj/journal"
	"wj/journal/judge"
)

var reagentExpired = &Rule{
	Name: "reagent/expired", Severity: Error, Scope: Session, Reach: OfRecord, Check: checkReagentExpired,
	Title: "a reading was made with a reagent lot that was past its last day",
}

func checkReagentExpired(p *Pass) {
	p.eachLot(func(r *journal.Reading, lot *journal.Lot) {
		tested := p.day(judge.TestedAt(p.Session, r))
		if lot.Expires.IsZero() || !tested.After(lot.Expires) {
			return
		}
		p.ReportReading(p.Session, r, "lot", "lot %s expired on %s, and this %s was tested on %s", lot.ID, journal.FormatDate(lot.Expires), r.Analyte, journal.FormatDate(tested)).
			See(lot.Path, []string{"expires"}, "the lot").
			Blame(lot.Path, []string{"expires"}, "lot %s was used after it expired on %s", lot.ID, journal.FormatDate(lot.Expires)).
			Help("keep the reading, repeat it with a lot in date and compare; the maker's word that the lot still holds goes into `ignore` with its date")
	})
}

// eachLot calls do for each reading of the session whose lot is on record.
func (p *Pass) eachLot(do func(r *journal.Reading, lot *journal.Lot)) {
	s := p.Session
	for i := range s.Readings {
		r := &s.Readings[i]
		if r.Lot == "" {
			continue
		}
		if lot, ok := p.Journal.Lots.Get(r.Lot); ok {
			do(r, lot)
		}
	}
}
