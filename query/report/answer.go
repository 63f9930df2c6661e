package report

import (
	"fmt"
	"maps"
	"slices"
	"strconv"
	"strings"

	"wj/journal"
	"wj/query"
	"wj/render"
)

// Answer is what a query found, as a person and as a program reads it.
type Answer struct{ *query.Result }

// LeftOut are the sessions that a query did not take, by why: "3 void".
func LeftOut(c query.Counts) []string {
	var left []string
	for _, l := range []struct {
		n   int
		why string
	}{{c.NoReading, "without the reading"}, {c.Censored, "beyond the range of the method"}, {c.Void, "void"}, {c.Unreadable, "unreadable (see wj lint)"}} {
		if l.n > 0 {
			left = append(left, fmt.Sprintf("%d %s", l.n, l.why))
		}
	}
	return left
}

// Said are the lines beside the answer: what is odd about the question, how many sessions it is of, and
// which were left out or aside.
func (r Answer) Said() []string {
	text := fmt.Sprintf("%d of %s", r.Matched, journal.Count(r.Looked, "session"))
	if r.Matched > r.Shown {
		text += fmt.Sprintf(", %d shown", r.Shown)
	}
	if left := LeftOut(r.Counts); len(left) > 0 {
		text += "; left out: " + strings.Join(left, ", ")
	}
	lines := append(slices.Clone(r.Notes), text)
	var aside []string
	for _, kind := range slices.Sorted(maps.Keys(r.Aside)) {
		aside = append(aside, journal.Count(r.Aside[kind], kind))
	}
	if len(aside) > 0 {
		lines = append(lines, "not the site's water, or a moment twice, and left aside: "+strings.Join(aside, ", ")+" (--all-samples takes them)")
	}
	return lines
}

// Table is the answer for a person.
func (r Answer) Table() render.Table {
	t := render.Table{}
	for i := range r.Columns {
		col := &r.Columns[i]
		numeric := slices.ContainsFunc(r.Rows, func(row query.Row) bool { return row.Cells[i].Number })
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
	return t
}

// Texts are the rows with a text for each of [query.Result.Fields]; "" for what is not there.
func (r Answer) Texts() [][]string {
	rows := make([][]string, len(r.Rows))
	for i := range r.Rows {
		for _, f := range r.Record(i) {
			switch v := exact(f.Value).(type) {
			case nil:
				rows[i] = append(rows[i], "")
			default:
				rows[i] = append(rows[i], fmt.Sprint(v))
			}
		}
	}
	return rows
}

// Objects are the rows as objects, each value, bound and unit a member of its own.
func (r Answer) Objects() []render.Object {
	objects := make([]render.Object, len(r.Rows))
	for i := range r.Rows {
		for _, f := range r.Record(i) {
			objects[i] = append(objects[i], render.Member{Name: f.Name, Value: exact(f.Value)})
		}
	}
	return objects
}

// exact writes a number with no more digits than it carries.
func exact(value any) any {
	if v, ok := value.(float64); ok {
		return render.Number(strconv.FormatFloat(v, 'f', -1, 64))
	}
	return value
}

// JSON is the answer as one document (docs/schema/query.json).
func (r Answer) JSON() render.Object {
	columns, rows, notes, aside := []any{}, []any{}, []any{}, render.Object{}
	for i := range r.Columns {
		col := &r.Columns[i]
		sort := "text"
		if col.Number {
			sort = "number"
		}
		columns = append(columns, render.Object{{Name: "name", Value: col.Name}, {Name: "type", Value: sort}, {Name: "unit", Value: col.UnitText()}})
	}
	for _, row := range r.Objects() {
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
