package evidence

import (
	"fmt"
	"maps"
	"slices"
	"strings"
	"time"

	"wj/journal"
)

// subject is what a scope is asked about: a record, by its kind, its file and
// whose water of which stages it is about.
type subject struct {
	kind   journal.Kind
	path   string
	owners []string
	stages []string
}

// subjectOf is the subject of a record by the sites of base; of wj.yaml where it is nil.
func subjectOf(base, j *journal.Journal, record journal.Any) subject {
	if record == nil {
		return subject{kind: journal.KindSettings, path: journal.SettingsFile}
	}
	s := subject{kind: record.Base().Kind, path: record.Base().Path}
	s.owners, s.stages = watersOf(base, j, record)
	return s
}

func (s subject) folder() string {
	if s.kind == journal.KindSettings {
		return journal.SettingsFile
	}
	return s.kind.Folder()
}

// inside reports whether a subject is wholly in a scope: all of its owners, all
// of its stages.
func (s subject) inside(x journal.Scope) bool {
	all := func(limit, of []string) bool {
		return len(limit) == 0 || len(of) > 0 && !slices.ContainsFunc(of, func(o string) bool { return !slices.Contains(limit, o) })
	}
	return s.named(x) && all(x.Owners, s.owners) && all(x.Stages, s.stages)
}

// touches reports whether a subject is in a scope with any of its owners and stages.
func (s subject) touches(x journal.Scope) bool {
	some := func(limit, of []string) bool {
		return len(limit) == 0 || slices.ContainsFunc(of, func(o string) bool { return slices.Contains(limit, o) })
	}
	return s.named(x) && some(x.Owners, s.owners) && some(x.Stages, s.stages)
}

func (s subject) named(x journal.Scope) bool {
	return (len(x.Kinds) == 0 || slices.Contains(x.Kinds, s.folder())) &&
		(len(x.Paths) == 0 || slices.ContainsFunc(x.Paths, func(p string) bool { return journal.MatchPath(p, s.path) }))
}

// Demand is how many of whom must sign a record.
type Demand struct {
	Reviewers int
	Who       []string // whose signatures count; nil: whoever may sign
	Special   bool     // it is an entry of policy.required
}

// Text is the demand in words: "2 of jonas, pia".
func (d Demand) Text() string {
	if !d.Special {
		return journal.Count(d.Reviewers, "reviewer")
	}
	if len(d.Who) == 0 {
		return fmt.Sprintf("%d of nobody: policy.required names nobody who is there", d.Reviewers)
	}
	return fmt.Sprintf("%d of %s", d.Reviewers, strings.Join(d.Who, ", "))
}

// Unmet are the demands that the signatures of people do not meet.
func Unmet(demands []Demand, by []string) []Demand {
	return slices.DeleteFunc(slices.Clone(demands), func(d Demand) bool {
		n := 0
		for _, id := range by {
			if d.Who == nil || slices.Contains(d.Who, id) {
				n++
			}
		}
		return n >= d.Reviewers
	})
}

// met reports whether the signatures of people meet all demands.
func met(demands []Demand, by map[string]bool) bool {
	return len(Unmet(demands, slices.Collect(maps.Keys(by)))) == 0
}

// lacks says in words which demands the signatures of others do not meet.
func lacks(demands []Demand, by map[string]bool) string {
	var out []string
	for _, d := range Unmet(demands, slices.Collect(maps.Keys(by))) {
		if d.Special {
			out = append(out, d.Text()+" must sign it")
		} else {
			out = append(out, fmt.Sprintf("%d of %d others signed it", len(by), d.Reviewers))
		}
	}
	return strings.Join(out, "; ")
}

// most is how many people the largest demand asks for.
func most(demands []Demand) (n int) {
	for _, d := range demands {
		n = max(n, d.Reviewers)
	}
	return n
}

// Demands are what the policy of base asks of the signatures of a record at a
// time: first what is asked of all records of its kind, then each entry of
// policy.required that it is in. There are none where nothing is asked for.
func Demands(base, j *journal.Journal, record journal.Any, at time.Time) []Demand {
	if len(base.Settings.Policy.Required) > 0 {
		return demandsOf(base, subjectOf(base, j, record), authorOf(record), at)
	}
	if _, ok := record.(*journal.Change); ok {
		return []Demand{{Reviewers: base.Settings.Policy.Reviewers}}
	}
	return nil
}

func demandsOf(base *journal.Journal, s subject, author string, at time.Time) []Demand {
	policy := base.Settings.Policy
	var out []Demand
	if s.kind == journal.KindChange {
		out = []Demand{{Reviewers: policy.Reviewers}}
	}
	special := required(base, s, at)
	if len(out) > 0 && slices.ContainsFunc(special, func(r journal.Required) bool { return len(r.People) > 0 || r.Role != "" }) {
		out[0].Who = holders(base, func(id string) bool { return mayGuard(base, s, id, at) == "" })
	}
	for _, r := range special {
		d := Demand{Reviewers: r.Reviewers, Special: true}
		d.Who = holders(base, func(id string) bool {
			switch {
			case policy.OtherThanAuthor && id == author || absent(base, id, at) != "":
				return false
			case len(r.People) > 0 || r.Role != "":
				return names(base, r, s, id, at)
			}
			return mayGuard(base, s, id, at) == ""
		})
		out = append(out, d)
	}
	return out
}

// guardDemands are what the rules ask of the signatures of others under a file
// that decides.
func (r *Rules) guardDemands(s subject, at time.Time) []Demand {
	others := Demand{Reviewers: r.Policy().GuardReviewers}
	var special []Demand
	for _, d := range demandsOf(r.Journal, s, "", at) {
		if d.Special {
			special = append(special, d)
		}
	}
	return append([]Demand{others}, special...)
}

// required are the entries of policy.required that a subject is in at a time.
func required(base *journal.Journal, s subject, at time.Time) []journal.Required {
	var out []journal.Required
	for _, r := range base.Settings.Policy.Required {
		if r.Covers(at) && s.touches(r.Scope) {
			out = append(out, r)
		}
	}
	return out
}

// names reports whether an entry names a person, or a role that the person has
// for the subject at a time.
func names(base *journal.Journal, r journal.Required, s subject, id string, at time.Time) bool {
	if slices.Contains(r.People, id) {
		return true
	}
	p, ok := base.People.Get(id)
	return ok && r.Role != "" && slices.ContainsFunc(p.Roles, func(x journal.Role) bool { return x.Role == r.Role && x.Covers(at) && s.inside(x.Scope) })
}

// holders are the people of whom a condition holds; never nil.
func holders(base *journal.Journal, is func(id string) bool) []string {
	out := []string{}
	for _, p := range base.People.List {
		if p.Void == nil && is(p.ID) {
			out = append(out, p.ID)
		}
	}
	return out
}

// authorOf is who made a record, as the record says it; "" where it does not.
func authorOf(record journal.Any) string {
	switch r := record.(type) {
	case *journal.Change:
		return r.Author
	case *journal.Session:
		return r.By
	case *journal.Report:
		return r.By
	case *journal.Action:
		return r.By
	case *journal.Event:
		return r.By
	}
	return ""
}
