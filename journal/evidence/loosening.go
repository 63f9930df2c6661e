package evidence

import (
	"reflect"
	"slices"
	"strings"
	"time"

	"wj/journal"
)

// loosening reports which changed values of a guard file give somebody more room
// than they had: a wider limit, a reviewer more, an error that is silent. What
// only adds a check or ends a permission loosens nothing.
type loosening struct {
	kind    journal.Kind
	before  candidate
	now     candidate
	rules   *Rules
	isError func(rule string) bool
	own     bool // the person themselves changed their record
	fresh   bool // the record is new
}

// guardKeysOf are the keys of a guard file whose change may loosen something.
func guardKeysOf(kind journal.Kind) []string {
	switch kind {
	case journal.KindSettings:
		return []string{"format", "timezone", "units", "jurisdictions", "restricted", "limits", "policy", "scale", "lint", "lint_for", "rules", "joined"}
	case journal.KindPerson:
		return []string{"email", "roles", "keys", "since", "until", "void"}
	case journal.KindSite:
		return []string{"owner", "stage", "limits"}
	case journal.KindOwner:
		return []string{"self"}
	case journal.KindTarget:
		return []string{"ranges", "owner"}
	case journal.KindInstrument:
		return []string{"measures", "resolution", "until"}
	case journal.KindMethod:
		return []string{"measures", "stale_after"}
	}
	return nil
}

// of picks, of the names whose values differ, those that loosen.
func (l loosening) of(old, now map[string]string, names []string) map[string]bool {
	out := map[string]bool{}
	roles, owner, fewer, apart := l.roles(), l.owner(), l.fewerLaws(), l.elsewhere(old, now)
	for _, name := range names {
		is, set := now[name]
		was, had := old[name]
		if is == was && set == had {
			continue
		}
		parts := strings.Split(name, "\x00")
		// A limit, a range or a reading of a meter that is new as a whole only adds.
		added := !had && len(parts) > 1 && !slices.ContainsFunc(names, func(n string) bool {
			_, there := old[n]
			return there && strings.HasPrefix(n+"\x00", parts[0]+"\x00"+parts[1]+"\x00")
		})
		switch parts[0] {
		case "limits": // a site's own takes the place of the journal's
			out[name] = !added || l.kind == journal.KindSite
		case "ranges", "measures", "restricted":
			out[name] = !added
		case "units", "scale":
			out[name] = had
		case "jurisdictions":
			out[name] = fewer
		case "lint_for":
			out[name] = apart
		case "rules": // of the house
			out[name] = had && len(parts) > 1 && l.isError("house/"+parts[1])
		case "policy":
			out[name] = l.policy(name)
		case "lint":
			out[name] = len(parts) > 1 && l.isError(parts[1])
		case "joined": // what was approved there counts here
			out[name] = set
		case "roles":
			out[name] = roles
		case "keys", "email":
			switch revoked := strings.Contains(name, "revoked"); {
			case l.fresh: // a name more; where nobody is a reviewer, one more who may sign
				out[name] = !anyReviewer(l.rules.Journal)
			default:
				out[name] = !l.own && (set != revoked)
			}
		case "owner":
			out[name] = owner
		case "stage": // by it limits hold, roles are limited, and records are required to be signed
			out[name] = had
		case "until": // ending earlier is no loosening
			out[name] = had && (!set || is > was)
		case "since":
			out[name] = had && is < was
		case "void":
			out[name] = had && !set
		default:
			out[name] = true
		}
	}
	return out
}

// fewerLaws reports whether limits of a jurisdiction that held do not any more;
// where none is named the World Health Organization's hold.
func (l loosening) fewerLaws() bool {
	laws := func(c candidate) []string {
		if list := settingsIn(c.content).Jurisdictions; len(list) > 0 {
			return list
		}
		return []string{"who"}
	}
	if l.kind != journal.KindSettings {
		return false
	}
	now := laws(l.now)
	return slices.ContainsFunc(laws(l.before), func(law string) bool { return !slices.Contains(now, law) })
}

// elsewhere reports whether settings for a part of the journal, old or now, name a
// rule whose findings are errors, or make it so.
func (l loosening) elsewhere(old, now map[string]string) bool {
	for _, values := range []map[string]string{old, now} {
		for name, value := range values {
			if _, rule, ok := strings.Cut(name, "\x00lint\x00"); ok && strings.HasPrefix(name, "lint_for\x00") {
				rule, _, _ = strings.Cut(rule, "\x00")
				if l.isError(rule) || value == "error" {
					return true
				}
			}
		}
	}
	return false
}

// policy reports whether the policy of now asks for less in one of its values.
func (l loosening) policy(name string) bool {
	old, now := policyOf(l.before.content), policyOf(l.now.content)
	longer := func(a, b time.Duration) bool { return a > 0 && (b == 0 || b > a) }
	if strings.HasPrefix(name, "policy\x00required") {
		return requiresLess(old.Required, now.Required)
	}
	switch strings.Join(strings.Split(name, "\x00"), ".") {
	case "policy.proof":
		return old.Proof && !now.Proof
	case "policy.guards.reviewers":
		return now.GuardReviewers < old.GuardReviewers
	case "policy.changes.reviewers":
		return now.Reviewers < old.Reviewers
	case "policy.changes.other_than_author":
		return old.OtherThanAuthor && !now.OtherThanAuthor
	case "policy.changes.valid_for":
		return longer(old.ValidFor, now.ValidFor)
	case "policy.changes.emergency_review":
		return longer(old.EmergencyReview, now.EmergencyReview)
	case "policy.amendments.reason":
		return old.ReasonRequired && !now.ReasonRequired
	}
	return true
}

// requiresLess reports whether a list of whom records require asks for less than
// another one, or lets somebody sign whom that did not name.
func requiresLess(old, now []journal.Required) bool {
	equal := func(a, b journal.Required) bool { return reflect.DeepEqual(a, b) }
	for _, r := range old {
		if !slices.ContainsFunc(now, func(n journal.Required) bool { return equal(r, n) }) {
			return true
		}
	}
	return slices.ContainsFunc(now, func(n journal.Required) bool {
		return (len(n.People) > 0 || n.Role != "") && !slices.ContainsFunc(old, func(r journal.Required) bool { return equal(r, n) })
	})
}

func policyOf(settings []byte) journal.Policy { return settingsIn(settings).Policy }

func settingsIn(content []byte) journal.Settings {
	var r Rules
	if err := r.load(map[string]candidate{journal.SettingsFile: {journal.SettingsFile, content}}); err != nil {
		return journal.Settings{Policy: journal.DefaultPolicy()}
	}
	return r.Journal.Settings
}

// anyReviewer reports whether somebody has, or had, the role of a reviewer: where
// nobody has, everybody may sign.
func anyReviewer(j *journal.Journal) bool {
	return slices.ContainsFunc(j.People.List, func(p *journal.Person) bool {
		return slices.ContainsFunc(p.Roles, func(r journal.Role) bool { return r.Role == journal.RoleReviewer })
	})
}

// roles reports whether a person may review more than before: a role of a
// reviewer, or one that policy.required names, that is new or reaches further, or, where nobody has that role and
// all may sign, being there at all.
func (l loosening) roles() bool {
	if l.kind != journal.KindPerson {
		return false
	}
	required := l.rules.Policy().Required
	reviewers := func(c candidate) (out []journal.Role) {
		f, ok := journal.FileOf(c.path)
		if !ok || c.content == nil {
			return nil
		}
		_, record := Read(f, c.content)
		if p, ok := record.(*journal.Person); ok {
			for _, r := range p.Roles {
				if r.Role == journal.RoleReviewer || slices.ContainsFunc(required, func(q journal.Required) bool { return q.Role == r.Role }) {
					out = append(out, r)
				}
			}
		}
		return out
	}
	was := reviewers(l.before)
	for _, r := range reviewers(l.now) {
		if !slices.ContainsFunc(was, func(w journal.Role) bool { return within(r, w) }) {
			return true
		}
	}
	return false
}

// within reports whether a role reaches no further than another one.
func within(r, w journal.Role) bool {
	narrower := func(a, b []string) bool {
		return len(b) == 0 || len(a) > 0 && !slices.ContainsFunc(a, func(x string) bool { return !slices.Contains(b, x) })
	}
	return r.Role == w.Role && narrower(r.Owners, w.Owners) && narrower(r.Kinds, w.Kinds) && narrower(r.Paths, w.Paths) && narrower(r.Stages, w.Stages) && !r.Since.Before(w.Since) && (w.Until.IsZero() || !r.Until.IsZero() && !r.Until.After(w.Until))
}

// owner reports whether the owner of a past day is another one: an owner that
// comes with a later day leaves the results of before where they were.
func (l loosening) owner() bool {
	if l.kind != journal.KindSite {
		return true
	}
	owners := func(c candidate) []journal.SiteOwner {
		f, ok := journal.FileOf(c.path)
		if !ok || c.content == nil {
			return nil
		}
		_, record := Read(f, c.content)
		s, ok := record.(*journal.Site)
		switch {
		case !ok:
			return nil
		case len(s.Owners) > 0:
			return s.Owners
		case s.Owner != "":
			return []journal.SiteOwner{{Owner: s.Owner}}
		}
		return nil
	}
	was, is := owners(l.before), owners(l.now)
	if len(is) < len(was) {
		return true
	}
	for i := range was {
		if was[i] != is[i] {
			return true
		}
	}
	for _, o := range is[len(was):] {
		if o.Since.IsZero() && len(was) > 0 {
			return true
		}
	}
	return false
}
