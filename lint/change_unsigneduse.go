package lint

import (
	"wj/journal"
)

var changeUnsignedUse = &Rule{
	Name: "change/unsigned-use", Severity: Error, Scope: Whole, Check: checkUnsignedUse,
	Title: "a batch was brewed with a change that nobody had signed by then",
}

// checkUnsignedUse holds the sign-offs that existed at the brew against the
// policy. An emergency may be brewed first; then the review has its deadline.
func checkUnsignedUse(p *Pass) {
	policy := p.Journal.Settings.Policy
	if policy.Reviewers == 0 {
		return
	}
	for _, b := range p.Journal.Batches.List {
		c, ok := p.Journal.Changes.Get(b.Change)
		if b.Void != nil || !ok || b.Brewed.IsZero() || p.signedBy(c, p.brewEnd(b)) {
			continue
		}
		for _, s := range p.run.facts.signoffs()[c.ID] {
			if s.Decision == "refused" && !s.On.After(p.brewEnd(b)) {
				p.Report(b.Path, []string{"change"}, "%s was refused by %s on %s, and this batch was brewed with it on %s", c.ID, s.By, p.date(s.On), p.date(b.Brewed)).
					Help("hold the batch, open an action record, and let the reviewer decide what becomes of the beer")
				ok = false
				break
			}
		}
		if !ok {
			continue
		}
		if c.Emergency != nil {
			p.emergency(b, c)
			continue
		}
		p.Report(b.Path, []string{"change"}, "%s had no valid sign-off when this batch was brewed on %s: the policy asks for %d", c.ID, p.date(b.Brewed), policy.Reviewers).
			Help("have the change reviewed now, and open an action record for the batch; `emergency` on the change is for the next time")
	}
}

func (p *Pass) emergency(b *journal.Batch, c *journal.Change) {
	policy := p.Journal.Settings.Policy
	deadline := c.Emergency.On.Add(policy.EmergencyReview)
	switch {
	case p.signedBy(c, deadline):
	case p.signed(c):
		list := p.approvals(c, journal.Day(b.Brewed).AddDate(1000, 0, 0))
		first := list[0]
		for _, s := range list {
			if s.On.Before(first.On) {
				first = s
			}
		}
		p.Report(b.Path, []string{"change"}, "%s was brewed as an emergency and reviewed %s after it, %s late", c.ID, span(first.On.Sub(c.Emergency.On)), span(first.On.Sub(deadline))).
			Help("say in an action record why the review came late, and silence this with that reason")
	case !p.Now.IsZero() && p.Now.After(deadline):
		p.Report(b.Path, []string{"change"}, "%s was brewed as an emergency and is not reviewed %s after it; the policy gives %s", c.ID, span(p.Now.Sub(c.Emergency.On)), span(policy.EmergencyReview)).
			Help("have it reviewed now; hold the batch until then")
	}
}
