package lint

import (
	"strings"

	"wj/journal/judge"
)

var changeRival = &Rule{
	Name: "change/rival", Severity: Warning, Scope: Whole, Reach: OfSite, Check: checkRival,
	Title: "several approved changes are for one target, and none replaces another",
}

// checkRival reports each group of rivals once, in the newest of them: whoever
// brews could take either.
func checkRival(p *Pass) {
	if len(p.run.facts.changes()) < 2 {
		return
	}
	for _, group := range p.run.facts.judged.Rivals() {
		newest, others := group[0], group[1:]
		is, it := "is", others[0].ID
		if len(others) > 1 {
			is, it = "are", "ID"
		}
		f := p.Report(newest.Path, []string{"for"}, "%s %s approved for %s as well, and none supersedes another", strings.Join(judge.IDs(others), ", "), is, newest.For).
			Help("decide which one is brewed with: write supersedes: %s into it and have it signed again, or wj void the other with the reason", it)
		for _, r := range others {
			f.See(r.Path, []string{"for"}, "proposed %s by %s", p.date(r.Proposed), r.Author)
		}
	}
}
