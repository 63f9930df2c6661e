package main

import (
	"cmp"
	"strconv"
	"strings"

	"wj/render"
)

// listing is what a command lists: a row for each record, in whichever form
// is asked for.
type listing struct {
	columns []render.Column
	rows    [][]render.Cell
	long    *render.List // instead of them: rows that are made as they are printed
	output  string       // the schema of its JSON document: the command's name; ls where empty
}

func (l *listing) add(texts ...string) {
	row := make([]render.Cell, len(texts))
	for i, t := range texts {
		row[i] = render.Cell{Text: t}
	}
	l.rows = append(l.rows, row)
}

func heads(names ...string) []render.Column { return render.Heads(names...) }

// print writes the listing in a format: table, csv, json, jsonl or markdown.
func (l *listing) print(a *app, format string) error {
	if l.long != nil && format == "table" {
		return a.lines().WriteList(*l.long)
	}
	l.unfold()
	switch format {
	case "csv":
		head := make([]string, len(l.columns))
		for i, c := range l.columns {
			head[i] = c.Head
		}
		rows := make([][]string, len(l.rows))
		for i, r := range l.rows {
			for _, cell := range r {
				rows[i] = append(rows[i], cell.Text)
			}
		}
		return render.CSV(a.stdout, head, rows)
	case "jsonl":
		return render.JSONLines(a.stdout, l.objects())
	case "json":
		rows := []any{}
		for _, o := range l.objects() {
			rows = append(rows, o)
		}
		return a.document(cmp.Or(l.output, "ls"), render.Object{{Name: "rows", Value: rows}})
	case "markdown":
		return a.print(render.MarkdownTable(render.Table{Columns: l.columns, Rows: l.rows}))
	}
	return a.lines().Show(func(o render.Output) string { return o.Table(render.Table{Columns: l.columns, Rows: l.rows}) })
}

// unfold makes the rows of a long list.
func (l *listing) unfold() {
	if l.long != nil {
		l.columns, l.rows, l.long = l.long.Columns, l.long.Table().Rows, nil
	}
}

// uniteListings is what several journals list, each row behind its journal.
func uniteListings(journals []string, list []*listing) *listing {
	all := &listing{}
	for i, l := range list {
		l.unfold()
		all.columns = append(heads("journal"), l.columns...)
		for _, row := range l.rows {
			all.rows = append(all.rows, append([]render.Cell{{Text: journals[i]}}, row...))
		}
	}
	return all
}

// lines is the output for a list: in a pipe, unless COLUMNS asks for a width,
// a record is one line, so that other programs can pick from it.
func (a *app) lines() render.Output {
	o := a.out
	if !o.Person && a.env("COLUMNS") == "" {
		o.Width = render.Unbounded
	}
	return o
}

// objects are the rows for a program: names without blanks, numbers as numbers,
// null where a cell is empty.
func (l *listing) objects() []render.Object {
	objects := make([]render.Object, len(l.rows))
	for i, r := range l.rows {
		for k, cell := range r {
			column := l.columns[k]
			value := any(cell.Text)
			if _, err := strconv.ParseFloat(cell.Text, 64); column.Right && err == nil {
				value = render.Number(cell.Text)
			} else if cell.Text == "" {
				value = nil
			}
			objects[i] = append(objects[i], render.Member{Name: strings.NewReplacer(", ", "_", " ", "_").Replace(column.Head), Value: value})
		}
	}
	return objects
}
