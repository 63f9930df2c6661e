package lint

var changeRecompute = &Rule{
	Name: "change/recompute", Severity: Error, Scope: Whole, Reach: OfSite, Check: checkRecompute,
	Title: "what a change expects is not what its waters and doses give",
}

// checkRecompute works every change out again on the sessions that it names. A
// half-width alone that differs is a warning: it moves nobody's dose.
func checkRecompute(p *Pass) {
	book := p.run.facts.book()
	for _, c := range p.Journal.Changes.List {
		if c.Void != nil || !p.run.wanted(c.Path) || len(c.Expect) == 0 {
			continue
		}
		w, err := book.OnBasis(c)
		if err != nil {
			continue // what it cannot be worked out from has rules of its own
		}
		for _, d := range book.Recompute(w) {
			f := p.Report(c.Path, []string{"expect", d.Expected.Name.String()}, "%s", d.Words).
				Help("if the doses are right, write the computed value; if the expectation is, look for a slip in share, volume, amount, strength or assay")
			if d.Spread {
				f.atMost(Warning)
			}
		}
	}
}
