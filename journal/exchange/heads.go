package exchange

import (
	"fmt"
	"slices"
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
	var last *Line
	if len(rows) > 0 {
		for i := range s.Lines {
			if s.Lines[i].Number == rows[len(rows)-1] && s.Lines[i].Sheet == "" {
				last = &s.Lines[i]
				break
			}
		}
	}
	for i := range s.Lines {
		l := &s.Lines[i]
		if !wanted[l.Number] || l.Sheet != "" {
			continue
		}
		found++
		first = i + 1
		left := ""
		for k := range max(len(l.Cells), len(names)) {
			for len(names) <= k {
				names = append(names, "")
			}
			text := strings.Join(strings.Fields(l.cell(k).Text), " ")
			if text == "" && last != nil && l != last && last.cell(k).Text != "" {
				text = left // a head over several columns
			}
			left = text
			names[k] = strings.TrimSpace(names[k] + " " + text)
		}
		if last != nil && l != last {
			for k := len(names); k < len(last.Cells); k++ {
				text := ""
				if last.Cells[k].Text != "" {
					text = left
				}
				left, names = text, append(names, text)
			}
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
	add(&m.Source.column, &m.Laboratory.column, &m.By.column, &m.Site.column, &m.Sample.column, &m.Instrument.column, &m.ID.column, &m.Latitude, &m.Longitude)
	many(m.Sampled.columns)
	many(m.Tested.columns)
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
		add(&w.column, &w.lowest, &w.highest, &w.qualifier, &w.limit, &w.lot, &w.dilution, &w.uncertainty, &w.remark)
	}
	if l := m.Long; l != nil {
		if l.statistic != nil {
			add(&l.statistic.column)
		}
		add(&l.analyte, &l.value, &l.unit.column, &l.basis.column, &l.qualifier, &l.limit, &l.limitUnit, &l.lot, &l.dilution, &l.uncertainty, &l.remark)
	}
	return out
}

// columnIndex finds columns by their heads, or by the letters that they have in the file.
type columnIndex struct {
	byHead map[string]int
	kept   []int // of a reshaped sheet: the columns that its first ones came from
}

func headIndex(names []string) columnIndex {
	index := columnIndex{byHead: map[string]int{}}
	for i := len(names) - 1; i >= 0; i-- {
		if names[i] != "" {
			index.byHead[names[i]], index.byHead[foldHead(names[i])] = i, i
		}
	}
	return index
}

// find sets where a column is: by its head, or as =C by its letters; -1 where it is not.
func (x columnIndex) find(c *column) int {
	n, ok := x.byHead[strings.Join(strings.Fields(c.name), " ")]
	if !ok {
		n, ok = x.byHead[foldHead(c.name)]
	}
	if !ok && strings.HasPrefix(c.name, "=") {
		n, ok = columnNumber(strings.ToUpper(c.name[1:]))
		if ok && x.kept != nil {
			n = slices.Index(x.kept, n)
			ok = n >= 0
		}
	}
	if c.n = n; !ok {
		c.n = -1
	}
	return c.n
}

// noColumn is the error for a column that the file does not have.
func (m *Mapping) noColumn(c column, names []string) *ColumnError {
	help := fmt.Sprintf("the heads in row %d are %s", m.Header[len(m.Header)-1], listHeads(names))
	if near := spelling.Nearest(c.name, names); near != "" {
		help = fmt.Sprintf("did you mean %q?", near)
	}
	return &ColumnError{c.at.start, c.at.end, fmt.Sprintf("the file has no column %q", c.name), help}
}

// resolve brings the sheet to a row for each sample or result and finds the columns of the map
// in it. first is the index of the first line after the header, notTaken the heads that the
// map does not name.
func (m *Mapping) resolve(s *Sheet) (shaped *Sheet, first int, notTaken []string, err *ColumnError) {
	shaped, header, err := m.reshaped(s)
	if err != nil {
		return nil, 0, nil, err
	}
	names, first, err := heads(shaped, header)
	if err != nil {
		return nil, 0, nil, err
	}
	index, named := headIndex(names), map[int]bool{}
	if m.Across != nil && first < len(shaped.Lines) {
		index.kept = shaped.Lines[first].kept
	}
	for _, c := range m.allColumns() {
		if index.find(c) < 0 {
			return nil, 0, nil, m.noColumn(*c, names)
		}
		named[c.n] = true
	}
	for i, n := range names {
		if n != "" && !named[i] {
			notTaken = append(notTaken, n)
		}
	}
	return shaped, first, notTaken, nil
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
