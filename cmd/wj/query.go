package main

import (
	"errors"
	"strings"

	"wj/journal"
	"wj/query"
	"wj/query/report"
	"wj/render"
	"wj/water"
	"wj/water/spelling"
)

type queryCmd struct {
	Expr    string            `arg:"" optional:"" help:"What the sessions must satisfy; all sessions if absent."`
	Columns []string          `short:"c" sep:"none" placeholder:"NAMES" help:"Columns, separated by commas; by default id, sampled, site and what the expression names."`
	Format  string            `enum:"table,csv,json,jsonl,markdown" default:"table" help:"${enum}."`
	Unit    map[string]string `placeholder:"NAME=UNIT" mapsep:"," help:"Give a column in another unit: --unit alkalinity=dKH."`
	Since   string            `placeholder:"DATE" help:"Sampled from then on: 2026-03-01, 2026-03, 2026-Q2, 2026 or last 90 d."`
	Until   string            `placeholder:"DATE" help:"Sampled up to then, that day or month included."`
	By      []string          `sep:"none" placeholder:"NAMES" help:"Group by site, month, quarter, year, regime, by, lot(sulfate) …, and reduce each group with --show."`
	Show    []string          `sep:"none" placeholder:"NAMES" help:"With --by: count, median(sulfate), quantile(nitrate,0.95), slope(…), min(…), max(…), mean(…), first(…), last(…), below(…)."`
	Sort    []string          `sep:"none" placeholder:"NAMES" help:"Order the rows; -sulfate puts the largest first."`
	Limit   int               `placeholder:"N" help:"At most N rows."`
	Void    bool              `help:"Void sessions too."`
	Samples bool              `name:"all-samples" help:"With --show: check standards, blanks and duplicates too."`

	atFlag
}

func (c *queryCmd) Run(a *app) error {
	for _, list := range []*[]string{&c.Columns, &c.By, &c.Show, &c.Sort} {
		var split []string
		for _, given := range *list {
			split = append(split, query.SplitList(given)...)
		}
		*list = split
	}
	where, err := query.Compile(c.Expr)
	if err != nil && query.IsAggregate(c.Expr) { // last(sulfate) of all sessions
		c.Show, err = append(c.Show, c.Expr), nil
		where, _ = query.Compile("")
	}
	if err != nil {
		return c.explain(a, err)
	}
	if len(c.By) > 0 && len(c.Show) == 0 {
		c.Show = []string{"count"}
	}
	shown, err := across(a, func(a *app) (*query.Result, error) { return c.ask(a, where) }, query.Unite)
	if err != nil {
		return err
	}
	answer := report.Answer{Result: shown}
	for _, line := range answer.Said() {
		a.say("%s", line)
	}
	if err := c.print(a, answer); err != nil {
		return err
	}
	if len(shown.Rows) == 0 {
		return errFindings
	}
	return nil
}

// ask puts the question to one journal.
func (c *queryCmd) ask(a *app, where *query.Expression) (*query.Result, error) {
	j, _, err := a.load(journal.Options{})
	if err != nil {
		return nil, err
	}
	req := query.Request{Where: where, Columns: c.Columns, Units: map[string]water.Unit{}, Limit: c.Limit, IncludeVoid: c.Void, AllSamples: c.Samples, Now: a.Now()}
	for name, text := range c.Unit {
		u, ok := water.ParseUnit(text)
		if !ok {
			return nil, withHint(spelling.HintOr(text, water.UnitNames(), "known units: "+strings.Join(water.UnitNames(), ", ")), "%q is not a known unit", text)
		}
		req.Units[name] = u
	}
	if req.Since, req.Until, err = a.period(c.Since, c.Until, j.Settings.Zone); err != nil {
		return nil, err
	}
	req.Until = report.PastEnd(req.Until)
	for _, s := range c.Sort {
		by, descending := strings.CutPrefix(s, "-")
		req.Sort = append(req.Sort, query.SortKey{By: by, Descending: descending})
	}
	result, err := query.Run(j, req)
	if err == nil && len(c.Show) > 0 {
		result, err = query.Reduce(result, c.By, c.Show)
	}
	if err != nil {
		return nil, c.explain(a, err)
	}
	return result, nil
}

// explain shows an error of the expression with a caret under its place.
func (c *queryCmd) explain(a *app, err error) error {
	var qe *query.Error
	if !errors.As(err, &qe) {
		return err
	}
	if line, _ := qe.Excerpt(); line != "" {
		_ = a.printTalk(a.talk.Excerpt("", qe.Line, qe.Column, line, 1))
	}
	if qe.Line > 0 {
		return withHint(qe.Help, "column %d: %s", qe.Column, qe.Message)
	}
	return withHint(qe.Help, "%s", qe.Message)
}

func (c *queryCmd) print(a *app, r report.Answer) error {
	switch c.Format {
	case "csv":
		return render.CSV(a.stdout, r.Fields(), r.Texts())
	case "jsonl":
		return render.JSONLines(a.stdout, r.Objects())
	case "json":
		return a.document("query", r.JSON())
	}
	if len(r.Rows) == 0 {
		return nil
	}
	if c.Format == "markdown" {
		return a.print(render.MarkdownTable(r.Table()))
	}
	return a.lines().Show(func(o render.Output) string { return o.Table(r.Table()) })
}
