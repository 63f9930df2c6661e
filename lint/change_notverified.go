package lint

import (
	"fmt"
	"slices"

	"wj/journal"
	"wj/journal/judge"
	"wj/journal/plan"
)

var changeNotVerified = &Rule{
	Name: "change/not-verified", Severity: Warning, Scope: Whole, Reach: OfSite, Check: checkNotVerified,
	Title: "a change was used, and nobody tested the liquor that came out",
	Settings: []Threshold{
		{"within", "7 d", "d", "how soon after the brew the liquor must have been tested"},
		{"every", "10", "", "how many batches after the last test the next one comes, at most"},
	},
}

// checkNotVerified counts from the last batch whose liquor was tested.
func checkNotVerified(p *Pass) {
	within, every := days(p.Setting("within")), int(max(p.Setting("every"), 1))
	if p.Now.IsZero() {
		return
	}
	for _, c := range p.Journal.Changes.List {
		if c.Void != nil {
			continue
		}
		batches := p.run.facts.changes()[c.ID].Batches
		tested := make([]bool, len(batches))
		for i, b := range batches {
			tested[i] = slices.ContainsFunc(p.run.facts.verifications()[c.ID], func(s *journal.Session) bool { return plan.Tests(s, b, within) })
		}
		missed, _ := plan.Due(tested, every)
		for _, i := range missed {
			b := batches[i]
			if p.Now.Before(judge.BrewEnd(p.Journal, b).Add(within)) {
				continue
			}
			which := "the first with this change"
			if i > 0 {
				last := i - 1
				for last >= 0 && !tested[last] {
					last--
				}
				which = fmt.Sprintf("batch %d with this change, none of them tested", i+1)
				if last >= 0 {
					which = fmt.Sprintf("%d batches after %s, the last that was", i-last, batches[last].ID)
				}
			}
			p.Report(b.Path, []string{"change"}, "the liquor of %s was not tested within %s of this batch, %s", c.ID, span(within), which).
				Help("sample the mixed liquor of the next batch, after 15 min of recirculation, as sample: verification with change: %s", c.ID)
		}
	}
}
