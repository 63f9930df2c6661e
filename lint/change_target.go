package lint

import (
	"wj/journal"
	"wj/journal/plan"
	"wj/water"
)

var changeTarget = &Rule{
	Name: "change/target", Severity: Warning, Scope: Whole, Reach: OfSite, Check: checkChangeTarget,
	Title: "a change leads outside of the target that it is for",
}

// checkChangeTarget holds the recomputed result of every change that may still
// be brewed with against its target; of one that cannot be worked out, what is
// written.
func checkChangeTarget(p *Pass) {
	book := p.run.facts.book()
	for _, c := range p.Journal.Changes.List {
		if c.Void != nil || !p.run.wanted(c.Path) || p.over(c) {
			continue
		}
		w, err := book.OnBasis(c)
		if err != nil {
			p.writtenTarget(book, c)
			continue
		}
		for _, v := range book.Verdicts(w) {
			if !v.Known || v.Inside() {
				continue
			}
			keys := []string{"for"}
			for _, x := range c.Expect {
				if x.Name == v.ID {
					keys = []string{"expect", v.ID.String()}
				}
			}
			side, limit := "over", v.Max
			if v.Worst() < v.Min {
				side, limit = "under", v.Min
			}
			p.Report(c.Path, keys, "%s would be %s, %s the %s of %s by %s standard uncertainties", v.ID, plan.Text(v.Value), side, show(v.ID, limit), c.For, water.Round(-v.Margin, 2)).
				Help("wj treat looks for a blend and doses that keep every limit; else say in the body why this one is passed")
		}
		for _, v := range book.AskedOfTank(w, p.Now) {
			if side, limit := "over", v.Limit(); limit != 0 {
				if v.Value < limit {
					side = "under"
				}
				p.Report(c.Path, []string{"for"}, "%s would be %.2f (%.2f to %.2f), %s the %.2f of %s", v.Name, v.Value, v.Low, v.High, side, limit, v.Of).
					Help("wj treat with --mash and --sparge leads each to its pH; else say in the body why this one is passed")
			}
		}
	}
}

// writtenTarget holds what a change expects in writing against its target.
func (p *Pass) writtenTarget(book *plan.Book, c *journal.Change) {
	for _, x := range c.Expect {
		low, high, _ := book.Range(c, x.Name)
		v := x.Name.Info().Standard(x.Value)
		side, limit := "over", high
		if v < low {
			side, limit = "under", low
		}
		if v < low || v > high {
			p.Report(c.Path, []string{"expect", x.Name.String()}, "%s is expected as %s, %s the %s of %s", x.Name, x.Value, side, show(x.Name, limit), c.For).
				Help("correct what keeps the change from being worked out, then let wj treat look for a dose that keeps every limit")
		}
	}
}
