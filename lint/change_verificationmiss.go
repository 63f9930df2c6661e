package lint

import (
	"slices"
	"strings"

	"wj/journal"
)

var changeVerificationMiss = &Rule{
	Name: "change/verification-miss", Severity: Warning, Scope: Whole, Reach: OfSite, Check: checkVerificationMiss,
	Title: "the liquor that came out is not what the change expects",
}

// checkVerificationMiss compares by E_n, all values together (see judge.Verify).
func checkVerificationMiss(p *Pass) {
	book := p.run.facts.book()
	for _, c := range p.Journal.Changes.List {
		if c.Void != nil {
			continue
		}
		for _, s := range p.run.facts.verifications()[c.ID] {
			if s.Void != nil || !p.run.wanted(s.Path) || p.followedUp(s.ID) {
				continue
			}
			var words []string
			for _, i := range book.Verification(c, s).Missed() {
				words = append(words, i.Words())
			}
			if len(words) > 0 {
				p.Report(s.Path, []string{"change"}, "the liquor disagrees with %s: %s", c.ID, strings.Join(words, "; ")).
					See(c.Path, []string{"expect"}, "what was expected").
					Help("mix 15 min and repeat the sample; then check the volume, the form and strength of each addition, and the lots; correct the change, never the measurement. An action record about this session settles it")
			}
		}
	}
}

// followedUp reports whether a closed action is about a record.
func (p *Pass) followedUp(id string) bool {
	return slices.ContainsFunc(p.Journal.Actions.List, func(a *journal.Action) bool {
		return a.Void == nil && a.Closed != nil && slices.Contains(a.About, id)
	})
}
