package lint

import "wj/journal"

var reagentRecalled = &Rule{
	Name: "reagent/recalled", Severity: Error, Scope: Session, Reach: OfRecord, Check: checkReagentRecalled,
	Title: "a reading depends on a lot that was recalled",
}

func checkReagentRecalled(p *Pass) {
	p.eachLot(func(r *journal.Reading, lot *journal.Lot) {
		if lot.Recalled == nil || lot.Void != nil {
			return
		}
		p.ReportReading(p.Session, r, "lot", "lot %s was recalled on %s: %s", lot.ID, p.date(lot.Recalled.On), lot.Recalled.Reason).
			See(lot.Path, []string{"recalled"}, "the recall").
			Blame(lot.Path, []string{"recalled"}, "lot %s was recalled on %s: %s", lot.ID, p.date(lot.Recalled.On), lot.Recalled.Reason).
			Help("do not decide on this %s; repeat it from a kept sample with another lot, and look up which changes, batches and reports depend on it", r.Analyte)
	})
}
