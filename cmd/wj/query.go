package main

import (
	"errors"
	"fmt"
	"maps"
	"slices"
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
	c.sayCounts(a, shown)
	c.sayAside(a, shown.Aside)
	if err := c.print(a, shown); err != nil {
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

func (c *queryCmd) sayCounts(a *app, r *query.Result) {
	var left []string
	add := func(n int, why string) {
		if n > 0 {
			left = append(left, fmt.Sprintf("%d %s", n, why))
		}
	}
	add(r.NoReading, "without the reading")
	add(r.Censored, "beyond the range of the method")
	add(r.Void, "void")
	add(r.Unreadable, "unreadable (see wj lint)")
	for _, note := range r.Notes {
		a.say("%s", note)
	}
	text := fmt.Sprintf("%d of %s", r.Matched, journal.Count(r.Looked, "session"))
	if r.Matched > r.Shown {
		text += fmt.Sprintf(", %d shown", r.Shown)
	}
	if len(left) > 0 {
		text += "; left out: " + strings.Join(left, ", ")
	}
	a.say("%s", text)
}

// sayAside shows which samples the aggregates left aside.
func (c *queryCmd) sayAside(a *app, aside map[string]int) {
	var parts []string
	for _, kind := range slices.Sorted(maps.Keys(aside)) {
		parts = append(parts, journal.Count(aside[kind], kind))
	}
	if len(parts) > 0 {
		a.say("not the site's water, or a moment twice, and left aside: %s (--all-samples takes them)", strings.Join(parts, ", "))
	}
}

func (c *queryCmd) print(a *app, r *query.Result) error {
	switch c.Format {
	case "csv":
		rows := make([][]string, len(r.Rows))
		for i := range r.Rows {
			for _, f := range r.Record(i) {
				rows[i] = append(rows[i], fieldText(f.Value))
			}
		}
		return render.CSV(a.stdout, r.Fields(), rows)
	case "jsonl":
		return render.JSONLines(a.stdout, queryRows(r))
	case "json":
		return a.document("query", queryDocument(r))
	}
	if len(r.Rows) == 0 {
		return nil
	}
	t := render.Table{}
	for i, col := range r.Columns {
		numeric := false
		for _, row := range r.Rows {
			numeric = numeric || row.Cells[i].Number
		}
		unit := ""
		if numeric {
			unit = col.UnitText()
		}
		t.Columns = append(t.Columns, render.Column{Head: col.Name, Unit: unit, Right: numeric, Wrap: !numeric && i > 0})
	}
	for _, row := range r.Rows {
		cells := make([]render.Cell, len(row.Cells))
		for k := range row.Cells {
			cells[k] = render.Cell{Text: row.Cells[k].ForPerson()}
		}
		t.Rows = append(t.Rows, cells)
	}
	if c.Format == "markdown" {
		return a.print(render.MarkdownTable(t))
	}
	return a.out.Show(func(o render.Output) string { return o.Table(t) })
}

func fieldText(value any) string {
	switch v := value.(type) {
	case nil:
		return ""
	case float64:
		return string(number(v))
	}
	return fmt.Sprint(value)
}

// queryRows are the rows as objects, each value, bound and unit a member of its
// own.
func queryRows(r *query.Result) []render.Object {
	objects := make([]render.Object, len(r.Rows))
	for i := range r.Rows {
		for _, f := range r.Record(i) {
			value := f.Value
			if v, ok := value.(float64); ok {
				value = number(v)
			}
			objects[i] = append(objects[i], render.Member{Name: f.Name, Value: value})
		}
	}
	return objects
}

func queryDocument(r *query.Result) render.Object {
	columns, rows, notes, aside := []any{}, []any{}, []any{}, render.Object{}
	for i := range r.Columns {
		col := &r.Columns[i]
		sort := "text"
		if col.Number {
			sort = "number"
		}
		columns = append(columns, render.Object{{Name: "name", Value: col.Name}, {Name: "type", Value: sort}, {Name: "unit", Value: col.UnitText()}})
	}
	for _, row := range queryRows(r) {
		rows = append(rows, row)
	}
	for _, note := range r.Notes {
		notes = append(notes, note)
	}
	for _, kind := range slices.Sorted(maps.Keys(r.Aside)) {
		aside = append(aside, render.Member{Name: kind, Value: r.Aside[kind]})
	}
	return render.Object{{Name: "columns", Value: columns}, {Name: "rows", Value: rows}, {Name: "matched", Value: r.Matched}, {Name: "sessions", Value: r.Looked},
		{Name: "left_out", Value: render.Object{{Name: "no_reading", Value: r.NoReading}, {Name: "bound_does_not_decide", Value: r.Censored}, {Name: "void", Value: r.Void},
			{Name: "unreadable", Value: r.Unreadable}, {Name: "not_the_sites_water", Value: aside}}},
		{Name: "notes", Value: notes}}
}
