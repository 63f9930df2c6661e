package dataset

import (
	"fmt"
	"maps"
	"slices"
	"strconv"
	"strings"

	"wj/journal"
	"wj/journal/frontmatter"
)

// rowsOf are the rows of one record, by the name of their table.
type rowsOf map[string][][]any

// rebuild is the meaning that the rows of a record have.
func (rows rowsOf) rebuild(kb *kindBinding) meaning {
	m := meaning{}
	own := rows[kb.table.Name]
	if len(own) == 0 {
		return m
	}
	rows.unfill(kb.table, kb.bindings, own[0], m)
	rows.unfill(kb.table, kb.common, own[0], m)
	return m
}

func (rows rowsOf) unfill(t *Table, bindings []binding, row []any, m meaning) {
	for i := range bindings {
		if v := rows.value(t, &bindings[i], row); v != nil {
			m[bindings[i].key] = v
		}
	}
}

// value is what a field says, nil where nothing is there.
func (rows rowsOf) value(t *Table, s *binding, row []any) any {
	switch {
	case s.child != nil && s.field.Type != journal.TypeReading:
		return rows.entries(t, s.child, row)
	case s.fields != nil:
		m := meaning{}
		rows.unfill(t, s.fields, row, m)
		return orNil(m)
	case s.field.Type == journal.TypePlace:
		if a, b, ok := strings.Cut(asText(row[s.at]), ", "); ok {
			return []any{a, b}
		}
		return nil
	case s.field.Type == journal.TypeList: // lowest and highest
		low, high := asText(row[s.at]), asText(row[s.at+len(scalarColumns("", s.field.Of, ""))])
		if low == "" || high == "" {
			return nil
		}
		return []any{low, high}
	}
	text := scalarText(row[s.at:], s.field)
	if text == "" {
		return nil
	}
	if s.child != nil { // a reading: a list of its replicates
		if more := rows.entries(t, s.child, row); more != nil {
			return more
		}
		return []any{text}
	}
	return text
}

func scalarText(at []any, f *journal.Field) string {
	switch {
	case f.Type == journal.TypeRef && len(f.To) > 1:
		return asText(at[1])
	case f.Type == journal.TypeFlag && at[0] != nil:
		return strconv.FormatBool(asText(at[0]) == "1")
	}
	return asText(at[0])
}

// entries are the rows of a table below a row: a mapping or a list; nil where there are
// none.
func (rows rowsOf) entries(t *Table, c *child, row []any) any {
	m, list := meaning{}, []any{}
	for _, below := range rows[c.table.Name] {
		if c.table.Parent != "records" && !sameKey(below, row, t.Key) {
			continue
		}
		var v any
		if c.entry.fields != nil {
			entry := meaning{}
			rows.unfill(c.table, c.entry.fields, below, entry)
			v = entry
		} else {
			v = rows.value(c.table, &c.entry, below)
		}
		switch {
		case v == nil:
		case c.named:
			m[asText(below[c.keyAt])] = v
		default:
			list = append(list, v)
		}
	}
	switch {
	case c.named:
		return orNil(m)
	case len(list) == 0:
		return nil
	}
	return list
}

func sameKey(a, b []any, n int) bool {
	for i := range n {
		if asText(a[i]) != asText(b[i]) {
			return false
		}
	}
	return true
}

func asText(v any) string {
	switch v := v.(type) {
	case string:
		return v
	case int64:
		return strconv.FormatInt(v, 10)
	}
	return ""
}

// settingsFrom is the tree of wj.yaml from its rows. Where all keys of a mapping are
// positions from 0 it is a list.
func settingsFrom(rows [][]any) meaning {
	root := meaning{}
	for _, row := range rows {
		at := root
		parts := strings.Split(strings.TrimPrefix(asText(row[1]), "/"), "/")
		for i, part := range parts {
			part = pointerUnescape.Replace(part)
			if i == len(parts)-1 {
				at[part] = asText(row[2])
				break
			}
			next, ok := at[part].(meaning)
			if !ok {
				next = meaning{}
				at[part] = next
			}
			at = next
		}
	}
	for k, v := range root {
		root[k] = listed(v)
	}
	return root
}

func listed(v any) any {
	m, ok := v.(meaning)
	if !ok {
		return v
	}
	list := make([]any, len(m))
	positions := true
	for k, v := range m {
		m[k] = listed(v)
		if n, err := strconv.Atoi(k); err == nil && n >= 0 && n < len(m) {
			list[n] = m[k]
		} else {
			positions = false
		}
	}
	if positions {
		return list
	}
	return m
}

// compose writes a record's file from its meaning: keys in the order of the schema, one
// value a line.
func compose(kind journal.Kind, m meaning, body string) ([]byte, error) {
	var b strings.Builder
	if kind != journal.KindSettings {
		b.WriteString("---\n")
	}
	fields := kind.Fields()
	if kind == journal.KindSettings { // its meaning keeps short forms: only the order of the keys counts
		fields = nil
		for _, f := range kind.Fields() {
			fields = append(fields, journal.Field{Key: f.Key})
		}
	}
	writeMapping(&b, m, fields, "")
	if kind != journal.KindSettings {
		b.WriteString("---\n" + body)
	}
	out := []byte(b.String())
	var d frontmatter.Document
	var again meaning
	if kind == journal.KindSettings {
		d.ParseYAML(out)
		again, _ = settingsMeaning(&d)
	} else {
		d.Parse(out)
		again, _ = meaningOf(&d, kind)
	}
	if digest(kind, "", again, "") != digest(kind, "", m, "") {
		why := "a value cannot be written as YAML"
		if len(d.Problems) > 0 {
			why = d.Problems[0].Message
		}
		return nil, fmt.Errorf("the columns make no record: %s", why)
	}
	return out, nil
}

func writeMapping(b *strings.Builder, m meaning, fields []journal.Field, indent string) {
	keys := slices.Sorted(maps.Keys(m))
	order := func(key string) int {
		return slices.IndexFunc(fields, func(f journal.Field) bool { return f.Key == key })
	}
	slices.SortStableFunc(keys, func(a, b string) int { return order(a) - order(b) })
	for _, key := range keys {
		var f *journal.Field
		if at := order(key); at >= 0 {
			f = &fields[at]
		}
		b.WriteString(indent + frontmatter.Quote(key) + ":")
		writeValue(b, m[key], f, indent)
	}
}

// writeValue writes what follows a key or the dash of an entry.
func writeValue(b *strings.Builder, v any, f *journal.Field, indent string) {
	var fields []journal.Field
	var of *journal.Field
	if f != nil {
		fields, of = f.Fields, f.Of
	}
	switch v := v.(type) {
	case string:
		b.WriteString(" " + frontmatter.Quote(v) + "\n")
	case meaning:
		if f != nil && f.Type != journal.TypeMap && f.Type != journal.TypeDict && len(fields) > 0 { // the short form
			if main := v[fields[mainField(fields)].Key]; len(v) == 1 && main != nil {
				writeValue(b, main, &fields[mainField(fields)], indent)
				return
			}
		}
		b.WriteString("\n")
		if of == nil {
			writeMapping(b, v, fields, indent+"  ")
			return
		}
		for _, key := range slices.Sorted(maps.Keys(v)) {
			b.WriteString(indent + "  " + frontmatter.Quote(key) + ":")
			writeValue(b, v[key], of, indent+"  ")
		}
	case []any:
		v = shortened(v, of)
		alone := f != nil && (f.Type == journal.TypeOneOrList || f.Type == journal.TypeReading)
		if texts := flow(v, alone); texts != "" {
			b.WriteString(" " + texts + "\n")
			return
		}
		b.WriteString("\n")
		for _, one := range v {
			entry, ok := one.(meaning)
			if !ok || len(entry) == 0 {
				b.WriteString(indent + "  -")
				writeValue(b, one, of, indent+"  ")
				continue
			}
			var inner strings.Builder
			entryFields := []journal.Field(nil)
			if of != nil {
				entryFields = of.Fields
			}
			writeMapping(&inner, entry, entryFields, indent+"    ")
			b.WriteString(indent + "  - " + strings.TrimPrefix(inner.String(), indent+"    "))
		}
	}
}

// shortened is a list with the short form of each entry that has one.
func shortened(list []any, of *journal.Field) []any {
	if of == nil || of.Fields == nil || of.Type == journal.TypeMap {
		return list
	}
	main := of.Fields[mainField(of.Fields)].Key
	out := make([]any, len(list))
	for i, one := range list {
		out[i] = one
		if m, ok := one.(meaning); ok && len(m) == 1 && m[main] != nil {
			out[i] = m[main]
		}
	}
	return out
}

// flow writes a list of texts on one line; a single one without brackets where it may
// stand alone; "" where the list is none of texts or would be too long.
func flow(v []any, alone bool) string {
	parts := make([]string, len(v))
	for i, one := range v {
		text, ok := one.(string)
		if !ok {
			return ""
		}
		parts[i] = frontmatter.Quote(text)
	}
	text := "[" + strings.Join(parts, ", ") + "]"
	if len(text) > 200 {
		return ""
	}
	if len(v) == 1 && alone {
		return parts[0]
	}
	return text
}

// meaning is what the rows of a record say of it, a note and a void mark included.
func (rows rowsOf) meaning(kind journal.Kind) meaning {
	if kind == journal.KindSettings {
		return settingsFrom(rows[settingsTable.Name])
	}
	m := rows.rebuild(theModel().kinds[kind])
	record := rows[recordsTable.Name][0]
	if note := asText(record[10]); note != "" {
		m["note"] = note
	}
	void := meaning{}
	for at, key := range map[int]string{11: "by", 12: "on", 14: "reason"} {
		if text := asText(record[at]); text != "" {
			void[key] = text
		}
	}
	if len(void) > 0 {
		m["void"] = void
	}
	return m
}
