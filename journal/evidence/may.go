package evidence

import (
	"slices"
	"time"

	"wj/journal"
)

// MaySign says why a person may not sign a record at a time, "" where they
// may. People and policy are those of base; j holds the record and what it
// refers to. Changes, and whatever the journal is judged by, are for reviewers
// once any person in base has that role, and for whom policy.required names; a
// role may be limited to some records.
func MaySign(base, j *journal.Journal, record journal.Any, id string, at time.Time) string {
	if why := absent(base, id, at); why != "" {
		return why
	}
	if change, ok := record.(*journal.Change); ok && base.Settings.Policy.OtherThanAuthor && change.Author == id {
		return id + " is the author of the change, and policy asks for another person"
	}
	return maySign(base, subjectOf(base, j, record), id, at)
}

// MayRemark says why a person may not write a remark at a time, "" where they
// may: whoever is in people/.
func MayRemark(base *journal.Journal, id string, at time.Time) string { return absent(base, id, at) }

func maySign(base *journal.Journal, s subject, id string, at time.Time) string {
	if why := absent(base, id, at); why != "" || !decides(s.kind) {
		return why
	}
	return mayReview(base, s, id, at)
}

// mayReview says why a person may not sign what reviewers alone sign: as one,
// or as one whom policy.required names.
func mayReview(base *journal.Journal, s subject, id string, at time.Time) string {
	why := mayGuard(base, s, id, at)
	if why != "" && slices.ContainsFunc(required(base, s, at), func(r journal.Required) bool { return names(base, r, s, id, at) }) {
		return ""
	}
	return why
}

// decides reports whether records of a kind are signed by reviewers alone.
func decides(kind journal.Kind) bool {
	switch kind {
	case journal.KindChange, journal.KindPerson, journal.KindOwner, journal.KindSite, journal.KindTarget, journal.KindInstrument, journal.KindMethod, journal.KindSettings:
		return true
	}
	return false
}

// mayGuard says why a person may not sign as a reviewer, which is asked of a
// record of any kind that silences an error.
func mayGuard(base *journal.Journal, s subject, id string, at time.Time) string {
	if why := absent(base, id, at); why != "" {
		return why
	}
	anywhere, scoped := false, false
	for _, p := range base.People.List {
		for _, r := range p.Roles {
			if r.Role != journal.RoleReviewer {
				continue
			}
			anywhere = true
			if p.ID == id && r.Covers(at) {
				if s.inside(r.Scope) {
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
		return id + " is a reviewer, but not for this: see the owners, kinds, paths and stages of the role"
	}
	return id + " was no reviewer on " + journal.FormatDate(at)
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
	owners, _ := watersOf(j, j, record)
	return owners
}

// watersOf are the owners and the stages of the water that a record is about, by
// the sites of base: what is changed of a site counts with the rest of what decides.
func watersOf(base, j *journal.Journal, record journal.Any) (owners, stages []string) {
	add := func(list *[]string, o string) {
		if o != "" && !slices.Contains(*list, o) {
			*list = append(*list, o)
		}
	}
	owner := func(o string) { add(&owners, o) }
	site := func(id string, at time.Time) {
		s, ok := base.Sites.Get(id)
		if !ok {
			s, ok = j.Sites.Get(id)
		}
		if ok {
			owner(s.OwnerAt(at))
			add(&stages, s.Stage)
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
			owner(t.Owner)
		}
	}
	switch r := record.(type) {
	case *journal.Owner:
		owner(r.ID)
	case *journal.Site:
		owner(r.Owner)
		add(&stages, r.Stage)
		if was, ok := base.Sites.Get(r.ID); ok { // who may agree to another stage may do so for both
			owner(was.Owner)
			add(&stages, was.Stage)
		}
	case *journal.Session:
		session(r)
	case *journal.Target:
		owner(r.Owner)
	case *journal.Change:
		change(r)
	case *journal.Batch:
		owner(r.Owner)
		if c, ok := j.Changes.Get(r.Change); ok {
			change(c)
		}
	case *journal.Report:
		owner(r.Owner)
	case *journal.Event:
		for _, id := range r.Sites {
			site(id, r.On)
		}
	}
	return owners, stages
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
