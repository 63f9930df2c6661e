package lint

import (
	"slices"

	"wj/journal"
	"wj/journal/judge"
)

var reagentUnknown = &Rule{
	Name: "reagent/unknown", Severity: Warning, Scope: Session, Reach: OfRecord, Check: checkReagentUnknown,
	Title: "a reading that used up a reagent does not say from which lot",
}

// checkReagentUnknown asks for the lot of readings made in a photometer, where
// the journal keeps lots for the analyte at all.
func checkReagentUnknown(p *Pass) {
	s := p.Session
	if !judge.Bench(s) {
		return
	}
	for i := range s.Readings {
		r := &s.Readings[i]
		if r.Lot != "" || r.Note != "" || !photometric(p.Journal, s, r) {
			continue
		}
		kept := ""
		for _, lot := range p.Journal.Lots.List {
			if slices.Contains(lot.Analytes, r.Analyte) && (kept == "" || lot.Finished.IsZero()) {
				kept = lot.ID
			}
		}
		if kept == "" {
			continue
		}
		p.ReportReading(s, r, "value", "%s names no lot", reads(journal.TypedReading(r), r.Analyte)).
			Help("find the pack and write lot: %s or whichever it was; if it cannot be found, say so in a note on the reading", kept)
	}
}
