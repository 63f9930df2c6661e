package report

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"wj/journal"
	"wj/journal/judge"
	"wj/render"
	"wj/water"
)

// lister is a table that grows by rows of texts.
type lister struct{ render.Table }

func (l *lister) add(texts ...string) {
	row := make([]render.Cell, len(texts))
	for i, t := range texts {
		row[i] = render.Cell{Text: t}
	}
	l.Rows = append(l.Rows, row)
}

// List makes the rows of one kind of record, each kind with the columns that distinguish its records; sessions and changes have lists of
// their own. Records with a day are those of days that in takes, events those of the site where one is given.
func List(j *journal.Journal, kind journal.Kind, site string, in func(time.Time) bool) render.Table {
	l := lister{}
	switch kind {
	case journal.KindLot:
		l.Columns = render.Heads("id", "for", "received", "expires", "used#", "of#", "state")
		used := judge.CountTests(j)
		for _, r := range j.Lots.List {
			what := r.Substance
			if len(r.Analytes) > 0 {
				what = names(r.Analytes)
			}
			if what == "" && len(r.Standard) > 0 {
				what = "check standard"
			}
			state, of, taken := "", "", ""
			if r.Tests > 0 {
				of, taken = fmt.Sprint(r.Tests), fmt.Sprint(used[r.ID]+r.Losses)
			}
			if !r.Finished.IsZero() {
				state = "finished " + DayText(r.Finished)
			}
			if r.Recalled != nil {
				state = "recalled " + DayText(r.Recalled.On)
			}
			l.add(r.ID, what, DayText(r.Received), DayText(r.Expires), taken, of, MarkText(r.Void, state))
		}
	case journal.KindPerson:
		l.Columns = render.Heads("id", "name", "roles", "since", "until")
		for _, r := range j.People.List {
			var roles []string
			for _, x := range r.Roles {
				roles = append(roles, x.Role)
			}
			l.add(r.ID, r.Name, strings.Join(roles, ", "), DayText(r.Since), DayText(r.Until))
		}
	case journal.KindOwner:
		l.Columns = render.Heads("id", "name", "email")
		for _, r := range j.Owners.List {
			l.add(r.ID, r.Name, strings.Join(r.Email, ", "))
		}
	case journal.KindSite:
		l.Columns = render.Heads("id", "name", "stage", "owner", "fed by")
		for _, r := range j.Sites.List {
			l.add(r.ID, r.Name, r.Stage, r.Owner, strings.Join(r.FedBy, ", "))
		}
	case journal.KindInstrument:
		l.Columns = render.Heads("id", "name", "measures", "since", "until")
		for _, r := range j.Instruments.List {
			var ids []water.ID
			for id := range r.Measures {
				ids = append(ids, id)
			}
			slices.Sort(ids)
			l.add(r.ID, r.Name, names(ids), DayText(r.Since), DayText(r.Until))
		}
	case journal.KindMethod:
		l.Columns = render.Heads("id", "name", "steps#")
		for _, r := range j.Methods.List {
			l.add(r.ID, r.Name, fmt.Sprint(len(r.Steps)))
		}
	case journal.KindTarget:
		l.Columns = render.Heads("id", "name", "ranges#")
		for _, r := range j.Targets.List {
			l.add(r.ID, r.Name, fmt.Sprint(len(r.Ranges)))
		}
	case journal.KindBatch:
		l.Columns = render.Heads("id", "beer", "brewed", "change", "mash pH#")
		for _, r := range j.Batches.List {
			if !in(r.Brewed) {
				continue
			}
			ph := ""
			if r.HasMashPH {
				ph = fmt.Sprintf("%.2f", r.MashPH)
			}
			l.add(r.ID, r.Beer, DayText(r.Brewed), r.Change, ph)
		}
	case journal.KindEvent:
		l.Columns = render.Heads("id", "on", "site", "what")
		for _, r := range j.Events.List {
			if in(r.On) && (site == "" || slices.Contains(r.Sites, site)) {
				l.add(r.ID, DayText(r.On), strings.Join(r.Sites, ", "), r.What)
			}
		}
	case journal.KindAction:
		l.Columns = render.Heads("id", "opened", "deviation", "state")
		for _, r := range j.Actions.List {
			if !in(r.Opened) {
				continue
			}
			state := "open"
			if r.Closed != nil {
				state = "closed " + DayText(r.Closed.On)
			}
			l.add(r.ID, DayText(r.Opened), r.Deviation, state)
		}
	case journal.KindReport:
		l.Columns = render.Heads("id", "owner", "sent", "to")
		for _, r := range j.Reports.List {
			if in(r.Sent) {
				l.add(r.ID, r.Owner, DayText(r.Sent), strings.Join(r.To, ", "))
			}
		}
	}
	return l.Table
}

// DayText is a day as lists have it: 2026-03-01; "" for none.
func DayText(t time.Time) string {
	if t.IsZero() {
		return ""
	}
	return journal.FormatDate(t)
}

// MarkText is a state, or that the record is void and why.
func MarkText(void *journal.Mark, state string) string {
	if void != nil {
		return "void: " + void.Reason
	}
	return state
}
