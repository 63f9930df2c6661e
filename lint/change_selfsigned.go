package lint

import "wj/journal"

var changeSelfSigned = &Rule{
	Name: "change/self-signed", Severity: Error, Scope: Whole, Reach: OfRecord, Check: checkSelfSigned,
	Title: "the author of a change signed it too",
}

// checkSelfSigned is a warning in a journal of one person, or whose policy lets
// authors sign: a second pair of eyes may be found outside.
func checkSelfSigned(p *Pass) {
	policy := p.Journal.Settings.Policy
	if policy.Reviewers == 0 {
		return
	}
	for _, s := range p.Journal.Signoffs.List {
		c, ok := p.Journal.Changes.Get(s.Of)
		if s.Void != nil || !ok || c.Void != nil || s.By != c.Author || s.Decision != journal.DecidedAccepted {
			continue
		}
		f := p.Report(s.Path, []string{"by"}, "%s wrote %s and signed it too", s.By, c.ID).
			See(c.Path, []string{"author"}, "the author").
			Help("ask somebody else to recompute and sign it: another brewer, a client's quality manager, a consultant")
		if len(p.Journal.People.List) < 2 || !policy.OtherThanAuthor {
			p.as(f, Warning)
		}
	}
}
