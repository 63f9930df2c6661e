package main

import (
	"fmt"
	"sort"
	"strings"
	"time"

	"wj/journal"
	"wj/journal/judge"
	"wj/water"
	"wj/water/spelling"
)

type lsCmd struct {
	Kind   string `arg:"" optional:"" help:"Which kind: sessions, lots, sites … Without it, how many there are of each."`
	Site   string `placeholder:"ID" help:"Sessions and events of this site only."`
	Since  string `placeholder:"DATE" help:"From this day on: 2026-03-01, 2026-03 or 2026."`
	Until  string `placeholder:"DATE" help:"Up to this day."`
	Format string `enum:"table,csv,json,jsonl,markdown" default:"table" help:"${enum}."`
}

func (c *lsCmd) Run(a *app) error {
	if c.Kind == "" {
		return c.kinds(a)
	}
	kind, ok := journal.KindNamed(c.Kind)
	if !ok {
		var names []string
		for _, k := range journal.Kinds() {
			names = append(names, k.Folder())
		}
		return withHint(spelling.HintOr(c.Kind, names, "kinds: "+strings.Join(names, ", ")), "%q is no kind of record", c.Kind)
	}
	j, root, err := a.load(journal.Options{Sessions: kind == journal.KindChange})
	if err != nil {
		return err
	}
	if err := resolve(j, &c.Site, journal.KindSite); err != nil {
		return err
	}
	from, to, err := a.period(c.Since, c.Until, j.Settings.Zone)
	if err != nil {
		return err
	}
	in := func(t time.Time) bool {
		return (from.IsZero() || !t.Before(from)) && (to.IsZero() || !t.After(to))
	}
	if kind == journal.KindSession {
		return c.sessions(a, j, in)
	}
	if kind == journal.KindChange {
		return c.changes(a, j, root, in)
	}
	l := list(j, kind, c.Site, in)
	if len(l.rows) == 0 {
		a.say("no %s", kind.Folder())
		return errFindings
	}
	return l.print(a, c.Format)
}

func (c *lsCmd) kinds(a *app) error {
	j, _, err := a.load(journal.Options{})
	if err != nil {
		return err
	}
	l := &listing{columns: heads("kind", "records#", "meaning")}
	n := map[journal.Kind]int{}
	for _, f := range j.Files {
		n[f.Kind]++
	}
	for _, k := range journal.Kinds() {
		if n[k] > 0 || c.Format != "table" {
			l.add(k.Folder(), fmt.Sprint(n[k]), k.What())
		}
	}
	if len(l.rows) == 0 {
		a.say("the journal is empty")
		return errFindings
	}
	return l.print(a, c.Format)
}

func day(t time.Time) string {
	if t.IsZero() {
		return ""
	}
	return journal.FormatDate(t)
}

func mark(void *journal.Mark, s string) string {
	if void != nil {
		return "void: " + void.Reason
	}
	return s
}

// list makes the rows of one kind, each kind with the columns that tell its
// records apart.
func list(j *journal.Journal, kind journal.Kind, site string, in func(time.Time) bool) *listing {
	l := &listing{}
	switch kind {
	case journal.KindLot:
		l.columns = heads("id", "for", "received", "expires", "used#", "of#", "state")
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
				state = "finished " + day(r.Finished)
			}
			if r.Recalled != nil {
				state = "recalled " + day(r.Recalled.On)
			}
			l.add(r.ID, what, day(r.Received), day(r.Expires), taken, of, mark(r.Void, state))
		}
	case journal.KindPerson:
		l.columns = heads("id", "name", "roles", "since", "until")
		for _, r := range j.People.List {
			var roles []string
			for _, x := range r.Roles {
				roles = append(roles, x.Role)
			}
			l.add(r.ID, r.Name, strings.Join(roles, ", "), day(r.Since), day(r.Until))
		}
	case journal.KindOwner:
		l.columns = heads("id", "name", "email")
		for _, r := range j.Owners.List {
			l.add(r.ID, r.Name, strings.Join(r.Email, ", "))
		}
	case journal.KindSite:
		l.columns = heads("id", "name", "stage", "owner", "fed by")
		for _, r := range j.Sites.List {
			l.add(r.ID, r.Name, r.Stage, r.Owner, strings.Join(r.FedBy, ", "))
		}
	case journal.KindInstrument:
		l.columns = heads("id", "name", "measures", "since", "until")
		for _, r := range j.Instruments.List {
			var ids []water.ID
			for id := range r.Measures {
				ids = append(ids, id)
			}
			sort.Slice(ids, func(a, b int) bool { return ids[a] < ids[b] })
			l.add(r.ID, r.Name, names(ids), day(r.Since), day(r.Until))
		}
	case journal.KindMethod:
		l.columns = heads("id", "name", "steps#")
		for _, r := range j.Methods.List {
			l.add(r.ID, r.Name, fmt.Sprint(len(r.Steps)))
		}
	case journal.KindTarget:
		l.columns = heads("id", "name", "ranges#")
		for _, r := range j.Targets.List {
			l.add(r.ID, r.Name, fmt.Sprint(len(r.Ranges)))
		}
	case journal.KindSignoff:
		l.columns = heads("id", "of", "by", "on", "decision")
		for _, r := range j.Signoffs.List {
			if in(r.On) {
				l.add(r.ID, r.Of, r.By, day(r.On), r.Decision)
			}
		}
	case journal.KindBatch:
		l.columns = heads("id", "beer", "brewed", "change", "mash pH#")
		for _, r := range j.Batches.List {
			if !in(r.Brewed) {
				continue
			}
			ph := ""
			if r.HasMashPH {
				ph = fmt.Sprintf("%.2f", r.MashPH)
			}
			l.add(r.ID, r.Beer, day(r.Brewed), r.Change, ph)
		}
	case journal.KindEvent:
		l.columns = heads("id", "on", "site", "what")
		for _, r := range j.Events.List {
			if in(r.On) && (site == "" || strings.Contains(","+strings.Join(r.Sites, ",")+",", ","+site+",")) {
				l.add(r.ID, day(r.On), strings.Join(r.Sites, ", "), r.What)
			}
		}
	case journal.KindAction:
		l.columns = heads("id", "opened", "deviation", "state")
		for _, r := range j.Actions.List {
			if !in(r.Opened) {
				continue
			}
			state := "open"
			if r.Closed != nil {
				state = "closed " + day(r.Closed.On)
			}
			l.add(r.ID, day(r.Opened), r.Deviation, state)
		}
	case journal.KindReport:
		l.columns = heads("id", "owner", "sent", "to")
		for _, r := range j.Reports.List {
			if in(r.Sent) {
				l.add(r.ID, r.Owner, day(r.Sent), strings.Join(r.To, ", "))
			}
		}
	}
	return l
}

func names(ids []water.ID) string {
	out := make([]string, len(ids))
	for i, id := range ids {
		out[i] = id.String()
	}
	return strings.Join(out, ", ")
}
