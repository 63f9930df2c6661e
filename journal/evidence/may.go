package evidence

import (
	"slices"
	"time"

	"wj/journal"
)

// MaySign says why a person may not sign a record at a time, "" where they
// may. People and policy are those of base; j holds the record and what it
// refers to. Changes, and whatever the journal is judged by, are for reviewers
// once any person in base has that role; a role may be limited to kinds of
// record and to the water of some owners.
func MaySign(base, j *journal.Journal, record journal.Any, id string, at time.Time) string {
	kind := journal.KindSettings
	if record != nil {
		kind = record.Base().Kind
	}
	if why := absent(base, id, at); why != "" {
		return why
	}
	if change, ok := record.(*journal.Change); ok && base.Settings.Policy.OtherThanAuthor && change.Author == id {
		return id + " is the author of the change, and policy asks for another person"
	}
	return maySignKind(base, kind, OwnersOf(j, record), id, at)
}

// MayRemark says why a person may not write a remark at a time, "" where they
// may: whoever is in people/.
func MayRemark(base *journal.Journal, id string, at time.Time) string { return absent(base, id, at) }

func maySignKind(base *journal.Journal, kind journal.Kind, owners []string, id string, at time.Time) string {
	if why := absent(base, id, at); why != "" {
		return why
	}
	switch kind {
	case journal.KindChange, journal.KindPerson, journal.KindOwner, journal.KindSite, journal.KindTarget, journal.KindInstrument, journal.KindMethod, journal.KindSettings:
		return mayGuard(base, kind, owners, id, at)
	}
	return ""
}

// mayGuard says why a person may not sign a change of what decides, which a
// record of any kind can be that silences an error.
func mayGuard(base *journal.Journal, kind journal.Kind, owners []string, id string, at time.Time) string {
	if why := absent(base, id, at); why != "" {
		return why
	}
	anywhere, scoped := false, false
	for _, p := range base.People.List {
		for _, r := range p.Roles {
			if r.Role != "reviewer" {
				continue
			}
			anywhere = true
			if p.ID == id && r.Covers(at) {
				if inScope(r, kind, owners) {
					return ""
				}
				scoped = true
			}
		}
	}
	switch {
	case !anywhere:
		return ""
	case scoped:
		return id + " is a reviewer, but not for this: see the owners and kinds of the role"
	}
	return id + " was no reviewer on " + journal.FormatDate(at)
}

func inScope(r journal.Role, kind journal.Kind, owners []string) bool {
	if len(r.Kinds) > 0 && !slices.Contains(r.Kinds, kind.Folder()) {
		return false
	}
	if len(r.Owners) == 0 {
		return true
	}
	for _, o := range owners {
		if !slices.Contains(r.Owners, o) {
			return false
		}
	}
	return len(owners) > 0
}

// absent says why somebody could do nothing in the journal at a time.
func absent(base *journal.Journal, id string, at time.Time) string {
	person, ok := base.People.Get(id)
	switch {
	case !ok:
		return id + " is nobody in people/"
	case person.Void != nil:
		return "the record of " + id + " is void"
	case !person.Covers(at):
		return id + " was not there on " + journal.FormatDate(at) + spanText(person.Span)
	}
	return ""
}

// OwnersOf are those whose water a record is about; none where it is about
// nobody's.
func OwnersOf(j *journal.Journal, record journal.Any) []string {
	var owners []string
	add := func(o string) {
		if o != "" && !slices.Contains(owners, o) {
			owners = append(owners, o)
		}
	}
	site := func(id string, at time.Time) {
		if s, ok := j.Sites.Get(id); ok {
			add(s.OwnerAt(at))
		}
	}
	session := func(s *journal.Session) { site(s.Site, s.Sampled.In(j.Settings.Zone)) }
	change := func(c *journal.Change) {
		for _, b := range c.Basis {
			if s, ok := j.Sessions.Get(b.Session); ok {
				session(s)
			}
		}
		if t, ok := j.Targets.Get(c.For); ok {
			add(t.Owner)
		}
	}
	switch r := record.(type) {
	case *journal.Owner:
		add(r.ID)
	case *journal.Site:
		add(r.Owner)
	case *journal.Session:
		session(r)
	case *journal.Target:
		add(r.Owner)
	case *journal.Change:
		change(r)
	case *journal.Batch:
		add(r.Owner)
		if c, ok := j.Changes.Get(r.Change); ok {
			change(c)
		}
	case *journal.Report:
		add(r.Owner)
	case *journal.Event:
		for _, id := range r.Sites {
			site(id, r.On)
		}
	}
	return owners
}

// Reviewers lists who may sign a record at a time.
func Reviewers(base, j *journal.Journal, record journal.Any, at time.Time) []string {
	var out []string
	for _, p := range base.People.List {
		if MaySign(base, j, record, p.ID, at) == "" {
			out = append(out, p.ID)
		}
	}
	return out
}

func spanText(s journal.Span) string {
	switch {
	case !s.Until.IsZero() && !s.Since.IsZero():
		return " (" + journal.FormatDate(s.Since) + " to " + journal.FormatDate(s.Until) + ")"
	case !s.Until.IsZero():
		return " (until " + journal.FormatDate(s.Until) + ")"
	case !s.Since.IsZero():
		return " (since " + journal.FormatDate(s.Since) + ")"
	}
	return ""
}
