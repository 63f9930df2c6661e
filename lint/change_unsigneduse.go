package lint

import (
	"wj/journal/judge"
)

var changeUnsignedUse = &Rule{
	Name: "change/unsigned-use", Severity: Error, Scope: Whole, Reach: OfRecord, Check: checkUnsignedUse,
	Title: "a batch was brewed with a change that nobody had signed by then",
}

// checkUnsignedUse asks judge for the approval of a change when a batch was
// brewed with it. An emergency may be brewed first; then the review has its
// deadline. An approval that had expired is change/lapsed's.
func checkUnsignedUse(p *Pass) {
	for _, c := range p.Journal.Changes.List {
		r := p.run.facts.changes()[c.ID]
		if len(r.Unclear) > 0 {
			p.as(p.Report(c.Path, []string{"proposed"}, "%s", r.UnclearNote()), Warning).
				Help("look in a copy with the whole history: git fetch --unshallow; --no-history judges the files alone")
		}
		for _, b := range r.Brews {
			if b.Batch.Brewed.IsZero() || b.Lack != judge.NeverApproved && b.Lack != judge.RefusedBefore {
				continue
			}
			switch {
			case b.Lack == judge.RefusedBefore:
				p.Report(b.Batch.Path, []string{"change"}, "%s was refused by %s on %s, and this batch was brewed with it on %s", c.ID, b.Signoff.By, p.date(b.Signoff.On), p.date(b.Batch.Brewed)).
					See(b.Signoff.Path, []string{"decision"}, "the refusal").
					Help("hold the batch, open an action record, and let the reviewer decide what becomes of the beer")
			case b.Emergency:
				p.emergency(b, r)
			default:
				p.Report(b.Batch.Path, []string{"change"}, "%s had no valid sign-off when this batch was brewed on %s: the policy asks for %d", c.ID, p.date(b.Batch.Brewed), r.Needed).
					See(c.Path, nil, "the change").
					Help("have the change reviewed now, and open an action record for the batch; `emergency` on the change is for the next time")
			}
		}
	}
}

func (p *Pass) emergency(b judge.Brew, r *judge.Change) {
	declared, due := r.Emergency.On, r.Review.Due
	switch {
	case r.Review.Late():
		p.Report(b.Batch.Path, []string{"change"}, "%s was brewed as an emergency and reviewed %s after it, %s late", r.ID, span(r.Review.Reviewed.Sub(declared)), span(r.Review.Reviewed.Sub(due))).
			Help("say in an action record why the review came late, and silence this with that reason")
	case r.Review.Overdue && !p.Now.IsZero():
		p.Report(b.Batch.Path, []string{"change"}, "%s was brewed as an emergency and is not reviewed %s after it; the policy gives %s", r.ID, span(p.Now.Sub(declared)), span(due.Sub(declared))).
			Help("have it reviewed now; hold the batch until then")
	}
}
