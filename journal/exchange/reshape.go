package exchange

import (
	"fmt"
	"strings"
)

// acrossForm says that results stand beside one another: a column for each sample, site,
// month or year. Each becomes a row of its own.
type acrossForm struct {
	columns []column // which hold results; none: from and all after it
	from    column
	heads   []string // what the rows of heads above the results are called from here on
	value   string   // what the results are called
	at      place
}

// statisticForm says that lowest, highest and mean of a period have a row or column each.
type statisticForm struct {
	column                column
	take, lowest, highest []string
}

// across reads across: {columns: […] or from: HEAD, heads: […], value: NAME}.
func (r *mapReader) across(node int32) *acrossForm {
	a := &acrossForm{value: "value", at: r.placeOf(node)}
	r.fields(node, []string{"columns", "from", "heads", "value"}, func(key string, c int32) {
		switch key {
		case "columns":
			a.columns = r.columns(c)
		case "from":
			a.from = r.column(c)
		case "heads":
			a.heads = r.texts(c)
		case "value":
			a.value = r.text(c)
		}
	})
	if len(a.columns) == 0 && !a.from.set() || len(a.heads) == 0 {
		r.report(a.at, "which columns hold results, and what are their heads?", "write across: {from: HEAD, heads: [Month]}")
	}
	return a
}

// statistic reads statistic: {column: HEAD, take: mean, lowest: min, highest: max}.
func (r *mapReader) statistic(node int32) *statisticForm {
	s := &statisticForm{}
	r.fields(node, []string{"column", "take", "lowest", "highest"}, func(key string, c int32) {
		switch key {
		case "column":
			s.column = r.column(c)
		case "take":
			s.take = r.texts(c)
		case "lowest":
			s.lowest = r.texts(c)
		case "highest":
			s.highest = r.texts(c)
		}
	})
	if !s.column.set() || len(s.take) == 0 {
		r.report(r.placeOf(node), "which figure is taken?", "write statistic: {column: HEAD, take: mean, lowest: min, highest: max}")
	}
	return s
}

// place is the column of the file, counted from 0, that a column of the line came from.
func (l *Line) place(column int) int {
	switch {
	case l.kept == nil || column < 0:
		return column
	case column < len(l.kept):
		return l.kept[column]
	}
	return l.origin
}

// reshaped is the sheet with a row for each result, and the rows of its heads.
func (m *Mapping) reshaped(s *Sheet) (*Sheet, []int, *ColumnError) {
	a := m.Across
	if a == nil {
		return s, m.Header, nil
	}
	names, first, err := heads(s, m.Header)
	if err != nil {
		return nil, nil, err
	}
	index := headIndex(names)
	holds := map[int]bool{}
	for i := range a.columns {
		if holds[index.find(&a.columns[i])] = true; a.columns[i].n < 0 {
			return nil, nil, m.noColumn(a.columns[i], names)
		}
	}
	if a.from.set() {
		if index.find(&a.from) < 0 {
			return nil, nil, m.noColumn(a.from, names)
		}
		for k := a.from.n; k < len(names); k++ {
			holds[k] = holds[k] || names[k] != ""
		}
	}
	parts, wrong := a.parts(s, m.Header, names, holds)
	if wrong != nil {
		return nil, nil, wrong
	}
	out := &Sheet{Name: s.Name}
	head := Line{Number: m.Header[len(m.Header)-1]}
	var kept []int
	for k, n := range names {
		if !holds[k] {
			kept, head.Cells = append(kept, k), append(head.Cells, Cell{Text: n})
		}
	}
	for _, h := range append(a.heads[:len(a.heads):len(a.heads)], a.value) {
		head.Cells = append(head.Cells, Cell{Text: h})
	}
	if kept == nil {
		kept = []int{}
	}
	out.Lines = append(out.Lines, head)
	for i := first; i < len(s.Lines); i++ {
		l := &s.Lines[i]
		if l.blank() || s.headsAgain(l, m.Header) {
			continue
		}
		found := false
		for k := range names {
			if !holds[k] || l.cell(k).Text == "" {
				continue
			}
			found = true
			one := Line{Number: l.Number, Sheet: l.Sheet, kept: kept, origin: k}
			for _, n := range kept {
				one.Cells = append(one.Cells, l.cell(n))
			}
			one.Cells = append(append(one.Cells, parts[k]...), l.cell(k))
			out.Lines = append(out.Lines, one)
		}
		if !found {
			out.Lines = append(out.Lines, Line{Number: l.Number, Sheet: l.Sheet, kept: kept, origin: -1, Cells: []Cell{l.cell(0)}})
		}
	}
	return out, []int{head.Number}, nil
}

// parts are the cells above each column that holds results: the head as it is, or, where the
// rows of heads have names of their own, one from each; a blank there means what is to its left.
func (a *acrossForm) parts(s *Sheet, header []int, names []string, holds map[int]bool) (map[int][]Cell, *ColumnError) {
	out := map[int][]Cell{}
	if len(a.heads) == 1 && len(header) != 1 {
		for k := range holds {
			out[k] = []Cell{{Text: names[k]}}
		}
		return out, nil
	}
	if len(a.heads) != len(header) {
		return nil, &ColumnError{Start: a.at.start, End: a.at.end, Message: fmt.Sprintf("across names %d heads, and header has %d rows", len(a.heads), len(header)), Help: "give each row of heads a name"}
	}
	for _, row := range header {
		for i := range s.Lines {
			if s.Lines[i].Number != row || s.Lines[i].Sheet != "" {
				continue
			}
			var last Cell
			for k := range names {
				if !holds[k] {
					last = Cell{}
					continue
				}
				if c := s.Lines[i].cell(k); c.Text != "" {
					last = c
				}
				out[k] = append(out[k], last)
			}
			break
		}
	}
	return out, nil
}

// headsAgain reports whether a line repeats one of the rows of heads.
func (s *Sheet) headsAgain(l *Line, header []int) bool {
	for _, row := range header {
		for i := range s.Lines {
			h := &s.Lines[i]
			if h.Number != row || h.Sheet != "" || h == l {
				continue
			}
			same := 0
			for k := range max(len(h.Cells), len(l.Cells)) {
				if h.cell(k).Text != l.cell(k).Text {
					same = -1
					break
				}
				if h.cell(k).Text != "" {
					same++
				}
			}
			if same >= 2 {
				return true
			}
			break
		}
	}
	return false
}

// statistics keeps of the figures of one period that which the map takes, and gives it the lowest
// and the highest as a note. What is left out is reported.
func (im *importer) statistics(lines []Line) []Line {
	long := im.m.Long
	if long == nil || long.statistic == nil {
		return lines
	}
	st := long.statistic
	key := func(l *Line) string {
		var b strings.Builder
		for k, c := range l.Cells {
			if k != st.column.n && k != long.value.n {
				b.WriteString(c.Text + "\x00")
			}
		}
		return b.String()
	}
	low, high, taken := map[string]string{}, map[string]string{}, map[string]bool{}
	for i := range lines {
		l := &lines[i]
		switch text := l.cell(st.column.n).Text; {
		case listed(st.lowest, text):
			low[key(l)] = l.cell(long.value.n).Text
		case listed(st.highest, text):
			high[key(l)] = l.cell(long.value.n).Text
		case listed(st.take, text):
			taken[key(l)] = true
		}
	}
	var out []Line
	for _, l := range lines {
		text := l.cell(st.column.n).Text
		switch k := key(&l); {
		case listed(st.take, text):
			l.remark = rangeNote(text, low[k], high[k])
			out = append(out, l)
		case l.blank() || text == "":
			out = append(out, l)
		case taken[k] && (listed(st.lowest, text) || listed(st.highest, text)):
			im.report(&l, st.column.n, Skipped, fmt.Sprintf("%s: kept as a note of %s", text, st.take[0]), "")
		default:
			im.report(&l, st.column.n, Skipped, fmt.Sprintf("the map takes %s, not %q", strings.Join(st.take, " or "), text), "")
		}
	}
	return out
}

// rangeNote is what is noted beside a figure of a period.
func rangeNote(what, low, high string) string {
	var parts []string
	for _, p := range [][2]string{{"lowest ", low}, {"highest ", high}} {
		if p[1] != "" {
			parts = append(parts, p[0]+p[1])
		}
	}
	if what != "" {
		parts = append([]string{what + " of a period"}, parts...)
	}
	return strings.Join(parts, ", ")
}
