package main

import (
	"wj/journal"
	"wj/journal/judge"
	"wj/query/report"
)

type stockCmd struct {
	All    bool   `help:"Lots that are used up, finished, expired or recalled too."`
	Days   int    `default:"90" placeholder:"N" help:"The rate of use is that of the last N days."`
	Format string `enum:"table,csv,json,jsonl,markdown" default:"table" help:"${enum}."`

	asOf
}

func (c *stockCmd) Run(a *app) error {
	if c.Days < 1 {
		return withHint("such as --days 90", "a rate of use needs at least one day")
	}
	s, err := across(a, c.stock, report.UniteStocks)
	if err != nil {
		return err
	}
	t := s.Table(false)
	switch {
	case c.Format == "json":
		return a.showJSON(s)
	case len(t.Rows) == 0:
		a.say("no lots in stock")
		return errFindings
	case c.Format == "table":
		return a.screen(s.Document())
	}
	return (&listing{columns: t.Columns, rows: t.Rows}).print(a, c.Format)
}

func (c *stockCmd) stock(a *app) (*report.Stock, error) {
	j, _, err := a.load(journal.Options{Sessions: true})
	if err != nil {
		return nil, err
	}
	if err := c.set(a, j.Settings.Zone); err != nil {
		return nil, err
	}
	now := a.Now().In(j.Settings.Zone)
	return report.NewStock(j, judge.Stock(j, now, c.Days), now, c.Days, c.All), nil
}
