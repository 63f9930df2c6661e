package plan

import (
	"bytes"
	"fmt"
	"strings"

	"wj/journal"
	"wj/water/treat"
)

// Safe refuses what must not be dosed: the error says why, and what to do.
func (a *Answer) Safe(p *treat.Prediction) error {
	var fatal []string
	for _, k := range a.Cautions {
		if k.Severity == string(treat.Error) {
			fatal = append(fatal, k.Message)
		}
	}
	if len(fatal) == 0 {
		return nil
	}
	next := "change the dose; nothing was written"
	if r := p.Removal(); r != nil {
		next += "; --dechlorinate " + r.Dose.Substance + " doses that in a step of its own"
	}
	return advise(next, "this must not be dosed: %s", strings.Join(fatal, "; "))
}

// Compose is a change as its file will be. Its body is why, where that is told, and what of its basis is doubtful.
func (b *Book) Compose(c *journal.Change, w *Work, a *Answer, why string) []byte {
	if why == "" {
		why = fmt.Sprintf("Drafted by `wj treat` from the waters above. Say here why.\n\n%s", strings.Join(Handling(w.Prediction), "\n"))
	}
	for n, doubt := range a.Basis {
		if n == 0 {
			why += "\n\nDoubtful basis, to be settled before it is signed:"
		}
		why += "\n- " + doubt
	}
	for _, n := range a.NotJudged {
		why += "\n\n" + n.Sentence()
	}
	// A list is on lines of its own; journal.Compose knows only what is behind a colon.
	return bytes.Replace(journal.Compose(journal.KindChange, b.Entries(c, w), why), []byte("basis: \n"), []byte("basis:\n"), 1)
}
