package main

import (
	"errors"
	"slices"
	"strings"

	"wj/journal"
	"wj/journal/exchange"
	"wj/journal/judge"
	"wj/query/report"
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

func (c *dueCmd) Run(a *app) error {
	if c.Output != "" && !c.Ical {
		return withHint("wj due --ical -o "+c.Output, "-o goes with --ical")
	}
	if c.Ical {
		return a.calendar(c.Output, c.Owner, c.AllOwners, func(a *app) ([]exchange.Calendar, error) {
			j, due, err := c.tests(a)
			if err != nil {
				return nil, err
			}
			return []exchange.Calendar{exchange.NewCalendar(j, due, a.Now().In(j.Settings.Zone), nil, false)}, nil
		})
	}
	d, err := across(a, c.due, report.UniteDues)
	if err != nil {
		return err
	}
	t := d.Table(c.Format == "table")
	if c.Format == "table" && len(t.Rows) > 0 {
		a.say("%s", d.Answer[0])
	}
	switch {
	case c.Format == "json":
		err = a.showJSON(d)
	case len(t.Rows) > 0:
		err = (&listing{columns: t.Columns, rows: t.Rows}).print(a, c.Format)
	}
	if err == nil && d.Overdue() > 0 {
		return errFindings
	}
	return err
}

// due are the tests of one journal.
func (c *dueCmd) due(a *app) (*report.Due, error) {
	j, due, err := c.tests(a)
	if err != nil {
		return nil, err
	}
	return report.NewDue(j, due, a.Now()), nil
}

// tests are those that were asked for; where there are none it says what is next.
func (c dueCmd) tests(a *app) (*journal.Journal, []judge.DueTest, error) {
	j, _, err := a.load(journal.Options{Sessions: true})
	if err != nil {
		return nil, nil, err
	}
	if err := c.set(a, j.Settings.Zone); err != nil {
		return nil, nil, err
	}
	c.Site, c.Owner = slices.Clone(c.Site), slices.Clone(c.Owner)
	if err := errors.Join(resolveAll(j, c.Site, journal.KindSite), resolveAll(j, c.Owner, journal.KindOwner)); err != nil {
		return nil, nil, err
	}
	now := a.Now().In(j.Settings.Zone)
	today := journal.Day(now)
	var due, later []judge.DueTest
	for _, d := range judge.Due(j, now) {
		switch {
		case len(c.Site) > 0 && !slices.Contains(c.Site, d.Site.ID), len(c.Owner) > 0 && !slices.Contains(c.Owner, d.Site.Owner):
			continue
		case !c.All && d.On.After(today.AddDate(0, 0, c.Within)):
			later = append(later, d)
			continue
		}
		due = append(due, d)
	}
	switch {
	case len(due) > 0 || c.Ical || c.Format == "json":
	case len(later) > 0:
		next := later[0]
		a.say("nothing is due within %s; next: %s on %s (%s)", journal.Count(c.Within, "day"), next.Site.ID, day(next.On), strings.ReplaceAll(names(next.Names()), "_", " "))
	default:
		a.say("nothing is due: no schedule is in force (schedule: in a site's record; wj explain site)")
	}
	return j, due, nil
}
