package exchange

import (
	"io"
	"math"
	"strconv"
	"time"

	"wj/render"
)

// Type is what a column of a table holds.
type Type uint8

// The types of columns. Values are string, float64, int64, bool or time.Time
// (Moment); nil where there is none.
const (
	Text Type = iota
	Real
	Integer
	Flag
	Moment // a time with its offset
	Date   // a day, written 2006-01-02
)

// Column is one column of a table.
type Column struct {
	Name string
	Type Type
	Unit string // of a Real, where it is the same in all rows
	Doc  string
}

// Table is what every tabular format is written from.
type Table struct {
	Name    string
	Doc     string
	Key     []string // columns that together name a row
	Columns []Column
	Rows    [][]any
}

// Heads lists the names of the columns.
func (t *Table) Heads() []string {
	heads := make([]string, len(t.Columns))
	for i, c := range t.Columns {
		heads[i] = c.Name
	}
	return heads
}

// significant is how many digits a computed number is written with: enough for
// any later use, few enough that 6.1 does not become 6.1000000000000005.
const significant = 9

// formatReal writes a number as short as it can be at nine significant digits.
func formatReal(v float64) string {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return ""
	}
	rounded, _ := strconv.ParseFloat(strconv.FormatFloat(v, 'g', significant, 64), 64)
	if rounded == 0 {
		return "0"
	}
	return strconv.FormatFloat(rounded, 'f', -1, 64)
}

// formatValue writes a value as text; nil is the empty text.
func formatValue(v any) string {
	switch v := v.(type) {
	case string:
		return v
	case float64:
		return formatReal(v)
	case int64:
		return strconv.FormatInt(v, 10)
	case bool:
		return strconv.FormatBool(v)
	case time.Time:
		return formatMoment(v)
	}
	return ""
}

// formatMoment writes a time with its offset (RFC 3339, section 5.6).
func formatMoment(t time.Time) string {
	if t.IsZero() {
		return ""
	}
	return t.Format(time.RFC3339)
}

// WriteCSV writes the table as RFC 4180 says. raw leaves texts that look like a
// spreadsheet's formula as they are; otherwise they get an apostrophe.
func (t *Table) WriteCSV(w io.Writer, raw bool) error {
	rows := make([][]string, len(t.Rows))
	for i, row := range t.Rows {
		rows[i] = make([]string, len(row))
		for k, v := range row {
			rows[i][k] = formatValue(v)
		}
	}
	if raw {
		return render.RawCSV(w, t.Heads(), rows)
	}
	return render.CSV(w, t.Heads(), rows)
}

// WriteJSONLines writes one JSON object a row, every column in each.
func (t *Table) WriteJSONLines(w io.Writer) error {
	objects := make([]render.Object, len(t.Rows))
	for i, row := range t.Rows {
		objects[i] = make(render.Object, len(row))
		for k, v := range row {
			objects[i][k] = render.Member{Name: t.Columns[k].Name, Value: jsonValue(v)}
		}
	}
	return render.JSONLines(w, objects)
}

// jsonValue is a value of a table as render writes it.
func jsonValue(v any) any {
	switch v := v.(type) {
	case nil:
		return nil
	case bool:
		return v
	case string:
		return v
	case float64, int64:
		text := formatValue(v)
		if text == "" {
			return nil
		}
		return render.Number(text)
	}
	return formatValue(v)
}

// real is a number as a value of a table: nil where it is not one.
func realOrNil(v float64) any {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return nil
	}
	return v
}

// textOrNil is a text as a value of a table: nil where it is empty.
func textOrNil(s string) any {
	if s == "" {
		return nil
	}
	return s
}

func momentOrNil(t time.Time) any {
	if t.IsZero() {
		return nil
	}
	return t
}
