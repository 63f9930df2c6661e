package lint

import (
	"slices"
	"strings"

	"wj/journal"
	"wj/journal/plan"
)

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
		var off []plan.Difference
		for _, d := range book.Recompute(w) {
			if !d.Spread {
				off = append(off, d)
				continue
			}
			p.Report(c.Path, []string{"expect", d.Expected.Name.String()}, "%s", d.Words).atMost(Warning).
				Help("write the computed half-width").aside = true
		}
		if len(off) > 0 {
			p.mistaken(book, c, off)
		}
	}
}

// mistaken reports all that differs in one finding: at the line that explains it, where one does.
func (p *Pass) mistaken(book *plan.Book, c *journal.Change, off []plan.Difference) {
	keys, help := []string{"expect", off[0].Expected.Name.String()}, "if the doses are right, write the computed value; if the expectation is, look for a slip in share, volume, amount, strength or assay"
	slip, found := book.Slip(c)
	if found {
		keys, help = slip.Keys, slip.Words+": is that line mistyped?"
	}
	words := make([]string, len(off))
	for i, d := range off {
		words[i] = d.Words
	}
	f := p.Report(c.Path, keys, "%s", strings.Join(words, "; ")).Help("%s", help)
	f.doses = found && slip.Dose
	f.aside = !slices.ContainsFunc(off, func(d plan.Difference) bool { return d.Why == "" })
	for _, d := range off {
		f.See(c.Path, []string{"expect", d.Expected.Name.String()}, "it differs")
	}
}
