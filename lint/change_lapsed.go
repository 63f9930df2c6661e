package lint

import (
	"time"

	"wj/journal"
	"wj/journal/plan"
)

var changeLapsed = &Rule{
	Name: "change/lapsed", Severity: Error, Scope: Whole, Check: checkLapsed,
	Title: "the approval of a change is too old, or the water has moved since",
}

// checkLapsed is a warning while the change only lies there, and an error on a
// batch that was brewed with it.
func checkLapsed(p *Pass) {
	book := plan.Open(p.Journal)
	for _, b := range p.Journal.Batches.List {
		c, ok := p.Journal.Changes.Get(b.Change)
		if b.Void != nil || !ok || c.Void != nil || b.Brewed.IsZero() {
			continue
		}
		if why := p.lapsed(book, c, p.brewEnd(b)); why != "" {
			p.Report(b.Path, []string{"change"}, "the approval of %s had lapsed when this batch was brewed on %s: %s", c.ID, p.date(b.Brewed), why).
				Help("open an action record for the batch, verify its liquor, and propose the dose anew: wj treat")
		}
	}
	if p.Now.IsZero() {
		return
	}
	for _, c := range p.Journal.Changes.List {
		if c.Void != nil || p.refused(c) || p.followed(c) {
			continue
		}
		if why := p.lapsed(book, c, p.Now); why != "" {
			f := p.Report(c.Path, []string{"proposed"}, "its approval has lapsed: %s", why).
				Help("before the next brew: wj review %s, then renew it (wj sign %s --with the newest session) or find a new dose (wj treat)", c.ID, c.ID)
			p.as(f, Warning)
		}
	}
}

// lapsed says why a change that was approved by a moment may not be brewed with
// at it; "" where it may, and where nobody had approved it, which is another
// rule's matter.
func (p *Pass) lapsed(book *plan.Book, c *journal.Change, at time.Time) string {
	policy := p.Journal.Settings.Policy
	if policy.Reviewers > 0 && !p.signedBy(c, at) {
		return ""
	}
	var last *journal.Signoff
	for _, s := range p.approvals(c, at) {
		if last == nil || s.On.After(last.On) {
			last = s
		}
	}
	if last == nil {
		return ""
	}
	if end := last.On.Add(policy.ValidFor); policy.ValidFor > 0 && at.After(end) {
		return "it was signed on " + p.date(last.On) + ", and the policy gives it " + span(policy.ValidFor)
	}
	moved, _ := book.MovedSince(c, at) // what cannot be worked out has rules of its own
	return moved
}

// followed reports whether a newer approved change stands for the same target:
// last winter's dose need not be renewed.
func (p *Pass) followed(c *journal.Change) bool {
	for _, other := range p.Journal.Changes.List {
		if other != c && other.For == c.For && other.Void == nil && other.Proposed.After(c.Proposed) && p.signed(other) {
			return true
		}
	}
	return false
}
