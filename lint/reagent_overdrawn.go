package lint

import (
	"fmt"
)

var reagentOverdrawn = &Rule{
	Name: "reagent/overdrawn", Severity: Warning, Scope: Whole, Reach: OfBench, Check: checkReagentOverdrawn,
	Title: "more tests are on record than the pack held",
}

func checkReagentOverdrawn(p *Pass) {
	for _, lot := range p.Journal.Lots.List {
		if lot.Void != nil || lot.Tests == 0 {
			continue
		}
		use, ok := p.run.facts.uses()[lot.ID]
		if !ok || use.Tests+lot.Losses <= lot.Tests {
			continue
		}
		losses := ""
		if lot.Losses > 0 {
			losses = fmt.Sprintf(" and %d lost", lot.Losses)
		}
		p.Report(lot.Path, []string{"tests"}, "%d tests%s are on record for %s, and the pack held %d", use.Tests, losses, lot.ID, lot.Tests).
			Help("a lot number is wrong somewhere between %s and %s: compare with the packs of those weeks; each replicate uses a test", use.First.ID, use.Last.ID)
	}
}
