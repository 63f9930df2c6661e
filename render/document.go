package render

import (
	"fmt"
	"slices"
	"strings"
)

// Document is one answer: what it is about, the answer in whole sentences, the evidence, and what to do next. The
// terminal (Output.Document), a pull request (Document.Markdown) and a page (Document.HTML) draw the same document.
//
//	d := render.Document{Title: "North well, 15 September 2026"}
//	d.Answer("Sulfate is over the site's own limit.")
//	d.Fact("lots", "SU-2604, CL-2604")
//	d.Command("more", "", "wj show 2026-09-15-north-well --all")
type Document struct {
	Title  string
	Lead   []string // the answer first
	Blocks []Block
}

// Block is one part of a document. Of its fields those that are set are drawn, in this order.
type Block struct {
	Heading string
	Anchor  string // by which a page's own links find the heading
	Fact    *Fact
	Text    string // a paragraph
	Table   *Table
	Items   []string // a list
	Passage string   // Markdown that a person wrote
	Drawing *Drawing
	Narrow  *Drawing // the drawing for a telephone
	Lines   int      // of the drawing on a terminal
	Fold    string   // a page shows these words, and the block when they are opened
}

// Fact is a labelled line, with the command that shows more of it. A fact without a label goes on with the one before it.
type Fact struct {
	Label, Text, Command string
	State                State
}

// Answer adds a sentence under the title; an empty one adds nothing.
func (d *Document) Answer(format string, args ...any) {
	if text := sprint(format, args); text != "" {
		d.Lead = append(d.Lead, text)
	}
}

// Fact adds a labelled line; an empty text adds nothing.
func (d *Document) Fact(label, format string, args ...any) {
	if text := Line(sprint(format, args)); text != "" {
		d.Blocks = append(d.Blocks, Block{Fact: &Fact{Label: label, Text: text}})
	}
}

// List adds a labelled line of several short statements.
func (d *Document) List(label string, items []string) {
	d.Fact(label, "%s", strings.Join(items, " · "))
}

// Command adds a labelled line with a command to type next, which is never broken where it fits on a line.
func (d *Document) Command(label, text, command string) {
	d.Blocks = append(d.Blocks, Block{Fact: &Fact{Label: label, Text: Line(text), Command: Line(command)}})
}

// Table adds a table under a heading, which may be empty.
func (d *Document) Table(heading string, t Table) {
	d.Blocks = append(d.Blocks, Block{Heading: heading, Table: &t})
}

// Items adds a list under a heading; an empty list adds nothing.
func (d *Document) Items(heading string, items []string) {
	if len(items) > 0 {
		d.Blocks = append(d.Blocks, Block{Heading: heading, Items: items})
	}
}

// Paragraph adds a paragraph under a heading, which may be empty.
func (d *Document) Paragraph(heading, format string, args ...any) {
	if text := Line(sprint(format, args)); text != "" {
		d.Blocks = append(d.Blocks, Block{Heading: heading, Text: text})
	}
}

// Passage adds what a person wrote in Markdown; an empty one adds nothing.
func (d *Document) Passage(heading, markdown string) {
	if markdown = strings.TrimSpace(markdown); markdown != "" {
		d.Blocks = append(d.Blocks, Block{Heading: heading, Passage: markdown})
	}
}

// Draw adds a picture, so many lines high on a terminal.
func (d *Document) Draw(p Drawing, lines int) {
	d.Blocks = append(d.Blocks, Block{Drawing: &p, Lines: lines})
}

func sprint(format string, args []any) string {
	if len(args) == 0 {
		return format
	}
	return fmt.Sprintf(format, args...)
}

// proseWidth is how wide lines of text get, however wide the terminal is: longer lines are hard to follow.
const proseWidth = 100

// narrow is below how many columns labels stand above what they label.
const narrow = 60

// Document draws a document for the terminal: no line is wider than the output, and text is folded between words.
func (o Output) Document(d Document) string {
	prose := o
	prose.Width = min(o.width(), proseWidth)
	var b strings.Builder
	write := func(s State, text, indent string) {
		text = o.spell(Line(text))
		for i, line := range strings.Split(foldWords(text, prose.Width-len(indent)), "\n") {
			if i > 0 {
				b.WriteString(indent)
			}
			b.WriteString(o.Paint(s, line) + "\n")
		}
	}
	if d.Title != "" {
		write(Heading, d.Title, "")
	}
	for _, l := range d.Lead {
		write(Plain, l, "")
	}
	label := 0
	for _, block := range d.Blocks {
		if block.Fact != nil {
			label = max(label, Width(block.Fact.Label))
		}
	}
	label += len(gap)
	for i, block := range d.Blocks {
		loose := block.Fact == nil || i > 0 && d.Blocks[i-1].Fact == nil || i == 0 && len(d.Lead) > 0
		if loose && b.Len() > 0 {
			b.WriteByte('\n')
		}
		if block.Heading != "" {
			write(Heading, block.Heading, "")
		}
		switch {
		case block.Fact != nil:
			prose.fact(&b, *block.Fact, label)
		case block.Text != "":
			write(Plain, block.Text, "")
		case block.Table != nil:
			b.WriteString(o.Table(*block.Table))
		case block.Passage != "":
			if text, err := prose.Markdown(block.Passage); err == nil {
				b.WriteString(text)
			}
		case block.Drawing != nil:
			b.WriteString(o.Drawing(*block.Drawing, block.Lines))
		}
		for _, item := range block.Items {
			b.WriteString("- ")
			write(Plain, item, "  ")
		}
	}
	return b.String()
}

// fact draws a labelled line; on a narrow screen its text goes on below the label, indented by two.
func (o Output) fact(b *strings.Builder, f Fact, label int) {
	text, command := o.spell(f.Text), o.spell(f.Command)
	head := o.spell(f.Label)
	indent := strings.Repeat(" ", label)
	first := fmt.Sprintf("%-*s", label, head)
	if o.Width < narrow {
		indent, first = "  ", head
		if head != "" {
			first += "  "
		}
		label = Width(first)
	}
	// The label is folded together with its text, so that both share the first line, and painted afterwards.
	lines := []string{strings.TrimRight(first, " ")}
	if word, _, _ := strings.Cut(text, " "); label+Width(word) > o.Width && len(indent)+Width(word) <= o.Width { // below the label, whole
		lines = append([]string{o.Paint(Bold, strings.TrimRight(first, " "))}, strings.Split(foldWords(text, o.Width-len(indent)), "\n")...)
		for i := range lines[1:] {
			lines[i+1] = indent + o.Paint(f.State, lines[i+1])
		}
	} else if text != "" {
		lines = strings.Split(foldWords(strings.Repeat("x", label)+text, o.Width, len(indent)), "\n")
		lines[0] = lines[0][label:]
		if lines[0] == "" && len(lines) > 1 {
			lines[0] = strings.TrimRight(first, " ")
		} else {
			lines[0] = o.Paint(Bold, first) + o.Paint(f.State, lines[0])
		}
		for i := range lines[1:] {
			lines[i+1] = indent + o.Paint(f.State, lines[i+1])
		}
	} else {
		lines[0] = o.Paint(Bold, first)
	}
	if command != "" {
		last := &lines[len(lines)-1]
		used := Width(uncoloured(*last))
		switch painted := o.Paint(Typed, command); {
		case text == "":
			if label+Width(command) <= o.Width {
				*last += painted
				break
			}
			lines[0] = strings.TrimRight(first, " ")
			fallthrough
		case used+len(gap)+Width(command) > o.Width:
			for _, line := range strings.Split(foldWords(command, o.Width-len(indent)), "\n") {
				lines = append(lines, indent+o.Paint(Typed, line))
			}
		default:
			*last += strings.Repeat(" ", o.Width-used-Width(command)) + painted
		}
	}
	for _, line := range lines {
		b.WriteString(strings.TrimRight(line, " ") + "\n")
	}
}

// glued reports whether no line ends between two words: a number keeps its uncertainty and its unit.
func glued(word, next string) bool {
	if word == "±" || next == "±" || word == "+-" || next == "+-" {
		return true
	}
	if strings.HasPrefix(next, "CaCO") {
		return strings.HasSuffix(word, "/L")
	}
	if word == "" || word[len(word)-1] < '0' || word[len(word)-1] > '9' {
		return false
	}
	unit := strings.TrimRight(next, ".,;:)")
	return strings.HasSuffix(unit, "/L") || strings.HasSuffix(unit, "S/cm") || slices.Contains(shortUnits, unit)
}

// shortUnits are the units that stand behind a number in a sentence, besides those per litre.
var shortUnits = []string{"%", "g", "kg", "mL", "L", "hL", "d", "h", "min", "°C", "degC", "deg C", "dKH", "dGH", "gpg", "NTU", "FNU", "EUR"}

// uncoloured is a line without its colour sequences.
func uncoloured(line string) string { return plain(glyphs(line)) }

// foldWords folds a text between words so that no line is wider than width; lines after the first have hang columns less.
// A word is broken only where it has no room on a line of its own, and wide characters may be parted from each other.
func foldWords(text string, width int, hang ...int) string {
	less := 0
	if len(hang) > 0 {
		less = hang[0]
	}
	var b strings.Builder
	used, room := 0, max(width, 1)
	next := func() {
		b.WriteByte('\n')
		used, room = 0, max(width-less, 1)
	}
	words := strings.FieldsFunc(text, func(r rune) bool { return r == ' ' })
	for i := 0; i < len(words); i++ {
		word := words[i]
		for i+1 < len(words) && glued(words[i], words[i+1]) {
			i++
			word += " " + words[i]
		}
		n := Width(word)
		space := room
		if used > 0 && used+1+n > room { // it would be on the next line
			space = max(width-less, 1)
		}
		if n > space && strings.Contains(word, " ") { // there is no room for both
			parts := strings.Split(word, " ")
			word, i = parts[0], i-len(parts)+1
			n = Width(word)
		}
		if used > 0 {
			if used+1+n > room {
				next()
			} else {
				b.WriteByte(' ')
				used++
			}
		}
		if n <= room {
			b.WriteString(word)
			used += n
			continue
		}
		for _, g := range glyphs(word) {
			if used > 0 && used+g.columns > room {
				next()
			}
			b.WriteString(g.text)
			used += g.columns
		}
	}
	return b.String()
}

// Markdown writes a document for a pull request; nothing in it can start markup but what a person wrote as Markdown.
func (d Document) Markdown() string {
	var b strings.Builder
	escape := func(s string) string { return escapeMarkdown(Line(s)) }
	if d.Title != "" {
		b.WriteString("# " + escape(d.Title) + "\n")
	}
	for _, l := range d.Lead {
		b.WriteString("\n" + escape(l) + "\n")
	}
	for i, block := range d.Blocks {
		if block.Fact == nil || i == 0 || d.Blocks[i-1].Fact == nil {
			b.WriteByte('\n')
		}
		if block.Heading != "" {
			b.WriteString("## " + escape(block.Heading) + "\n\n")
		}
		switch {
		case block.Fact != nil:
			f := *block.Fact
			parts := []string{}
			if f.Label != "" {
				parts = append(parts, "**"+escape(f.Label)+"**")
			}
			if f.Text != "" {
				parts = append(parts, escape(f.Text))
			}
			if f.Command != "" {
				parts = append(parts, "`"+strings.ReplaceAll(f.Command, "`", "'")+"`")
			}
			b.WriteString("- " + strings.Join(parts, " ") + "\n")
		case block.Text != "":
			b.WriteString(escape(block.Text) + "\n")
		case block.Table != nil:
			b.WriteString(MarkdownTable(*block.Table))
		case block.Passage != "":
			b.WriteString(Passage(block.Passage) + "\n")
		case block.Drawing != nil:
			for _, n := range append([]string{block.Drawing.Title, block.Drawing.Description}, block.Drawing.Notes...) {
				if n != "" {
					b.WriteString("- " + escape(n) + "\n")
				}
			}
		}
		for _, item := range block.Items {
			b.WriteString("- " + escape(item) + "\n")
		}
	}
	return Clean(b.String())
}

// Rewrite is the document with every text of it replaced by what by makes of it; of what a person wrote, each paragraph.
func (d Document) Rewrite(by func(string) string) Document {
	all := func(list []string) []string {
		out := make([]string, len(list))
		for i, s := range list {
			out[i] = by(s)
		}
		return out
	}
	out := Document{Title: by(d.Title), Lead: all(d.Lead), Blocks: slices.Clone(d.Blocks)}
	for i := range out.Blocks {
		b := &out.Blocks[i]
		b.Heading, b.Text, b.Items, b.Fold = by(b.Heading), by(b.Text), all(b.Items), by(b.Fold)
		if b.Passage != "" {
			b.Passage = strings.Join(all(strings.Split(b.Passage, "\n\n")), "\n\n")
		}
		if b.Fact != nil {
			f := *b.Fact
			f.Label, f.Text, f.Command = by(f.Label), by(f.Text), by(f.Command)
			b.Fact = &f
		}
		if b.Table != nil {
			t := Table{Columns: b.Table.Columns, Notes: all(b.Table.Notes)}
			for _, row := range b.Table.Rows {
				row = slices.Clone(row)
				for k := range row {
					row[k].Text = by(row[k].Text)
				}
				t.Rows = append(t.Rows, row)
			}
			b.Table = &t
		}
	}
	return out
}
