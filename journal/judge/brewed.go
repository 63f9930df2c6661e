package judge

import (
	"fmt"

	"wj/journal"
	"wj/journal/evidence"
)

// The rules of the linter that a batch brewed without an approval breaks; one
// that says in `ignore` why it was so is not found again.
const (
	RuleUnsigned = "change/unsigned-use"
	RuleLapsed   = "change/lapsed"
)

// Brewed lists the batches that were brewed without an approval in force, as
// findings, and in words those that say why. Where it cannot be told what a
// sign-off is worth, neither can it be told whether it approved.
func (g *Changes) Brewed() (findings []evidence.Finding, explained []string) {
	for _, c := range g.j.Changes.List {
		r := g.Change(c)
		for _, b := range r.Brews {
			if b.Lack == NoLack || b.Emergency || b.Batch.Void != nil || b.Lack == Untold {
				continue
			}
			rule := RuleUnsigned
			if b.Lack == ApprovalTooOld || b.Lack == WaterHadMoved {
				rule = RuleLapsed
			}
			if reason, ok := b.Batch.Ignore[rule]; ok {
				explained = append(explained, fmt.Sprintf("%s was brewed without an approval of %s in force: %s", b.Batch.ID, c.ID, reason))
				continue
			}
			findings = append(findings, evidence.Finding{Subject: b.Batch.Path, Cause: "brewed without an approval in force", Text: "brewed without an approval in force: " + lackWords(b, c),
				Help: "wj review " + c.ID + "; an approval that comes later does not undo it: say in the batch what was done (ignore: {" + rule + ": …})"})
		}
	}
	return findings, explained
}

func lackWords(b Brew, c *journal.Change) string {
	switch b.Lack {
	case RefusedBefore:
		return fmt.Sprintf("%s refused %s on %s", b.Signoff.By, c.ID, journal.FormatDate(b.Signoff.On))
	case ApprovalTooOld, WaterHadMoved:
		return fmt.Sprintf("the approval of %s had expired: %s", c.ID, b.Why)
	}
	return "nobody had approved " + c.ID + " by " + journal.FormatDate(b.Batch.Brewed)
}
