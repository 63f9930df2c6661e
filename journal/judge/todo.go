package judge

import (
	"fmt"
	"maps"
	"slices"
	"sort"
	"strings"
	"time"

	"wj/journal"
)

// Topic is what something to do is about.
type Topic string

// The topics, in the order in which they are listed.
const (
	Tests       Topic = "tests"
	Reagents    Topic = "lots"
	Reviews     Topic = "changes"
	Actions     Topic = "actions"
	SentReports Topic = "reports"
)

// ToDo is something that waits for somebody: what, and the next step.
type ToDo struct {
	Topic   Topic
	Subject string // the record's id
	Text    string
	Next    string // the command that does it, or shows more
	Urgent  bool   // overdue, recalled, used without approval
	// Of what waits for a decision: for whom, since when; see [Waiting].
	For   []string
	Since time.Time
	// Branch is the branch on which it waits, "" where that is checked out; see [WaitingAside].
	Branch string
}

// Lead times of ToDos, common practice, no source.
const (
	lotLead      = 60 * 24 * time.Hour
	approvalLead = 30 * 24 * time.Hour
	dueLead      = 7 * 24 * time.Hour
	inUse        = 90 * 24 * time.Hour // a lot not used for longer is at rest
	StockDays    = 90                  // whose use is the rate of use
)

// ToDos lists what waits in a journal that was loaded with its sessions:
// tests due or overdue by the sites' schedules, lots that expire within 60
// days, run out or are recalled, changes that wait for a signature or whose
// approval ended, open actions and reports whose readers hold old values.
func ToDos(j *journal.Journal, g *Changes) []ToDo {
	now := g.facts.Now
	var out []ToDo
	out = append(out, dueTests(j, now)...)
	out = append(out, lots(j, now)...)
	out = append(out, reviews(j, g)...)
	out = append(out, actions(j, now)...)
	return append(out, staleReports(j)...)
}

// dueTests tells the tests that are due or will be within a week, or within a
// quarter of a shorter interval.
func dueTests(j *journal.Journal, now time.Time) []ToDo {
	day := dayOf(j, now)
	var out []ToDo
	for _, d := range Due(j, now) {
		lead := min(dueLead, d.Every/4)
		if d.On.After(day.Add(lead)) {
			continue
		}
		m := ToDo{Topic: Tests, Subject: d.Site.ID, Urgent: d.Overdue(day)}
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
		m.Next = "wj enter " + d.Site.ID
		out = append(out, m)
	}
	inRounds(j, out)
	sort.SliceStable(out, func(a, b int) bool { return out[a].Urgent && !out[b].Urgent })
	return out
}

// inRounds names the round that tests several of the sites that are due, where the settings have one.
func inRounds(j *journal.Journal, due []ToDo) {
	for _, name := range slices.Sorted(maps.Keys(j.Settings.Rounds)) {
		var at []int
		for i := range due {
			if slices.Contains(j.Settings.Rounds[name], due[i].Subject) {
				at = append(at, i)
			}
		}
		for _, i := range at {
			if len(at) > 1 {
				due[i].Next = "wj round " + name
			}
		}
	}
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

// lots lists lots that expire, run out or are recalled. Of a lot that nobody has
// used for 90 days only a recall is listed.
func lots(j *journal.Journal, now time.Time) []ToDo {
	day := dayOf(j, now)
	var out []ToDo
	for _, g := range Stock(j, now, StockDays) {
		for _, h := range g.Lots {
			if t, ok := lotToDo(g, h, day, now); ok {
				out = append(out, t)
			}
		}
	}
	slices.SortStableFunc(out, func(a, b ToDo) int {
		if a.Urgent != b.Urgent {
			if a.Urgent {
				return -1
			}
			return 1
		}
		return strings.Compare(a.Subject, b.Subject)
	})
	return out
}

func lotToDo(g *Group, h *Holding, day, now time.Time) (ToDo, bool) {
	l := h.Lot
	todo := func(urgent bool, next, format string, args ...any) (ToDo, bool) {
		return ToDo{Topic: Reagents, Subject: l.ID, Text: l.ID + " " + fmt.Sprintf(format, args...), Next: next, Urgent: urgent}, true
	}
	if l.Recalled != nil {
		switch {
		case h.Gone != Recalled: // the recall is still to come
		case l.Finished.IsZero():
			return todo(true, "wj trace "+l.ID+" --down", "is recalled since %s and not put away: %s", journal.FormatDate(l.Recalled.On), l.Recalled.Reason)
		case h.Use.AfterRecall > 0 && now.Sub(h.Use.LastAt) <= 365*24*time.Hour: // reagent/recalled goes on to report it
			return todo(true, "wj trace "+l.ID+" --down", "was used %s after its recall on %s", journal.Count(h.Use.AfterRecall, "time"), journal.FormatDate(l.Recalled.On))
		}
		if h.Gone == Recalled {
			return ToDo{}, false
		}
	}
	if h.Gone == Finished || h.Resting(now) {
		return ToDo{}, false
	}
	spare, order := "; order another", "wj stock"
	other, atHand := g.Spare(h, day.Add(lotLead))
	if atHand {
		spare = "; " + other.Lot.ID + " is at hand: note the day when this one is finished"
		order = "wj amend " + l.ID + " finished " + journal.FormatDate(day) + " --reason \"used up\""
	}
	switch {
	case h.Gone == Expired:
		return todo(true, order, "expired on %s and is not put away%s", journal.FormatDate(l.Expires), spare)
	case h.Ends(day, lotLead) == EndsByDate:
		when := "today"
		if d := int(l.Expires.Sub(day).Hours() / 24); d > 0 {
			when = fmt.Sprintf("in %d d", d)
		}
		return todo(false, order, "expires on %s, %s%s", journal.FormatDate(l.Expires), when, spare)
	case h.Gone == UsedUp:
		return todo(true, order, "is used up: %d of %d tests%s", h.Use.Tests+l.Losses, l.Tests, spare)
	case h.Ends(day, lotLead) == EndsByUse && !atHand:
		return todo(false, order, "has %.0f tests left, about %.0f d at the present use; order another", h.Left, h.Left/h.PerDay)
	}
	return ToDo{}, false
}

func actions(j *journal.Journal, now time.Time) []ToDo {
	day := dayOf(j, now)
	var out []ToDo
	for _, a := range j.Actions.List {
		if a.Closed != nil || a.Void != nil {
			continue
		}
		m := ToDo{Topic: Actions, Subject: a.ID, Text: fmt.Sprintf("%s is open since %s: %s", a.ID, journal.FormatDate(a.Opened), a.Deviation), Next: "wj show " + a.ID}
		if !a.Due.IsZero() && a.Due.Before(day) {
			m.Urgent = true
			m.Text += fmt.Sprintf("; due %s, %d d ago", journal.FormatDate(a.Due), int(day.Sub(a.Due).Hours()/24))
		}
		out = append(out, m)
	}
	return out
}

// staleReports lists reports whose readers hold an old value.
func staleReports(j *journal.Journal) []ToDo {
	var out []ToDo
	for _, r := range Reports(j) {
		if r.Stale() {
			out = append(out, ToDo{Topic: SentReports, Subject: r.ID, Urgent: true,
				Text: fmt.Sprintf("%s is stale: %s changed after it was sent to %s; send it again with replaces: %s", r.ID, some(r.Changed, 2), strings.Join(r.To, ", "), r.ID),
				Next: "wj show " + r.ID})
		}
	}
	return out
}
