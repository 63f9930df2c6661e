package audit

import (
	"fmt"
	"slices"
	"sort"
	"strings"
	"time"

	"wj/journal"
	"wj/journal/evidence"
	"wj/journal/judge"
)

// Sort is what a matter is about.
type Sort string

// The sorts, in the order in which they are told.
const (
	Tests    Sort = "tests"
	Reagents Sort = "lots"
	Reviews  Sort = "changes"
	Actions  Sort = "actions"
	Reports  Sort = "reports"
)

// Matter is something that waits for somebody: what, and the next step.
type Matter struct {
	Sort    Sort
	Subject string // the record's id
	Text    string
	Next    string // a command, or what to do
	Urgent  bool   // overdue, recalled, used without approval
}

// Lead times of Matters, common practice, no source.
const (
	lotLead      = 60 * 24 * time.Hour
	approvalLead = 30 * 24 * time.Hour
	dueLead      = 7 * 24 * time.Hour
	inUse        = 90 * 24 * time.Hour // a lot not used for longer is at rest
)

// Matters lists what waits in a journal that was loaded with its sessions:
// tests due or overdue by the sites' schedules, lots that expire within 60
// days, run out or are recalled, changes that wait for a signature or whose
// approval ended, open actions and reports whose readers hold old values.
func Matters(j *journal.Journal, g *Judgement) []Matter {
	now := g.facts.Now
	var out []Matter
	out = append(out, dueTests(j, now)...)
	out = append(out, lots(j, now)...)
	out = append(out, reviews(j, g)...)
	out = append(out, actions(j, now)...)
	return append(out, staleReports(j)...)
}

func today(j *journal.Journal, now time.Time) time.Time { return journal.Day(now.In(j.Settings.Zone)) }

// dueTests tells the tests that are due or will be within a week, or within a
// quarter of a shorter interval.
func dueTests(j *journal.Journal, now time.Time) []Matter {
	day := today(j, now)
	var out []Matter
	for _, d := range judge.Due(j, now) {
		lead := min(dueLead, d.Every/4)
		if d.On.After(day.Add(lead)) {
			continue
		}
		m := Matter{Sort: Tests, Subject: d.Site.ID, Urgent: d.Overdue(day)}
		when := "due " + journal.FormatDate(d.On)
		if m.Urgent {
			when = fmt.Sprintf("%d d overdue", int(day.Sub(d.On).Hours()/24))
		} else if day.Equal(d.On) {
			when = "due today"
		}
		var names []string
		for _, id := range d.By(later(day, d.On)) {
			names = append(names, id.String())
		}
		m.Text = fmt.Sprintf("%s is %s: %s, every %s", d.Site.ID, when, some(names, 4), interval(d.Every))
		if last := d.Last(); last.IsZero() {
			m.Text += "; never tested"
		} else {
			m.Text += "; last " + journal.FormatDate(last.In(j.Settings.Zone))
		}
		m.Next = "wj new session " + d.Site.ID + " " + names[0] + "=…"
		out = append(out, m)
	}
	sort.SliceStable(out, func(a, b int) bool { return out[a].Urgent && !out[b].Urgent })
	return out
}

// interval writes an interval in days, or in hours below two of them.
func interval(d time.Duration) string {
	if h := int(d.Hours()); h < 48 {
		return fmt.Sprintf("%d h", h)
	}
	return fmt.Sprintf("%d d", int(d.Hours()/24))
}

func later(a, b time.Time) time.Time {
	if b.After(a) {
		return b
	}
	return a
}

// some lists the first names of a list and counts the rest.
func some(names []string, n int) string {
	if len(names) <= n+1 {
		return strings.Join(names, ", ")
	}
	return fmt.Sprintf("%s and %d more", strings.Join(names[:n], ", "), len(names)-n)
}

// lots tells lots that expire, run out or are recalled. Of a lot that nobody
// has used for 90 days only a recall is told.
func lots(j *journal.Journal, now time.Time) []Matter {
	type use struct {
		count       int
		first, last time.Time
		afterRecall int
	}
	uses := map[string]*use{}
	note := func(id string, at time.Time, n int) {
		l, ok := j.Lots.Get(id)
		if !ok {
			return
		}
		u := uses[id]
		if u == nil {
			u = &use{first: at, last: at}
			uses[id] = u
		}
		u.count += n
		if at.Before(u.first) {
			u.first = at
		}
		u.last = later(u.last, at)
		if l.Recalled != nil && journal.Day(at).After(l.Recalled.On) {
			u.afterRecall++
		}
	}
	for _, s := range j.Sessions.List {
		at := s.Tested
		if at.IsZero() {
			at = s.Sampled
		}
		for i := range s.Readings {
			note(s.Readings[i].Lot, at, s.Readings[i].Replicates())
		}
		note(s.StandardLot, at, 1)
	}
	for _, b := range j.Batches.List {
		for _, w := range b.Weighed {
			note(w.Lot, b.Brewed, 1)
		}
	}
	day := today(j, now)
	var out []Matter
	for _, l := range j.Lots.List {
		if l.Void != nil {
			continue
		}
		u := uses[l.ID]
		if u == nil {
			u = &use{}
		}
		add := func(urgent bool, next, format string, args ...any) {
			out = append(out, Matter{Sort: Reagents, Subject: l.ID, Text: l.ID + " " + fmt.Sprintf(format, args...), Next: next, Urgent: urgent})
		}
		if l.Recalled != nil {
			if l.Finished.IsZero() {
				add(true, "wj trace "+l.ID+" --down; put it away, then wj amend "+l.ID+" finished "+journal.FormatDate(day)+" --reason \"recalled, put away\"", "is recalled since %s and not put away: %s", journal.FormatDate(l.Recalled.On), l.Recalled.Reason)
			} else if u.afterRecall > 0 {
				add(true, "wj trace "+l.ID+" --down", "was used %d times after its recall on %s", u.afterRecall, journal.FormatDate(l.Recalled.On))
			}
			continue
		}
		if !l.Finished.IsZero() || u.count > 0 && now.Sub(u.last) > inUse {
			continue
		}
		spare := ""
		if other := spareLot(j, l, day); other != "" {
			spare = "; " + other + " is at hand"
		}
		order := "order another"
		if spare != "" {
			order = "note the day when it is finished: wj amend " + l.ID + " finished " + journal.FormatDate(day) + " --reason \"used up\""
		}
		left := l.Tests - u.count - l.Losses
		switch {
		case !l.Expires.IsZero() && l.Expires.Before(day):
			add(true, order, "expired on %s and is not put away%s", journal.FormatDate(l.Expires), spare)
		case !l.Expires.IsZero() && l.Expires.Sub(day) <= lotLead:
			when := "today"
			if d := int(l.Expires.Sub(day).Hours() / 24); d > 0 {
				when = fmt.Sprintf("in %d d", d)
			}
			add(false, order, "expires on %s, %s%s", journal.FormatDate(l.Expires), when, spare)
		case l.Tests > 0 && left <= 0:
			add(true, order, "is used up: %d of %d tests%s", u.count+l.Losses, l.Tests, spare)
		case l.Tests > 0 && u.count > 0 && u.last.Sub(u.first) >= 14*24*time.Hour:
			perDay := float64(u.count) / (u.last.Sub(u.first).Hours() / 24)
			if d := float64(left) / perDay; d*24 < lotLead.Hours() && spare == "" {
				add(false, order, "has %d tests left, about %.0f d at the present use", left, d)
			}
		}
	}
	sort.SliceStable(out, func(a, b int) bool { return out[a].Urgent && !out[b].Urgent })
	return out
}

// spareLot is another lot of the same goods that is in date beyond the lead
// time.
func spareLot(j *journal.Journal, l *journal.Lot, day time.Time) string {
	for _, o := range j.Lots.List {
		if o == l || o.Void != nil || o.Recalled != nil || !o.Finished.IsZero() || o.Substance != l.Substance || len(o.Standard) > 0 != (len(l.Standard) > 0) {
			continue
		}
		if !o.Expires.IsZero() && o.Expires.Sub(day) <= lotLead || o.Received.After(day) {
			continue
		}
		all := true
		for _, id := range l.Analytes {
			all = all && slices.Contains(o.Analytes, id)
		}
		if all && (len(l.Analytes) > 0 || l.Substance != "") {
			return o.ID
		}
	}
	return ""
}

// reviews tells changes that wait. Of a target's changes that are void or
// lapsed only the newest matters, and only while none is approved.
func reviews(j *journal.Journal, g *Judgement) []Matter {
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
	var out []Matter
	for _, c := range j.Changes.List {
		r := g.Change(c)
		m := Matter{Sort: Reviews, Subject: c.ID, Next: "wj review " + c.ID}
		switch r.State {
		case Proposed, Draft:
			m.Text = fmt.Sprintf("%s is %s by %s since %s and waits for %s", c.ID, r.State, c.Author, journal.FormatDate(c.Proposed), signatures(r.Needed-len(r.Approved)))
		case Emergency:
			m.Text, m.Urgent = fmt.Sprintf("%s is used in an emergency before review", c.ID), true
		case Missed:
			m.Text, m.Urgent = fmt.Sprintf("%s missed: %s", c.ID, r.Why[len(r.Why)-1]), true
		case VoidState, LapsedState:
			if c.Void != nil || approved[c.For] != nil || newest[c.For] != r {
				continue
			}
			m.Text = fmt.Sprintf("%s is %s: %s", c.ID, r.State, r.Why[0])
		default:
			if !r.State.Approved() || approved[c.For] != r {
				continue
			}
			end := approvalEnd(r, g)
			if end.IsZero() || end.Sub(g.facts.Now) > approvalLead {
				continue
			}
			m.Text = fmt.Sprintf("the approval of %s ends on %s", c.ID, journal.FormatDate(end.In(j.Settings.Zone)))
		}
		for _, n := range r.Notes {
			if strings.Contains(n, "overdue") || r.State != Superseded && strings.Contains(n, "without an approval") {
				m.Urgent = true
				m.Text += "; " + n
			}
		}
		out = append(out, m)
	}
	return out
}

func signatures(n int) string {
	if n == 1 {
		return "a signature"
	}
	return fmt.Sprintf("%d signatures", n)
}

// approvalEnd is when a change's approval lapses by age; zero where it does
// not.
func approvalEnd(r *Change, g *Judgement) time.Time {
	policy := g.facts.BaseOf(g.j).Settings.Policy
	var last time.Time
	for _, v := range r.Verdicts {
		if v.Standing == evidence.InForce && !v.Refused() {
			last = later(last, v.Signoff.On)
		}
	}
	if last.IsZero() || policy.ValidFor <= 0 {
		return time.Time{}
	}
	return last.Add(policy.ValidFor)
}

func actions(j *journal.Journal, now time.Time) []Matter {
	day := today(j, now)
	var out []Matter
	for _, a := range j.Actions.List {
		if a.Closed != nil || a.Void != nil {
			continue
		}
		m := Matter{Sort: Actions, Subject: a.ID, Text: fmt.Sprintf("%s is open since %s: %s", a.ID, journal.FormatDate(a.Opened), a.Deviation), Next: "wj show " + a.ID + "; close it in " + a.Path}
		if !a.Due.IsZero() && a.Due.Before(day) {
			m.Urgent = true
			m.Text += fmt.Sprintf("; due %s, %d d ago", journal.FormatDate(a.Due), int(day.Sub(a.Due).Hours()/24))
		}
		out = append(out, m)
	}
	return out
}

// staleReports tells reports that no later one replaces and that rest on files
// which have changed since: whoever got them holds an old value.
func staleReports(j *journal.Journal) []Matter {
	replaced := map[string]bool{}
	for _, r := range j.Reports.List {
		if r.Void == nil {
			replaced[r.Replaces] = true
		}
	}
	var out []Matter
	for _, r := range j.Reports.List {
		if r.Void != nil || replaced[r.ID] {
			continue
		}
		var changed []string
		for _, p := range sortedKeys(r.RestsOn) {
			digest, err := journal.DigestFile(j.FS, p)
			if err != nil {
				if moved, ok := evidence.MovedTo(j, p); ok {
					digest, err = journal.DigestFile(j.FS, moved)
				}
			}
			if err != nil || !strings.EqualFold(digest, r.RestsOn[p]) {
				changed = append(changed, p)
			}
		}
		if len(changed) > 0 {
			out = append(out, Matter{Sort: Reports, Subject: r.ID, Urgent: true,
				Text: fmt.Sprintf("%s is stale: %s changed after it was sent to %s", r.ID, some(changed, 2), strings.Join(r.To, ", ")),
				Next: "send it anew with replaces: " + r.ID})
		}
	}
	return out
}
