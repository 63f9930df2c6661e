package judge

import (
	"cmp"
	"fmt"
	"io/fs"
	"slices"
	"strings"

	"wj/journal"
	"wj/journal/evidence"
)

// Waiting is what waits for somebody's decision, the most urgent first, then the
// oldest: changes, rivals, records that policy.required wants signed, and what
// everything is judged by where others have not signed it; base is the journal of
// the branch that judges, nil where there is none. With a person it is what
// waits for them.
func Waiting(j *journal.Journal, g *Changes, base *journal.Journal, baseName, person string, isError func(j *journal.Journal, rule string) bool) ([]ToDo, error) {
	of, err := guards(j, g, base, baseName, isError)
	if err != nil {
		return nil, err
	}
	list := append(reviews(j, g), of...)
	list = slices.DeleteFunc(list, func(t ToDo) bool { return person != "" && !slices.Contains(t.For, person) })
	SortWaiting(list)
	return list, nil
}

// SortWaiting puts what is most urgent first, then what waits longest.
func SortWaiting(list []ToDo) {
	slices.SortStableFunc(list, func(a, b ToDo) int {
		if a.Urgent != b.Urgent {
			if a.Urgent {
				return -1
			}
			return 1
		}
		return cmp.Or(a.Since.Compare(b.Since), cmp.Compare(a.Subject, b.Subject))
	})
}

// WaitingAside is of list, what [Waiting] gives for a branch that is not checked out
// and whose journal j is, what the branch brings: it is about a file that the branch
// changed since it parted, at one of paths, and that the mainline never held as it is,
// or about one that such a sign-off signs. next is the command that shows the branch.
func WaitingAside(j *journal.Journal, line *evidence.Mainline, list []ToDo, paths []string, branch, next string) []ToDo {
	brought := map[string]bool{}
	for _, p := range paths {
		now, err := fs.ReadFile(j.FS, p)
		brought[p] = err == nil && !line.Had(p, now)
	}
	subjects := map[string]bool{}
	for _, s := range j.Signoffs.List {
		if brought[s.Path] {
			subjects[s.Of] = true
		}
	}
	var out []ToDo
	for _, t := range list {
		if !subjects[t.Subject] && !brought[t.Subject] && !slices.ContainsFunc(j.Find(t.Subject), func(f journal.File) bool { return brought[f.Path] }) {
			continue
		}
		t.Branch, t.Next = branch, next
		out = append(out, t)
	}
	return out
}

// reviews tells changes that wait, and records that policy wants signed. Of a
// target's changes that are void or expired only the newest matters, and only
// while none is approved.
func reviews(j *journal.Journal, g *Changes) []ToDo {
	approved := map[string]*Change{}
	newest := map[string]*Change{}
	for _, c := range j.Changes.List {
		r := g.Change(c)
		if r.State.Approved() && (approved[c.For] == nil || c.Proposed.After(approved[c.For].Proposed)) {
			approved[c.For] = r
		}
		if n := newest[c.For]; n == nil || c.Proposed.After(n.Proposed) {
			newest[c.For] = r
		}
	}
	var out []ToDo
	for _, c := range j.Changes.List {
		r := g.Change(c)
		m := ToDo{Topic: Reviews, Subject: c.ID, Next: "wj review " + c.ID, For: g.signers(r), Since: c.Proposed}
		switch r.State {
		case Proposed, Draft:
			m.Text = fmt.Sprintf("%s is %s by %s since %s and waits for %s", c.ID, r.State, c.Author, journal.FormatDate(c.Proposed), r.signatures())
			if r.State == Draft {
				m.For = []string{c.Author}
			}
		case Asked:
			m.Text, m.For = g.asked(r)
		case Emergency:
			m.Text, m.Urgent = fmt.Sprintf("%s is used in an emergency before review", c.ID), true
		case Missed:
			m.Text, m.Urgent, m.For = fmt.Sprintf("%s missed: %s", c.ID, r.Why[len(r.Why)-1]), true, []string{c.Author}
		case VoidState, LapsedState:
			if c.Void != nil || approved[c.For] != nil || newest[c.For] != r {
				continue
			}
			m.Text = fmt.Sprintf("%s is %s: %s", c.ID, r.State, r.Why[0])
		default:
			if !r.State.Approved() || approved[c.For] != r {
				continue
			}
			end := r.Ends()
			if end.IsZero() || end.Sub(g.facts.Now) > approvalLead {
				continue
			}
			m.Text = fmt.Sprintf("the approval of %s ends on %s", c.ID, journal.FormatDate(end.In(j.Settings.Zone)))
			m.For = g.mayApprove(r)
		}
		if r.Review.Overdue {
			m.Urgent = true
			m.Text += fmt.Sprintf("; its emergency review is overdue: it was due by %s", journal.FormatTime(r.Review.Due.In(r.Emergency.On.Location())))
		}
		if len(r.Unapproved) > 0 && r.State != Superseded {
			m.Urgent = true
			m.Text += "; " + r.UnapprovedNote()
		}
		out = append(out, m)
	}
	for _, group := range g.Rivals() {
		names, by := IDs(group), g.mayApprove(group[0])
		for _, r := range group {
			if !slices.Contains(by, r.Author) {
				by = append(by, r.Author)
			}
		}
		out = append(out, ToDo{Topic: Reviews, Subject: names[0], Urgent: true, Next: "wj review " + names[0], For: by, Since: group[0].approvedOn(),
			Text: fmt.Sprintf("%s are all approved for %s and none supersedes another: decide which one is brewed with", some(names, 3), group[0].For)})
	}
	for _, u := range evidence.Unreviewed(j, g.facts) {
		out = append(out, ToDo{Topic: Reviews, Subject: u.ID, Next: "wj review " + u.ID, For: u.For, Since: u.Day,
			Text: fmt.Sprintf("%s %s waits for %s", u.Kind, u.ID, u.Lacks)})
	}
	return out
}

// mayApprove are those who may sign a change.
func (g *Changes) mayApprove(r *Change) []string {
	return evidence.Reviewers(g.facts.BaseOf(g.j), g.j, r.Change, g.facts.Now.In(zoneOf(g.j)))
}

// signers are those whose signature would help a change: of those who may sign,
// whoever has not and is among those whom an unmet demand names. Where its author
// has to sign first, that is the author.
func (g *Changes) signers(r *Change) []string {
	demands := evidence.Demands(g.facts.BaseOf(g.j), g.j, r.Change, g.facts.Now.In(zoneOf(g.j)))
	unmet := evidence.Unmet(demands, r.Approved)
	out := slices.DeleteFunc(g.mayApprove(r), func(id string) bool {
		return slices.Contains(r.Approved, id) || !slices.ContainsFunc(unmet, func(d evidence.Demand) bool { return d.Who == nil || slices.Contains(d.Who, id) })
	})
	if r.Approval.Unproposed {
		out = append(out, r.Author)
	}
	return out
}

// signatures says how many signatures a change waits for, and whose.
func (r *Change) signatures() string {
	var out []string
	if n := r.Needed - len(r.Approved); n == 1 {
		out = append(out, "a signature")
	} else if n > 1 || r.Approval.Lacks == "" {
		out = append(out, fmt.Sprintf("%d signatures", max(n, 0)))
	}
	if r.Approval.Lacks != "" {
		out = append(out, r.Approval.Lacks)
	}
	return strings.Join(out, "; ")
}

// asked says who asks for what, and whose turn it is: the author's to answer,
// then that of whoever asked.
func (g *Changes) asked(r *Change) (text string, by []string) {
	for _, v := range r.Verdicts {
		if !v.Asks() || !slices.Contains(r.Approval.Asked, v.Signoff.By) {
			continue
		}
		answered := slices.ContainsFunc(g.Signoffs(v.Signoff.ID), func(a evidence.Verdict) bool {
			return a.Standing == evidence.InForce && a.Signoff.By == r.Author
		})
		who, what := r.Author, "asks for changes"
		if answered {
			who, what = v.Signoff.By, "has an answer"
		}
		if !slices.Contains(by, who) {
			by = append(by, who)
		}
		text = fmt.Sprintf("%s waits for %s: %s %s (%s)", r.ID, strings.Join(by, ", "), v.Signoff.By, what, v.Signoff.ID)
	}
	return text, by
}

// guards are the files that decide and that others have not signed: as the
// mainline tells it, and as they differ from the base.
func guards(j *journal.Journal, g *Changes, base *journal.Journal, baseName string, isError func(j *journal.Journal, rule string) bool) ([]ToDo, error) {
	list, err := g.facts.UnsignedGuards(j, isError)
	if err != nil {
		return nil, err
	}
	var out []ToDo
	seen := map[string]bool{}
	add := func(m evidence.Missing, format string, args ...any) {
		if seen[m.Path] {
			return
		}
		seen[m.Path] = true
		out = append(out, ToDo{Topic: Reviews, Subject: m.ID, Next: "wj review " + m.ID, For: m.For, Since: m.Day,
			Text: m.Path + " decides over others and " + fmt.Sprintf(format, args...) + ": " + m.Lacks})
	}
	for _, m := range list {
		add(m, "was changed")
	}
	if base == nil {
		return out, nil
	}
	for _, c := range evidence.Guards(base, j, baseName, func(rule string) bool { return isError(j, rule) }) {
		if signed, why := g.facts.GuardSigned(j, c.Path); !signed {
			m := evidence.Missing{File: journal.File{ID: c.Path, Path: c.Path}, Lacks: why, For: g.facts.GuardReviewers(j, c.Path)}
			if f, ok := journal.FileOf(c.Path); ok {
				m.File = f
			}
			add(m, "differs from %s", baseName)
		}
	}
	return out, nil
}
