package main

import (
	"fmt"
	"strings"
	"time"

	"wj/journal"
	"wj/query/report"
	"wj/water/spelling"
)

type lsCmd struct {
	Kind   string `arg:"" optional:"" help:"Which kind: sessions, lots, sites … Without it, how many there are of each."`
	Site   string `placeholder:"ID" help:"Sessions and events of this site only."`
	Since  string `placeholder:"DATE" help:"From this day on: 2026-03-01, 2026-03 or 2026."`
	Until  string `placeholder:"DATE" help:"Up to this day."`
	Format string `enum:"table,csv,json,jsonl,markdown" default:"table" help:"${enum}."`

	atFlag
}

func (c *lsCmd) Run(a *app) error {
	l, err := across(a, c.list, uniteListings)
	if err != nil {
		return err
	}
	return l.print(a, c.Format)
}

// list is what one journal has.
func (c lsCmd) list(a *app) (*listing, error) {
	if c.Kind == "" {
		return c.kinds(a)
	}
	kind, ok := journal.KindNamed(c.Kind)
	if !ok {
		var names []string
		for _, k := range journal.Kinds() {
			names = append(names, k.Folder())
		}
		return nil, withHint(spelling.HintOr(c.Kind, names, "kinds: "+strings.Join(names, ", ")), "%q is no kind of record", c.Kind)
	}
	j, root, err := a.load(journal.Options{Sessions: kind == journal.KindChange || kind == journal.KindSignoff})
	if err != nil {
		return nil, err
	}
	if err := resolve(j, &c.Site, journal.KindSite); err != nil {
		return nil, err
	}
	from, to, err := a.period(c.Since, c.Until, j.Settings.Zone)
	if err != nil {
		return nil, err
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
	if kind == journal.KindSignoff {
		return c.signoffs(a, j, root, in)
	}
	t := report.List(j, kind, c.Site, in)
	if len(t.Rows) == 0 {
		a.say("no %s", kind.Folder())
		return nil, errFindings
	}
	return &listing{columns: t.Columns, rows: t.Rows}, nil
}

func (c *lsCmd) kinds(a *app) (*listing, error) {
	j, _, err := a.load(journal.Options{})
	if err != nil {
		return nil, err
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
		return nil, errFindings
	}
	return l, nil
}
