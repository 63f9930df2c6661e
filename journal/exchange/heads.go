package exchange

import (
	"fmt"
	"strings"
	"wj/water/spelling"
)

// ColumnError says that the sheet lacks a column, or a header row, that the map
// names.
type ColumnError struct {
	Start, End    int // bytes in the mapping file
	Message, Help string
}

func (e *ColumnError) Error() string { return e.Message + "; " + e.Help }

// heads are the names of the columns: the cells of the header rows joined by
// blanks, and a number where a name comes twice.
func heads(s *Sheet, rows []int) (names []string, first int, err *ColumnError) {
	wanted := map[int]bool{}
	for _, r := range rows {
		wanted[r] = true
	}
	found := 0
	for i := range s.Lines {
		l := &s.Lines[i]
		if !wanted[l.Number] {
			continue
		}
		found++
		first = i + 1
		for k, c := range l.Cells {
			for len(names) <= k {
				names = append(names, "")
			}
			names[k] = strings.TrimSpace(names[k] + " " + strings.Join(strings.Fields(c.Text), " "))
		}
	}
	if found < len(rows) {
		return nil, 0, &ColumnError{Message: fmt.Sprintf("the file has no row %d", rows[len(rows)-1]), Help: "say under header in which row the heads are"}
	}
	seen := map[string]int{}
	for i, n := range names {
		if n == "" {
			continue
		}
		seen[n]++
		if seen[n] > 1 {
			names[i] = fmt.Sprintf("%s (%d)", n, seen[n])
		}
	}
	return names, first, nil
}

// allColumns lists every column that the map names.
func (m *Mapping) allColumns() []*column {
	var out []*column
	add := func(columns ...*column) {
		for _, c := range columns {
			if c.set() {
				out = append(out, c)
			}
		}
	}
	many := func(list []column) {
		for i := range list {
			add(&list[i])
		}
	}
	add(&m.Source.column, &m.Laboratory.column, &m.By.column, &m.Site.column, &m.Sample.column, &m.Latitude, &m.Longitude)
	many(m.Sampled.columns)
	many(m.Group)
	many(m.Notes)
	many(m.Ignore)
	for i := range m.Skip {
		add(&m.Skip[i].column)
	}
	if n := m.NewSites; n != nil {
		add(&n.name, &n.latitude, &n.longitude)
	}
	for i := range m.Wide {
		w := &m.Wide[i]
		add(&w.column, &w.qualifier, &w.limit, &w.lot, &w.dilution, &w.uncertainty, &w.remark)
	}
	if l := m.Long; l != nil {
		add(&l.analyte, &l.value, &l.unit.column, &l.basis.column, &l.qualifier, &l.limit, &l.lot, &l.dilution, &l.uncertainty, &l.remark)
	}
	return out
}

// resolve finds the columns of the map in the sheet. first is the index of the
// first line after the header, notTaken the heads that the map does not name.
func (m *Mapping) resolve(s *Sheet) (first int, notTaken []string, err *ColumnError) {
	names, first, err := heads(s, m.Header)
	if err != nil {
		return 0, nil, err
	}
	index := map[string]int{}
	for i := len(names) - 1; i >= 0; i-- {
		if names[i] != "" {
			index[names[i]], index[foldHead(names[i])] = i, i
		}
	}
	named := map[int]bool{}
	for _, c := range m.allColumns() {
		n, ok := index[strings.Join(strings.Fields(c.name), " ")]
		if !ok {
			n, ok = index[foldHead(c.name)]
		}
		if !ok && strings.HasPrefix(c.name, "=") {
			n, ok = columnNumber(strings.ToUpper(c.name[1:]))
		}
		if !ok {
			help := fmt.Sprintf("the heads in row %d are %s", m.Header[len(m.Header)-1], listHeads(names))
			if near := spelling.Nearest(c.name, names); near != "" {
				help = fmt.Sprintf("did you mean %q?", near)
			}
			return 0, nil, &ColumnError{c.at.start, c.at.end, fmt.Sprintf("the file has no column %q", c.name), help}
		}
		c.n, named[n] = n, true
	}
	for i, n := range names {
		if n != "" && !named[i] {
			notTaken = append(notTaken, n)
		}
	}
	return first, notTaken, nil
}

func foldHead(s string) string { return "\x00" + strings.ToLower(strings.Join(strings.Fields(s), "")) }

func listHeads(names []string) string {
	var out []string
	for _, n := range names {
		if n == "" {
			continue
		}
		if len(out) == 12 {
			return strings.Join(out, ", ") + " …"
		}
		out = append(out, fmt.Sprintf("%q", n))
	}
	return strings.Join(out, ", ")
}
