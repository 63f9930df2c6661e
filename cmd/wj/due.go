package main

import (
	"errors"
	"fmt"
	"slices"
	"time"

	"wj/journal"
	"wj/journal/exchange"
	"wj/journal/judge"
	"wj/query/report"
	"wj/render"
)

type dueCmd struct {
	Site      []string `placeholder:"ID" help:"These sites only."`
	Owner     []string `placeholder:"ID" help:"Sites of this owner only."`
	AllOwners bool     `help:"With --ical: sites of all owners in one file."`
	Within    int      `default:"7" placeholder:"DAYS" help:"What falls due within so many days too."`
	All       bool     `help:"The next test of every schedule, however far off."`
	Ical      bool     `help:"As iCalendar to-dos, for a calendar program."`
	Output    string   `short:"o" placeholder:"FILE" help:"Where to; standard output if absent."`
	Format    string   `enum:"table,csv,json,jsonl,markdown" default:"table" help:"${enum}."`

	asOf
}

func (c *dueCmd) Help() string {
	return "wj due\n    wj due --all --ical --owner quillmarsh -o tests.ics\n\nA test falls due one interval after it was last run at that site. Exit status 1: something is overdue."
}

func (c *dueCmd) Run(a *app) error {
	j, _, err := a.load(journal.Options{Sessions: true})
	if err != nil {
		return err
	}
	if err := c.set(a, j.Settings.Zone); err != nil {
		return err
	}
	if err := errors.Join(resolveAll(j, c.Site, journal.KindSite), resolveAll(j, c.Owner, journal.KindOwner)); err != nil {
		return err
	}
	now := a.now().In(j.Settings.Zone)
	today := journal.Day(now)
	var due, later []judge.DueTest
	owners := map[string]bool{}
	for _, d := range judge.Due(j, now) {
		switch {
		case len(c.Site) > 0 && !slices.Contains(c.Site, d.Site.ID), len(c.Owner) > 0 && !slices.Contains(c.Owner, d.Site.Owner):
			continue
		case !c.All && d.On.After(today.AddDate(0, 0, c.Within)):
			later = append(later, d)
			continue
		}
		due, owners[d.Site.Owner] = append(due, d), true
	}
	if c.Ical {
		if len(owners) > 1 && len(c.Owner) == 0 && !c.AllOwners {
			return severalOwners("calendar", keys(owners))
		}
		return a.deliver(c.Output, []exchange.File{{Content: exchange.ICalendar(j, exchange.Calendar{Due: due, Now: now})}})
	}
	if c.Output != "" {
		return withHint("wj due --ical -o "+c.Output, "-o goes with --ical")
	}
	if c.Format == "json" {
		d := report.NewDue(j, due, now)
		if err := a.showJSON(d); err != nil {
			return err
		}
		if slices.ContainsFunc(d.Tests, func(t report.DueTest) bool { return t.Overdue }) {
			return errFindings
		}
		return nil
	}
	overdue := 0
	l := listing{columns: heads("due", "when", "site", "tests", "every#", "last")}
	for _, d := range due {
		when, state := whenDue(d.On, today)
		if d.Overdue(today) {
			overdue++
		}
		lastly := "never"
		if last := d.Last(); !last.IsZero() {
			lastly = day(last.In(j.Settings.Zone))
		}
		l.add(day(d.On), when, d.Site.ID, names(d.By(latest(d.On, today))), everyText(d.Every), lastly)
		l.rows[len(l.rows)-1][1].State = state
	}
	if c.Format == "table" && len(l.rows) > 0 { // the interval and the last sample follow from the day; the tests need the room
		l.columns = l.columns[:4]
		l.columns[3].Min = 24
		for i := range l.rows {
			l.rows[i] = l.rows[i][:4]
		}
	}
	if len(l.rows) > 0 {
		if err := l.print(a, c.Format); err != nil {
			return err
		}
	}
	if len(later) > 0 && len(due) == 0 {
		d := later[0]
		a.say("nothing is due within %d days; next: %s on %s (%s)", c.Within, d.Site.ID, day(d.On), names(d.Names()))
	} else if len(due) == 0 {
		a.say("nothing is due: no schedule is in force (schedule: in a site's record; wj explain site)")
	}
	if overdue > 0 {
		a.say("%s overdue", count(overdue, "test"))
		return errFindings
	}
	return nil
}

func whenDue(on, today time.Time) (string, render.State) {
	n := int(on.Sub(today).Hours() / 24)
	switch {
	case n < 0:
		return "overdue " + dayCount(today.Sub(on)), render.Bold
	case n == 0:
		return "today", render.Plain
	}
	return "in " + dayCount(on.Sub(today)), render.Plain
}

func everyText(d time.Duration) string {
	if h := int(d.Hours()); h%24 == 0 {
		return fmt.Sprintf("%d d", h/24)
	}
	return d.String()
}

func latest(a, b time.Time) time.Time {
	if b.After(a) {
		return b
	}
	return a
}
