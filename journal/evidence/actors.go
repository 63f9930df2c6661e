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
	at := e.v.m.place(step)
	if e.v.strangers || e.v.m.founding(at) || at == Unplaced {
		return
	}
	rules := e.v.m.before(at)
	for _, act := range newActs(p, before, content) {
		person, known := rules.Journal.People.Get(act.by)
		o := originOf(step.Revision)
		switch {
		case !known:
			e.v.wrongFor(step.Hash, p, "wj log "+p, "an act of a name that is in no person's record", doneBy(step.Author.Name, step.Author.When, step.Hash.Short()), fmt.Sprintf(": %s by %s", act.what, act.by))
		case absent(rules.Journal, act.by, act.on.In(e.v.j.Settings.Zone)) != "":
			e.v.wrongFor(step.Hash, p, "wj log "+p, "an act of somebody who was not there", doneBy(step.Author.Name, step.Author.When, step.Hash.Short()), fmt.Sprintf(": %s: %s", act.what, absent(rules.Journal, act.by, act.on.In(e.v.j.Settings.Zone))))
		case o.By(person), e.signedBy(step, rules, act.by):
		case knownAddress(rules.Journal, o.Email), knownAddress(e.v.m.Rules().Journal, o.Email):
			e.inOthers++
		default:
			e.v.wrongFor(step.Hash, p, "whoever did it adds the address to their record: wj amend "+act.by+" email …; or puts it back and does it anew", "an act brought by a commit of somebody who is in no person's record", doneBy(step.Author.Name, step.Author.When, step.Hash.Short()), fmt.Sprintf(": %s by %s", act.what, act.by))
		}
	}
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
type recordAct struct {
	what, by string
	on       time.Time
}

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
			out = append(out, recordAct{"an amendment of " + a.Key, a.By, a.On})
		}
	}
	if r.Void != nil && !slices.ContainsFunc(old, func(o *journal.Record) bool { return o.Void != nil && *o.Void == *r.Void }) {
		out = append(out, recordAct{"declared void", r.Void.By, r.Void.On})
	}
	return slices.DeleteFunc(out, func(a recordAct) bool { return a.by == "" })
}

// VoidedByAnother reports whether a second person declared a record void, by
// their own commit, or agreed to that. Whoever made a record cannot take back
// what was found in it.
func (f Facts) VoidedByAnother(j *journal.Journal, r *journal.Record, did ...string) bool {
	return r.Void != nil && (f.AgreedByAnother(j, r, did...) || !slices.Contains(did, r.Void.By) && !f.made(r, r.Void.By) && f.voided(r))
}

// AgreedByAnother reports whether a sign-off in force covers a record as it is,
// of somebody who neither made it nor did, as it states, what it records.
func (f Facts) AgreedByAnother(j *journal.Journal, r *journal.Record, did ...string) bool {
	return slices.ContainsFunc(f.Signoffs(j), func(s *journal.Signoff) bool {
		if s.Of != r.ID || slices.Contains(did, s.By) || f.made(r, s.By) {
			return false
		}
		v := Judge(j, s, f)
		return v.Standing == InForce && v.Accepts()
	})
}

// made reports whether a commit with an address of a person gave a record any
// content that was not declared void yet; where there is none, any content.
func (f Facts) made(r *journal.Record, id string) bool {
	if f.Line == nil {
		return false
	}
	person, known := f.Line.Rules().Journal.People.Get(id)
	own, other, standing := false, false, false
	for o, makers := range f.Line.origins {
		if o.key != recordKey(r.Path) {
			continue
		}
		by := known && slices.ContainsFunc(makers, func(m Origin) bool { return m.By(person) })
		if f.Line.hasVoid(r, o.blob) {
			other = other || by
		} else {
			standing, own = true, own || by
		}
	}
	return own || !standing && other
}

// voided reports whether the commit that brought a void is of the person whom it
// names: by its author's address, or where the policy asks for proof by its
// signature.
func (f Facts) voided(r *journal.Record) bool {
	m := f.Line
	if m == nil || m.files[recordKey(r.Path)] == nil {
		return false
	}
	for _, v := range m.files[recordKey(r.Path)].versions {
		if v.blob.IsZero() || !m.hasVoid(r, v.blob) {
			continue
		}
		rules := m.before(v.at)
		person, known := rules.Journal.People.Get(r.Void.By)
		return known && slices.ContainsFunc(m.originsOf(v.path, v.blob), func(o Origin) bool {
			if !rules.Policy().Proof {
				return o.By(person)
			}
			found, err := m.repo.Verify(o.hash, rules.Ring, time.Time{})
			return o.signed && err == nil && found.Kind == history.Good && found.Principal == person.ID
		})
	}
	return false
}

// hasVoid reports whether a content of a record has the void that it has now.
func (m *Mainline) hasVoid(r *journal.Record, blob history.Hash) bool {
	content, err := m.repo.Blob(blob)
	if err != nil {
		return false
	}
	_, record := Read(journal.File{Kind: r.Kind, ID: r.ID, Path: r.Path}, content)
	return record != nil && record.Base().Void != nil && *record.Base().Void == *r.Void
}
