package dataset

import (
	"maps"
	"slices"
	"strconv"
	"strings"
	"time"

	"wj/journal"
	"wj/water"
)

// flattener turns meanings into rows.
type flattener struct {
	journalID string
	zone      *time.Location
	kindOf    func(id string) string // the table of a record that is named by its id alone
	rows      []Row
	year      string
	record    [3]any // journal, kind and id of the record
	analyte   water.ID
	known     bool // analyte is that of the entry that is being written
}

// facts appends the rows of a record but for its row in records.
func (w *flattener) facts(kb *kindBinding, id, state, year string, m meaning) {
	w.record, w.year = [3]any{w.journalID, kb.kind.Folder(), id}, year
	row := w.row(kb.table, w.journalID, id, state)
	w.fill(kb.table, kb.bindings, m, row)
	w.fill(kb.table, kb.common, m, row)
}

// row appends a row that begins with these values.
func (w *flattener) row(t *Table, key ...any) []any {
	values := make([]any, len(t.Columns))
	copy(values, key)
	year := ""
	if t.ByYear {
		year = w.year
	}
	w.rows = append(w.rows, Row{t, values, year})
	return values
}

func (w *flattener) fill(t *Table, bindings []binding, m meaning, row []any) {
	for i := range bindings {
		if v, ok := m[bindings[i].key]; ok {
			w.binding(t, &bindings[i], v, row)
		}
	}
}

func (w *flattener) binding(t *Table, s *binding, v any, row []any) {
	switch v := v.(type) {
	case meaning:
		if s.child == nil {
			w.fill(t, s.fields, v, row)
			return
		}
		for _, name := range slices.Sorted(maps.Keys(v)) {
			w.known = false
			if id, ok := water.Lookup(name); ok && s.child.table.Columns[s.child.keyAt].Name == "analyte" {
				w.analyte, w.known = id, true
			}
			w.entry(t, s.child, name, v[name], row)
		}
		w.known = false
	case []any:
		switch {
		case s.field.Type == journal.TypePlace:
			row[s.at] = v[0].(string) + ", " + v[1].(string)
			row[s.at+1], row[s.at+2] = parseNumber(v[0].(string)), parseNumber(v[1].(string))
		case s.child == nil: // lowest and highest
			for k := range v {
				w.scalar(row[s.at+k*(len(scalarColumns("", s.field.Of, ""))):], s.field.Of, v[k].(string))
			}
		case s.field.Type == journal.TypeReading: // replicates
			w.scalar(row[s.at:], s.field, v[0].(string))
			if len(v) > 1 {
				for n, one := range v {
					w.entry(t, s.child, int64(n+1), one, row)
				}
			}
		default:
			for n, one := range v {
				w.entry(t, s.child, int64(n+1), one, row)
			}
		}
	case string:
		w.scalar(row[s.at:], s.field, v)
	}
}

// entry writes the row of an entry of a list or mapping below row.
func (w *flattener) entry(t *Table, c *child, key, v any, row []any) {
	begin := slices.Clone(row[:t.Key])
	if c.table.Parent == "records" {
		begin = slices.Clone(w.record[:])
	}
	below := w.row(c.table, append(begin, key)...)
	if m, ok := v.(meaning); ok {
		w.fill(c.table, c.entry.fields, m, below)
		return
	}
	w.binding(c.table, &c.entry, v, below)
}

// scalar writes the columns of one value: the text as typed and what it means.
func (w *flattener) scalar(at []any, f *journal.Field, text string) {
	if !fits(text, f) {
		return
	}
	at[0] = text
	switch f.Type {
	case journal.TypeRef:
		if len(f.To) > 1 {
			at[0], at[1] = textOrNil(w.kindOf(text)), text
		}
	case journal.TypeMonth:
		if t, err := journal.ParseMonth(text); err == nil {
			at[1] = journal.FormatDate(t)
		}
	case journal.TypeTime, journal.TypeDateOrTime:
		if t, err := journal.ParseTime(text); err == nil {
			at[1], at[2], at[3] = utc(t), t.Unix(), journal.FormatDate(t.In(w.zone))
		} else if d, err := journal.ParseDate(text); err == nil && f.Type == journal.TypeDateOrTime {
			at[3] = journal.FormatDate(d)
		}
	case journal.TypeNumber:
		at[1] = parseNumber(text)
	case journal.TypeInteger:
		n, _ := strconv.ParseInt(text, 10, 64)
		at[0] = n
	case journal.TypeFlag:
		at[0] = flagValue(text == "true")
	case journal.TypeQuantity:
		n := 1
		for _, family := range f.Families {
			if fixed, ok := fixedUnits[family]; ok {
				if q, err := water.ParseQuantity(text); err == nil && q.Unit.Family() == family {
					at[n] = inUnit(q, fixed.unit, family)
				}
				n++
			}
		}
	case journal.TypeReading:
		if w.known {
			w.reading(at, text)
		}
	}
}

// reading writes a quantity of the analyte at hand in the analyte's unit.
func (w *flattener) reading(at []any, text string) {
	info := w.analyte.Info()
	q, err := water.ParseQuantity(text)
	if err != nil || info.Fit(q) != nil {
		return
	}
	at[1], at[2] = realOrNil(info.Standard(q)), boundName(q.Bound)
	if q.Expanded > 0 {
		upper := q
		upper.Value += q.Expanded
		at[3] = realOrNil(info.Standard(upper) - info.Standard(q))
	}
}

func inUnit(q water.Quantity, u water.Unit, family water.Family) any {
	v, err := q.In(u)
	if err != nil {
		return nil
	}
	if family == water.Fraction {
		v /= 100
	}
	return realOrNil(v)
}

// settings appends the rows of wj.yaml.
func (w *flattener) settings(m meaning) {
	w.settingsRows(m)
	w.record = [3]any{w.journalID, "settings", journal.SettingsFile}
	site := theModel().kinds[journal.KindSite]
	for i := range site.bindings {
		if s := &site.bindings[i]; s.key == "limits" {
			if limits, ok := limitsOf(m); ok {
				w.binding(site.table, s, limits, make([]any, site.table.Key))
			}
		}
	}
}

func (w *flattener) settingsRows(m meaning) {
	var walk func(path string, v any)
	walk = func(path string, v any) {
		switch v := v.(type) {
		case meaning:
			for _, key := range slices.Sorted(maps.Keys(v)) {
				walk(path+"/"+pointerEscape.Replace(key), v[key])
			}
		case []any:
			for n, one := range v {
				walk(path+"/"+strconv.Itoa(n), one)
			}
		case string:
			w.row(settingsTable, w.journalID, path, v)
		}
	}
	walk("", m)
}

// limitsOf is the limits of wj.yaml as those of a site are, so far as columns hold them.
func limitsOf(m meaning) (meaning, bool) {
	all, ok := m["limits"].(meaning)
	out := meaning{}
	for name, v := range all {
		if one, ok := v.(meaning); ok {
			kept := meaning{}
			for key, text := range one {
				if s, ok := text.(string); ok && (key != "since" || fits(s, &journal.Field{Type: journal.TypeDate})) {
					kept[key] = s
				}
			}
			out[name] = kept
		}
	}
	return out, ok
}

var (
	pointerEscape   = strings.NewReplacer("~", "~0", "/", "~1")
	pointerUnescape = strings.NewReplacer("~1", "/", "~0", "~")
)

func utc(t time.Time) any {
	if t.IsZero() {
		return nil
	}
	return t.UTC().Format(time.RFC3339)
}

func flagValue(v bool) int64 {
	if v {
		return 1
	}
	return 0
}

func parseNumber(text string) any {
	v, err := strconv.ParseFloat(text, 64)
	if err != nil {
		return nil
	}
	return realOrNil(v)
}

// realOrNil is a number as a value of a table: at most 15 significant digits, so that
// 0.1 + 0.2 is 0.3; nil where it is none.
func realOrNil(v float64) any { return rounded(v, 15) }

func rounded(v float64, digits int) any {
	if v != v || v-v != 0 {
		return nil
	}
	v, _ = strconv.ParseFloat(strconv.FormatFloat(v, 'g', digits, 64), 64)
	return v + 0 // no negative zero
}

func textOrNil(s string) any {
	if s == "" {
		return nil
	}
	return s
}
