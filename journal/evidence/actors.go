package evidence

import (
	"bytes"
	"fmt"
	"slices"
	"time"

	"wj/journal"
	"wj/journal/history"
)

// actors holds the amendments and voids that a commit brings against who made
// the commit: each is the act of a person of the journal. Names are claims
// where no signature shows them, so that one person may write down what another
// one says; a stranger may not.
func (e *events) actors(step history.Step, p string, before [][]byte, content []byte) {
	at := e.at(step)
	if e.v.strangers || at <= e.v.m.founded && at != Pending || at == Unplaced {
		return
	}
	rules := e.v.m.before(at)
	for _, act := range newActs(p, before, content) {
		person, known := rules.Journal.People.Get(act.by)
		o := originOf(step.Revision)
		switch {
		case !known:
			e.v.wrongFor(step.Hash, p, "wj log "+p, "an act of a name that is in no person's record", doneBy(step.Author.Name, step.Author.When, step.Hash.Short()), fmt.Sprintf(": %s by %s", act.what, act.by))
		case o.By(person), e.signedBy(step, rules, act.by):
		case knownAddress(rules.Journal, o.Email), knownAddress(e.v.m.Rules().Journal, o.Email):
			e.inOthers++
		default:
			e.v.wrongFor(step.Hash, p, "whoever did it adds the address to their record: wj amend "+act.by+" email …; or puts it back and does it anew", "an act brought by a commit of somebody who is in no person's record", doneBy(step.Author.Name, step.Author.When, step.Hash.Short()), fmt.Sprintf(": %s by %s", act.what, act.by))
		}
	}
}

// at is the position at which a commit came to the mainline.
func (e *events) at(step history.Step) int {
	if e.position == nil {
		e.position = map[history.Hash]int{}
		for i, c := range e.v.m.commits {
			e.position[c.hash] = i
		}
	}
	if at, ok := e.position[step.MergedBy]; ok {
		return at
	}
	return Pending
}

// signedBy reports whether a commit bears the signature of a person.
func (e *events) signedBy(step history.Step, rules *Rules, id string) bool {
	if !step.Signed {
		return false
	}
	found, err := e.v.m.repo.Verify(step.Hash, rules.Ring, time.Time{})
	return err == nil && found.Kind == history.Good && found.Principal == id
}

// recordAct is an amendment or a void that a content has and those before it
// have not.
type recordAct struct{ what, by string }

func newActs(p string, before [][]byte, content []byte) []recordAct {
	f, ok := journal.FileOf(p)
	if !ok || f.Kind == journal.KindSignoff || !bytes.Contains(content, []byte("amended")) && !bytes.Contains(content, []byte("void")) {
		return nil
	}
	_, record := Read(f, content)
	if record == nil {
		return nil
	}
	var old []*journal.Record
	for _, b := range before {
		if _, was := Read(f, b); was != nil {
			old = append(old, was.Base())
		}
	}
	var out []recordAct
	r := record.Base()
	for _, a := range r.Amended {
		if !slices.ContainsFunc(old, func(o *journal.Record) bool { return slices.Contains(o.Amended, a) }) {
			out = append(out, recordAct{"an amendment of " + a.Key, a.By})
		}
	}
	if r.Void != nil && !slices.ContainsFunc(old, func(o *journal.Record) bool { return o.Void != nil && *o.Void == *r.Void }) {
		out = append(out, recordAct{"declared void", r.Void.By})
	}
	return slices.DeleteFunc(out, func(a recordAct) bool { return a.by == "" })
}
