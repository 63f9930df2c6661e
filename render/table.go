package render

import (
	"regexp"
	"slices"
	"strings"
	"sync"
)

// Column is one column of a table. Right sets it flush right, as numbers are; Min is its least width in columns when the
// table must shrink; Wrap lets its text take several lines.
type Column struct {
	Head  string
	Unit  string
	Right bool
	Min   int
	Drop  int // columns with the highest Drop leave first where the table must shrink; 0 stays
	Wrap  bool
}

// Cell is one field: its text as it shall be read, and its state. Link names what the text is about, for pages that link
// to each other (Document.Linked); anything else draws the text alone.
type Cell struct {
	Text  string
	State State
	Link  string
}

// marked reports whether a mark stands beside the text; where the text is the mark itself none does.
func (c Cell) marked() bool {
	mark := c.State.Style().Mark
	return mark != "" && c.Text != mark && c.Text != ascii.Replace(mark)
}

// Table is what Output.Table and MarkdownTable draw. A row may be shorter or longer than Columns; nothing is dropped.
type Table struct {
	Columns []Column
	Rows    [][]Cell
	Notes   []string
}

// gap is what is between two columns.
const gap = "  "

// number takes a value apart for alignment: sign and whole part, fraction, and the rest (an uncertainty).
var number = sync.OnceValue(func() *regexp.Regexp {
	return regexp.MustCompile(`^([<>≤≥~]?[ ]?[+\-−]?\d+)(\.\d+)?( ?± ?\d+(?:\.\d+)?)?$`)
})

// isNumber reports whether number matches; most texts of a table are told by their ends.
func isNumber(s string) bool {
	if s == "" || s[len(s)-1] < '0' || s[len(s)-1] > '9' || s[0] >= 'A' && s[0] <= 'z' {
		return false
	}
	return number().MatchString(s)
}

// layout is a column while it is being fitted.
type layout struct {
	Column
	head, unit            []string // lines
	width                 int
	numeric               bool
	whole, fraction, rest int
	marked                bool
}

// Table draws a table that fits the width. It tries, in this order: as it is; without the columns that may be dropped, the
// highest Drop first; heads broken after underscores and blanks; the Wrap columns folded; and last each row on several lines,
// those after the first indented by two, under a head that is parted alike. No number and no word is ever cut.
// Numbers stand on their decimal points where a whole column is numeric. Used marks are explained below the table.
func (o Output) Table(t Table) string {
	t = o.spellTable(cleaned(t))
	if len(t.Columns) == 0 {
		return o.notes(t)
	}
	var b strings.Builder
	columns := measure(t)
	for total(columns) > o.width() {
		less, dropped := dropColumn(t)
		if !dropped {
			break
		}
		t, columns = less, measure(less)
	}
	if fit(columns, t, o.width()) {
		o.grid(&b, t, columns)
	} else {
		o.parted(&b, t, columns)
	}
	b.WriteString(o.notes(t))
	return b.String()
}

// dropColumn leaves out the column with the highest Drop, of several the last.
func dropColumn(t Table) (Table, bool) {
	at := -1
	for i, c := range t.Columns {
		if c.Drop > 0 && (at < 0 || c.Drop >= t.Columns[at].Drop) {
			at = i
		}
	}
	if at < 0 {
		return t, false
	}
	out := Table{Notes: t.Notes, Columns: slices.Delete(slices.Clone(t.Columns), at, at+1)}
	for _, row := range t.Rows {
		out.Rows = append(out.Rows, slices.Delete(slices.Clone(row), at, at+1))
	}
	return out, true
}

// cleaned copies a table with every text harmless and every row as long as the longest.
func cleaned(t Table) Table {
	out := Table{Columns: append([]Column(nil), t.Columns...)}
	for _, row := range t.Rows {
		for len(out.Columns) < len(row) {
			out.Columns = append(out.Columns, Column{})
		}
	}
	for i := range out.Columns {
		out.Columns[i].Head, out.Columns[i].Unit = Line(out.Columns[i].Head), Line(out.Columns[i].Unit)
	}
	for _, row := range t.Rows {
		cells := make([]Cell, len(out.Columns))
		for i, cell := range row {
			cells[i] = Cell{strings.TrimSpace(Line(cell.Text)), cell.State, cell.Link}
			if mark := cell.State.Style().Mark; cells[i].Text == "" && mark != "" {
				cells[i].Text = mark // a mark alone is the cell
			}
		}
		out.Rows = append(out.Rows, cells)
	}
	for _, note := range t.Notes {
		out.Notes = append(out.Notes, Clean(note))
	}
	return out
}

// blank is a cell that takes no part in deciding whether a column is numeric.
func blank(text string) bool { return text == "" || text == "-" || text == "–" || text == "—" }

func measure(t Table) []layout {
	columns := make([]layout, len(t.Columns))
	for i, column := range t.Columns {
		c := &columns[i]
		c.Column, c.head, c.unit = column, []string{column.Head}, []string{column.Unit}
		c.numeric = column.Right
		for _, row := range t.Rows {
			c.marked = c.marked || row[i].marked()
			c.numeric = c.numeric && (blank(row[i].Text) || isNumber(row[i].Text))
		}
		for _, row := range t.Rows {
			if m := number().FindStringSubmatch(row[i].Text); c.numeric && m != nil {
				c.whole, c.fraction, c.rest = max(c.whole, Width(m[1])), max(c.fraction, Width(m[2])), max(c.rest, Width(m[3]))
			}
		}
		c.width = max(c.natural(t, i), c.headWidth())
	}
	return columns
}

// natural is the width of the widest cell, its mark not counted.
func (c *layout) natural(t Table, i int) int {
	width := c.whole + c.fraction + c.rest
	for _, row := range t.Rows {
		if !c.numeric || blank(row[i].Text) {
			width = max(width, Width(row[i].Text))
		}
	}
	return width
}

// markWidth is what the column of marks takes beside the text.
func (c *layout) markWidth() int {
	if c.marked {
		return 2
	}
	return 0
}

func total(columns []layout) int {
	sum := len(gap) * (len(columns) - 1)
	for i := range columns {
		sum += columns[i].width + columns[i].markWidth()
	}
	return sum
}

// fit narrows the columns until the table is not wider than width, and reports whether it could.
func fit(columns []layout, t Table, width int) bool {
	if total(columns) <= width {
		return true
	}
	for i := range columns {
		c := &columns[i]
		c.head, c.unit = breakHead(c.Head), breakHead(c.Unit)
		c.width = max(c.natural(t, i), c.headWidth(), c.Min)
	}
	least := make([]int, len(columns))
	for i := range columns {
		if least[i] = columns[i].width; columns[i].Wrap && !columns[i].numeric {
			least[i] = min(least[i], columns[i].least(t, i))
		}
	}
	for excess := total(columns) - width; excess > 0; excess-- {
		widest := -1
		for i := range columns {
			if columns[i].width > least[i] && (widest < 0 || columns[i].width > columns[widest].width) {
				widest = i
			}
		}
		if widest < 0 {
			return false
		}
		columns[widest].width--
	}
	return true
}

// longWord is from how many columns on a word may be broken, for no line has room for it.
const longWord = 36

// least is how narrow a folded column may get: its Min, its head, and its longest word.
func (c *layout) least(t Table, i int) int {
	least := max(c.Min, 8, c.headWidth())
	for _, row := range t.Rows {
		for word := range strings.FieldsSeq(row[i].Text) {
			least = max(least, min(Width(word), longWord))
		}
	}
	return least
}

func (c *layout) headWidth() int {
	width := 0
	for _, lines := range [][]string{c.head, c.unit} {
		for _, line := range lines {
			width = max(width, Width(line))
		}
	}
	return width
}

// breakHead parts a head at blanks and after underscores, brackets and commas; read downwards it is still the name.
func breakHead(head string) []string {
	var parts []string
	for _, word := range strings.Fields(head) {
		start := 0
		for i := range len(word) - 1 {
			if strings.IndexByte("_(,", word[i]) >= 0 {
				parts, start = append(parts, word[start:i+1]), i+1
			}
		}
		parts = append(parts, word[start:])
	}
	out := []string{""}
	for _, part := range parts {
		last := &out[len(out)-1]
		switch {
		case *last == "":
			*last = part
		case Width(*last)+Width(part) <= 5:
			if strings.IndexByte("_(,", (*last)[len(*last)-1]) < 0 {
				*last += " "
			}
			*last += part
		default:
			out = append(out, part)
		}
	}
	return out
}

func (o Output) grid(b *strings.Builder, t Table, columns []layout) {
	o.heads(b, columns)
	var rules []string
	for i := range columns {
		rules = append(rules, o.Paint(Dim, strings.Repeat(o.spell("─"), columns[i].width+columns[i].markWidth())))
	}
	writeLine(b, rules)
	for _, row := range t.Rows {
		o.row(b, row, columns)
	}
}

// heads writes the heads, which stand on the line below them, and the units, which hang from them.
func (o Output) heads(b *strings.Builder, columns []layout) {
	heads, units := 1, 0
	for i := range columns {
		heads = max(heads, len(columns[i].head))
		if columns[i].Unit != "" {
			units = max(units, len(columns[i].unit))
		}
	}
	line := func(state State, text func(c *layout) string) {
		var cells []string
		for i := range columns {
			c := &columns[i]
			words := text(c)
			cells = append(cells, flush(o.Paint(state, words), c.width-Width(words), c.Right)+strings.Repeat(" ", c.markWidth()))
		}
		writeLine(b, cells)
	}
	for n := range heads {
		line(Heading, func(c *layout) string {
			if k := n - (heads - len(c.head)); k >= 0 {
				return c.head[k]
			}
			return ""
		})
	}
	for n := range units {
		line(Dim, func(c *layout) string {
			if n < len(c.unit) {
				return c.unit[n]
			}
			return ""
		})
	}
}

// parted draws rows that need more than one line. The columns are dealt out to lines from left to right; each line has the
// same columns in every row and in the head.
func (o Output) parted(b *strings.Builder, t Table, columns []layout) {
	const indent = 2
	type part struct{ from, to int }
	var parts []part
	width := o.width()
	for i := range columns {
		c := &columns[i]
		c.head, c.unit = breakHead(c.Head), breakHead(c.Unit)
		if c.width = max(c.natural(t, i), c.headWidth()); c.width+c.markWidth() > width && !c.numeric {
			c.width = width - c.markWidth()
		}
	}
	for i := range columns {
		last := len(parts) - 1
		if last >= 0 && total(columns[parts[last].from:i+1]) <= width {
			parts[last].to = i + 1
			continue
		}
		if c := &columns[i]; len(parts) > 0 && !c.numeric {
			c.width = min(c.width, o.width()-indent-c.markWidth())
		}
		width = o.width()
		if len(parts) > 0 {
			width -= indent
		}
		parts = append(parts, part{i, i + 1})
	}
	write := func(n int, text string) {
		for line := range strings.SplitAfterSeq(text, "\n") {
			if line != "" && line != "\n" {
				if n > 0 {
					b.WriteString(strings.Repeat(" ", indent))
				}
				b.WriteString(line)
			}
		}
	}
	for n, p := range parts { // a head that has room stays on one line
		for i := p.from; i < p.to; i++ {
			c := &columns[i]
			if whole := max(c.width, Width(c.Head), Width(c.Unit)); total(columns[p.from:p.to])+whole-c.width <= o.width()-min(n, 1)*indent {
				c.head, c.unit, c.width = []string{c.Head}, []string{c.Unit}, whole
			}
		}
	}
	named := func(p part) bool {
		return slices.ContainsFunc(columns[p.from:p.to], func(c layout) bool { return c.Head != "" || c.Unit != "" })
	}
	for n, p := range parts {
		if named(p) {
			var head strings.Builder
			o.heads(&head, columns[p.from:p.to])
			write(n, head.String())
		}
	}
	widest := 0
	for n, p := range parts {
		widest = max(widest, total(columns[p.from:p.to])+min(n, 1)*indent)
	}
	b.WriteString(o.Paint(Dim, strings.Repeat(o.spell("─"), min(widest, o.width()))) + "\n")
	for _, row := range t.Rows {
		for n, p := range parts {
			if n > 0 && !slices.ContainsFunc(row[p.from:p.to], func(c Cell) bool { return c.Text != "" }) {
				continue
			}
			var line strings.Builder
			o.row(&line, row[p.from:p.to], columns[p.from:p.to])
			write(n, line.String())
		}
	}
}

// row draws one row, which takes several lines where a cell is folded.
func (o Output) row(b *strings.Builder, row []Cell, columns []layout) {
	folded := make([][]string, len(columns))
	height := 1
	for i := range columns {
		c := &columns[i]
		folded[i] = []string{row[i].Text}
		if c.numeric {
			folded[i][0] = c.align(row[i].Text)
		} else if Width(row[i].Text) > c.width {
			folded[i] = strings.Split(foldWords(row[i].Text, c.width), "\n")
		}
		height = max(height, len(folded[i]))
	}
	for n := range height {
		var cells []string
		for i := range columns {
			c, words, mark := &columns[i], "", ""
			if n < len(folded[i]) {
				words = folded[i][n]
			}
			if c.marked {
				mark = "  "
				if n == 0 && row[i].marked() {
					mark = " " + o.Paint(row[i].State, o.spell(row[i].State.Style().Mark))
				}
			}
			ink := strings.TrimSpace(words)
			lead := len(words) - len(strings.TrimLeft(words, " "))
			tail := len(words) - lead - len(ink)
			painted := strings.Repeat(" ", lead) + o.Paint(row[i].State, ink) + strings.Repeat(" ", max(tail, 0))
			cells = append(cells, flush(painted, c.width-Width(words), c.Right)+mark)
		}
		writeLine(b, cells)
	}
}

// align puts the parts of a number where the column's decimal point is.
func (c *layout) align(text string) string {
	m := number().FindStringSubmatch(text)
	if m == nil {
		return text
	}
	return pad(m[1], c.whole, true) + pad(m[2], c.fraction, false) + pad(m[3], c.rest, false)
}

// flush adds blanks beside a text that may hold colour sequences and so cannot be measured any more.
func flush(painted string, blanks int, right bool) string {
	fill := strings.Repeat(" ", max(0, blanks))
	if right {
		return fill + painted
	}
	return painted + fill
}

func writeLine(b *strings.Builder, cells []string) {
	b.WriteString(strings.TrimRight(strings.Join(cells, gap), " "))
	b.WriteByte('\n')
}

// notes explains the marks that occur and adds the table's own notes.
func (o Output) notes(t Table) string {
	used := map[State]bool{}
	for _, row := range t.Rows {
		for _, cell := range row {
			used[cell.State] = true
		}
	}
	var legend []string
	for s := Plain; s <= Unjudged; s++ {
		if style := s.Style(); used[s] && style.Mark != "" {
			legend = append(legend, o.spell(style.Mark)+" "+style.Meaning)
		}
	}
	notes := t.Notes
	if len(legend) > 0 {
		first := strings.Join(legend, " ")
		if len(notes) > 0 && Width(first)+Width(notes[0])+2 <= o.width() {
			first, notes = first+"; "+notes[0], notes[1:]
		}
		notes = append([]string{first}, notes...)
	}
	var b strings.Builder
	for _, note := range notes {
		for line := range strings.SplitSeq(foldWords(note, o.width()), "\n") {
			b.WriteString(o.Paint(Dim, line) + "\n")
		}
	}
	return b.String()
}
