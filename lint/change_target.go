package lint

import (
	"wj/journal/plan"
	"wj/water"
)

var changeTarget = &Rule{
	Name: "change/target", Severity: Warning, Scope: Whole, Check: checkChangeTarget,
	Title: "a change leads outside of the target that it is for",
}

// checkChangeTarget holds the recomputed result of every change that may still
// be brewed with against its target.
func checkChangeTarget(p *Pass) {
	book := plan.Open(p.Journal)
	for _, c := range p.Journal.Changes.List {
		if c.Void != nil || p.refused(c) {
			continue
		}
		w, err := book.OnBasis(c)
		if err != nil {
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
			if v.Value.Value < v.Min {
				side, limit = "under", v.Min
			}
			p.Report(c.Path, keys, "%s would be %s, %s the %s of %s by %s standard uncertainties", v.ID, plan.Text(v.Value), side, show(v.ID, limit), c.For, water.Round(-v.Margin, 2)).
				Help("wj treat looks for a blend and doses that keep every limit; else say in the body why this one is passed")
		}
	}
}
