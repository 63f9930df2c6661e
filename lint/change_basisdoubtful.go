package lint

import (
	"fmt"

	"wj/journal/judge"
)

var changeBasisDoubtful = &Rule{
	Name: "change/basis-doubtful", Severity: Error, Scope: Whole, Reach: OfBench, Check: checkBasisDoubtful,
	Title: "a change depends on a reading that is void, of a bad lot, or of a meter that failed its check",
}

// checkBasisDoubtful believes a closed action that says what came of the doubt:
// a kept sample that was repeated. What is void stays so.
func checkBasisDoubtful(p *Pass) {
	for _, c := range p.Journal.Changes.List {
		if c.Void != nil || p.over(c) {
			continue
		}
		doubted := false
		for i, b := range c.Basis {
			s, ok := p.Journal.Sessions.Get(b.Session)
			if !ok {
				continue
			}
			keys := []string{"basis", fmt.Sprint(i), "session"}
			if s.Void != nil {
				p.Report(c.Path, keys, "%s is void: %s", s.ID, s.Void.Reason).See(s.Path, []string{"void"}, "the basis").Help("repeat the session and compute the change anew")
				continue
			}
			if why, by := judge.DoubtBy(p.Journal, p.run.facts.checks(), s); why != "" && !doubted {
				f := p.Report(c.Path, keys, "%s is doubtful: %s", s.ID, why).
					See(s.Path, nil, "the basis").
					Help("%s", judge.SettleDoubt)
				f.follows = by
				doubted = true // the dose has to be found anew in any case
			}
		}
	}
}
