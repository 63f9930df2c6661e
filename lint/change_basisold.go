package lint

import (
	"fmt"

	"wj/journal"
	"wj/journal/judge"
)

var changeBasisOld = &Rule{
	Name: "change/basis-old", Severity: Warning, Scope: Whole, Reach: OfRecord, Check: checkBasisOld,
	Title:    "a change depends on a session that was old when it was proposed, or of another supply period than the brew",
	Settings: []Threshold{{"age", "30 d", "d", "oldest session that a proposal may depend on"}},
}

func checkBasisOld(p *Pass) {
	for _, c := range p.Journal.Changes.List {
		if c.Void != nil {
			continue
		}
		for i, b := range c.Basis {
			s, ok := p.Journal.Sessions.Get(b.Session)
			if !ok || s.Sampled.IsZero() || c.Proposed.IsZero() {
				continue
			}
			if age := c.Proposed.Sub(p.day(s.Sampled)); age > days(p.Setting("age")) {
				p.Report(c.Path, []string{"basis", fmt.Sprint(i), "session"}, "%s was %s old when the change was proposed on %s, more than %s", s.ID, span(age), p.date(c.Proposed), span(days(p.Setting("age")))).
					Help("sample %s again and compute the change anew", s.Site)
			}
		}
		for _, b := range p.run.facts.changes()[c.ID].Batches {
			p.otherPeriod(c, b)
		}
	}
}

func (p *Pass) otherPeriod(c *journal.Change, b *journal.Batch) {
	for _, basis := range c.Basis {
		s, ok := p.Journal.Sessions.Get(basis.Session)
		if !ok {
			continue
		}
		site, ok := p.Journal.Sites.Get(s.Site)
		if !ok || site.Stage == journal.StagePermeate && len(site.Supply) == 0 {
			continue // a membrane evens out what feeds it
		}
		then, now := judge.Regime(p.Journal, site, s.Sampled), judge.Regime(p.Journal, site, judge.BrewEnd(p.Journal, b))
		if then != now && now != "" && then != "" {
			p.Report(b.Path, []string{"change"}, "%s depends on %s water of %s, and on %s it was %s", c.ID, then, site.ID, p.date(b.Brewed), now).
				Help("propose the change anew on a session of the present supply")
		}
	}
}
