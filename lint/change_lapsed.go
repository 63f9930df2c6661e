package lint

import (
	"wj/journal/evidence"
	"wj/journal/judge"
)

var changeLapsed = &Rule{
	Name: "change/lapsed", Severity: Error, Scope: Whole, Reach: OfSite, Check: checkLapsed,
	Title: "the approval of a change is too old, or the water has moved since",
}

// checkLapsed is a warning while the change only lies there, and an error on a
// batch that was brewed with it.
func checkLapsed(p *Pass) {
	for _, c := range p.Journal.Changes.List {
		r := p.run.facts.changes()[c.ID]
		for _, b := range r.Brews {
			if b.Batch.Brewed.IsZero() || b.Lack != judge.ApprovalTooOld && b.Lack != judge.WaterHadMoved {
				continue
			}
			p.Report(b.Batch.Path, []string{"change"}, "the approval of %s had expired when this batch was brewed on %s: %s", c.ID, p.date(b.Batch.Brewed), b.Why).
				Help("open an action record for the batch, verify its liquor, and propose the dose anew: wj treat")
		}
		if p.Now.IsZero() || r.State != judge.LapsedState || p.followed(c) {
			continue
		}
		why := ""
		for _, v := range r.Verdicts {
			if v.Standing == evidence.Lapsed && v.Accepts() {
				why = v.Why[0]
			}
		}
		f := p.Report(c.Path, []string{"proposed"}, "its approval has expired: %s", why).
			Help("before the next brew: wj review %s, then renew it (wj sign %s --with the newest session) or find a new dose (wj treat)", c.ID, c.ID)
		p.as(f, Warning)
	}
}
