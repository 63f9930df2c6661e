package render

import (
	"bytes"
	"io"
	"runtime"
	"strings"
	"sync"
)

// List is a table of many rows that stay where they are kept: Row puts the texts of row i into texts, one for each column.
// It is called more than once for a row, and on several goroutines at once.
type List struct {
	Columns []Column
	Count   int
	Row     func(i int, texts []string)
}

// WriteList writes what Table would draw of the list. Where each row fits on a line it does so with one pass over the rows
// to measure them and one to write them, and keeps none; else the table is made after all.
func (o Output) WriteList(l List) error {
	for _, other := range o.also {
		if err := other.WriteList(l); err != nil {
			return err
		}
	}
	columns, ok := l.measure(o)
	if !ok {
		_, err := io.WriteString(o.W, Inert(o.Table(l.Table())))
		return err
	}
	var head strings.Builder
	o.grid(&head, Table{}, columns)
	if _, err := io.WriteString(o.W, Inert(head.String())); err != nil {
		return err
	}
	return l.write(o.W, columns)
}

// Table is the whole list as a Table.
func (l List) Table() Table {
	t := Table{Columns: l.Columns, Rows: make([][]Cell, l.Count)}
	texts := make([]string, len(l.Columns))
	for i := range t.Rows {
		l.Row(i, texts)
		t.Rows[i] = make([]Cell, len(texts))
		for k, text := range texts {
			t.Rows[i][k].Text = text
		}
	}
	return t
}

// measure finds the widths, and whether every row fits on a line of its own with nothing to align but its ends.
func (l List) measure(o Output) ([]layout, bool) {
	columns := make([]layout, len(l.Columns))
	for i, c := range l.Columns {
		if c.Unit != "" {
			return nil, false
		}
		c.Head = Line(c.Head)
		columns[i] = layout{Column: c, head: []string{c.Head}, unit: []string{""}}
	}
	parts := make([][]int, runtime.GOMAXPROCS(0))
	whole := make([]bool, len(parts))
	l.share(len(parts), func(part, from, to int) {
		widths, texts := make([]int, len(columns)), make([]string, len(columns))
		whole[part] = true
		for i := from; i < to; i++ {
			l.Row(i, texts)
			for k, text := range texts {
				text, width := cellText(text)
				widths[k] = max(widths[k], width)
				if columns[k].Right && strings.ContainsAny(text, ".±") { // stands on its decimal point
					whole[part] = false
				}
			}
		}
		parts[part] = widths
	})
	for part, widths := range parts {
		if !whole[part] {
			return nil, false
		}
		for k := range columns {
			columns[k].width = max(columns[k].width, widths[k], columns[k].headWidth())
		}
	}
	return columns, total(columns) <= o.width()
}

// share calls do for as many parts of the rows, at once.
func (l List) share(parts int, do func(part, from, to int)) {
	var wait sync.WaitGroup
	for part := range parts {
		wait.Go(func() { do(part, l.Count*part/parts, l.Count*(part+1)/parts) })
	}
	wait.Wait()
}

// write draws some thousands of rows on every core, writes them in their order, and goes on.
func (l List) write(w io.Writer, columns []layout) error {
	const rows = 2048 // of a core at a time
	buffers := make([][]byte, runtime.GOMAXPROCS(0))
	for from := 0; from < l.Count; from += rows * len(buffers) {
		batch := List{l.Columns, min(rows*len(buffers), l.Count-from), l.Row}
		batch.share(len(buffers), func(part, first, last int) {
			texts := make([]string, len(columns))
			b := buffers[part][:0]
			for i := first; i < last; i++ {
				l.Row(from+i, texts)
				b = appendRow(b, texts, columns)
			}
			buffers[part] = b
		})
		for _, b := range buffers {
			if bytes.Contains(b, []byte("::")) || bytes.Contains(b, []byte("##")) {
				b = []byte(Inert(string(b)))
			}
			if _, err := w.Write(b); err != nil {
				return err
			}
		}
	}
	return nil
}

// cellText is the text of a cell as a table shows it, and its width.
func cellText(s string) (string, int) {
	if s == "" || s[0] != ' ' && s[len(s)-1] != ' ' && printableASCII(s) {
		return s, len(s)
	}
	s = strings.TrimSpace(Line(s))
	return s, Width(s)
}

const blanks = "                                                                "

// appendRow writes a row, its columns flush. Blanks are owed until a text follows them, so that none ends the line.
func appendRow(b []byte, texts []string, columns []layout) []byte {
	owed := 0
	for i, text := range texts {
		text, width := cellText(text)
		left, right := 0, columns[i].width-width
		if columns[i].Right {
			left, right = right, left
		}
		if owed += left; text != "" {
			for ; owed > 0; owed -= len(blanks) {
				b = append(b, blanks[:min(owed, len(blanks))]...)
			}
			b, owed = append(b, text...), 0
		}
		owed += right + len(gap)
	}
	return append(b, '\n')
}

// Heads makes the columns of a list: a name that ends with # is of numbers, and
// every other column but the first is folded where it is too wide.
func Heads(names ...string) []Column {
	columns := make([]Column, len(names))
	for i, n := range names {
		columns[i] = Column{Head: strings.TrimSuffix(n, "#"), Right: strings.HasSuffix(n, "#"), Wrap: !strings.HasSuffix(n, "#") && i > 0}
	}
	return columns
}
