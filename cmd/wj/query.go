package main

import (
	"errors"
	"fmt"
	"strconv"
	"strings"

	"wj/journal"
	"wj/query"
	"wj/render"
	"wj/water"
)

type queryCmd struct {
	Expr    string            `arg:"" optional:"" help:"What the sessions must satisfy; all sessions if absent."`
	Columns []string          `short:"c" sep:"none" placeholder:"NAMES" help:"Columns, separated by commas; by default id, sampled, site and what the expression names."`
	Format  string            `enum:"table,csv,jsonl,markdown" default:"table" help:"${enum}."`
	Unit    map[string]string `placeholder:"NAME=UNIT" mapsep:"," help:"Give a column in another unit: --unit alkalinity=dKH."`
	Since   string            `placeholder:"DATE" help:"Sampled from then on: 2026-03-01, 2026-03, 2026-Q2, 2026 or last 90 d."`
	Until   string            `placeholder:"DATE" help:"Sampled up to then, that day or month included."`
	By      []string          `sep:"none" placeholder:"NAMES" help:"Group by site, month, quarter, year, regime, by, lot(sulfate) …, and reduce each group with --show."`
	Show    []string          `sep:"none" placeholder:"NAMES" help:"With --by: count, median(sulfate), quantile(nitrate,0.95), slope(…), min(…), max(…), mean(…), first(…), last(…), below(…)."`
	Sort    []string          `sep:"none" placeholder:"NAMES" help:"Order the rows; -sulfate puts the largest first."`
	Limit   int               `placeholder:"N" help:"At most N rows."`
	Void    bool              `help:"Void sessions too."`
	At      string            `placeholder:"REV" help:"As it was known then: a commit, a branch or a date."`
}

func (c *queryCmd) Help() string {
	return "Every analyte and derived value is there by its name, as a number in its standard unit: sulfate, alkalinity, residual_alkalinity, sodium …\n\n" +
		"    wj query 'sulfate > 300 && site == \"north-well\"'\n    wj query 'alkalinity > dKH(7)' --unit alkalinity=dKH\n" +
		"    wj query 'surely(sulfate > 300)' --columns 'id,sampled,sulfate,lot(sulfate)'\n    wj query --by site,year --show 'count,median(sulfate)'\n\n" +
		"All names and functions: wj explain query.\n\nsurely(…) asks for what holds whatever the error of the readings, maybe(…) for what can be so (95 %). A reading that is absent or beyond the method's range " +
		"never counts as a small or large number; how many sessions were left out for that is said on standard error."
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
	if err != nil {
		return c.explain(a, err)
	}
	j, _, err := a.loadAt(c.At, journal.Options{})
	if err != nil {
		return err
	}
	req := query.Request{Where: where, Columns: c.Columns, Units: map[string]water.Unit{}, Limit: c.Limit, IncludeVoid: c.Void, Now: a.now()}
	for name, text := range c.Unit {
		u, ok := water.ParseUnit(text)
		if !ok {
			return withHint("known units: "+strings.Join(water.UnitNames(), ", "), "%q is not a known unit", text)
		}
		req.Units[name] = u
	}
	if req.Since, req.Until, err = a.period(c.Since, c.Until, j.Settings.Zone); err != nil {
		return err
	}
	req.Until = pastEnd(req.Until)
	for _, s := range c.Sort {
		by, descending := strings.CutPrefix(s, "-")
		req.Sort = append(req.Sort, query.SortKey{By: by, Descending: descending})
	}
	if len(c.By) > 0 && len(c.Show) == 0 {
		c.Show = []string{"count"}
	}
	result, err := query.Run(j, req)
	if err != nil {
		return c.explain(a, err)
	}
	shown := result
	if len(c.By) > 0 || len(c.Show) > 0 {
		if shown, err = query.Reduce(result, c.By, c.Show); err != nil {
			return c.explain(a, err)
		}
	}
	if err := c.print(a, shown); err != nil {
		return err
	}
	c.sayCounts(a, result)
	if n := shown.NotWater; n > 0 {
		a.say("%s in no reduction: duplicates, check standards and blanks are not the site's water; name sample to have them", count(n, "session"))
	}
	if len(shown.Rows) == 0 {
		return errFindings
	}
	return nil
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
	text := fmt.Sprintf("%d of %s", r.Matched, count(r.Looked, "session"))
	if r.Matched > len(r.Rows) {
		text += fmt.Sprintf(", %d shown", len(r.Rows))
	}
	if len(left) > 0 {
		text += "; left out: " + strings.Join(left, ", ")
	}
	a.say("%s", text)
}

func (c *queryCmd) print(a *app, r *query.Result) error {
	switch c.Format {
	case "csv":
		head := make([]string, len(r.Columns))
		for i, col := range r.Columns {
			head[i] = machineHead(col)
		}
		rows := make([][]string, len(r.Rows))
		for i, row := range r.Rows {
			rows[i] = make([]string, len(row.Cells))
			for k, cell := range row.Cells {
				rows[i][k] = machineText(cell)
			}
		}
		return render.CSV(a.stdout, head, rows)
	case "jsonl":
		objects := make([]render.Object, len(r.Rows))
		for i, row := range r.Rows {
			for k, cell := range row.Cells {
				objects[i] = append(objects[i], render.Member{Name: machineHead(r.Columns[k]), Value: jsonValue(cell)})
			}
		}
		return render.JSONLines(a.stdout, objects)
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
			unit = strings.TrimSpace(col.Unit.String() + " " + col.Per)
		}
		t.Columns = append(t.Columns, render.Column{Head: col.Name, Unit: unit, Right: numeric, Wrap: !numeric && i > 0})
	}
	for _, row := range r.Rows {
		cells := make([]render.Cell, len(row.Cells))
		for k, cell := range row.Cells {
			cells[k] = render.Cell{Text: personText(cell)}
		}
		t.Rows = append(t.Rows, cells)
	}
	if c.Format == "markdown" {
		return a.print(render.MarkdownTable(t))
	}
	return a.print(a.out.Table(t))
}

// machineHead is a column's name, with its unit where that is not the
// standard one.
func machineHead(col query.Column) string {
	if id, ok := water.Lookup(col.Name); ok && col.Unit != id.Info().Unit {
		return col.Name + " (" + col.Unit.String() + ")"
	}
	return col.Name
}

// machineText is a cell for a program: the raw number, a bound as typed,
// nothing where there is nothing.
func machineText(c query.Cell) string {
	switch {
	case c.Missing:
		return ""
	case c.Number && c.Bound == water.Exact:
		return strconv.FormatFloat(trim(c.Value), 'f', -1, 64)
	}
	return c.Text
}

func jsonValue(c query.Cell) any {
	switch {
	case c.Missing:
		return nil
	case c.Number && c.Bound == water.Exact:
		return rounded(c.Value)
	}
	return c.Text
}

// personText is a cell for a person: four significant digits at most are what
// such tests carry; a reading keeps the digits that were typed.
func personText(c query.Cell) string {
	switch {
	case c.Missing:
		return ""
	case c.Note != "":
		return water.Round(c.Value, 3) + " " + c.Note
	case len(c.Text) > 8 && c.Interval && c.Bound == water.Exact:
		return water.Round(c.Low, 3) + ".." + water.Round(c.High, 3)
	case len(c.Text) > 8 && c.Bound != water.Exact && !strings.Contains(c.Text, " "): // computed: a typed bound has its unit
		return c.Text[:len(c.Text)-len(strings.TrimLeft(c.Text, "<>="))] + water.Round(c.Value, 3)
	case c.Number && c.Bound == water.Exact && c.Derived:
		return water.Round(c.Value, 3)
	case c.Number && c.Bound == water.Exact && len(c.Text) > 8:
		return water.Round(c.Value, 4) // read in another unit: the digits of the conversion mean nothing
	}
	return c.Text
}
