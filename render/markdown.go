package render

import (
	"bytes"
	"errors"
	"fmt"
	"regexp"
	"strings"
	"sync"

	"github.com/charmbracelet/glamour/ansi"
	"github.com/muesli/termenv"
	"github.com/yuin/goldmark"
	"github.com/yuin/goldmark/ast"
	"github.com/yuin/goldmark/extension"
	extast "github.com/yuin/goldmark/extension/ast"
	"github.com/yuin/goldmark/parser"
	"github.com/yuin/goldmark/renderer"
	"github.com/yuin/goldmark/text"
	"github.com/yuin/goldmark/util"
)

// What a body may be before it is shown as plain text instead: larger or deeper ones cost more than they can be worth.
const (
	maxMarkdown = 256 << 10 // bytes
	maxDepth    = 32        // nested nodes
	maxLinks    = 500       // the parser's time grows with the square of the link openings, closed or not
)

// The terminal renderer decodes HTML entities in text once more and takes backslashes out, which would turn "&#27;" into a
// live escape. Both characters are therefore carried through it as private-use characters, which Clean never lets in.
const (
	ampersand = "\ue026"
	backslash = "\ue05c"
	emptyLine = "\ue00a" // stands in the empty lines of code until the text is folded
)

var (
	disguise = strings.NewReplacer("&", ampersand)
	literal  = strings.NewReplacer("&", ampersand, `\`, backslash)
	restore  = strings.NewReplacer(ampersand, "&", backslash, `\`, emptyLine, "")
)

// Markdown draws a Markdown text for the terminal, folded to the width, without escape sequences where colour is off.
// Link targets are printed behind their texts; raw HTML is shown as it was typed, so that a comment hides nothing; tables are drawn as
// Output.Table does. A text that is too large, too deep or cannot be rendered is shown folded as plain text; the error is
// then not nil only if even that is impossible, which does not happen at present.
func (o Output) Markdown(src string) (string, error) {
	clean := Clean(src)
	out, err := o.markdown(clean)
	if err != nil || Gate(out, o.Colour) != out {
		return strings.Trim(Gate(Wrap(clean, o.width()), false), "\n") + "\n", nil
	}
	return out, nil
}

var errTooMuch = errors.New("the markdown is too large or too deep to render")

func (o Output) markdown(clean string) (out string, err error) {
	defer func() { // the renderer is not ours; a panic in it must cost the style, not the program
		if p := recover(); p != nil {
			err = fmt.Errorf("render markdown: %v", p)
		}
	}()
	if len(clean) > maxMarkdown || tooDeep(clean) {
		return "", errTooMuch
	}
	d := document{source: []byte(disguise.Replace(strings.ReplaceAll(clean, "\t", "    ")))}
	root := markdownParser().Parse(text.NewReader(d.source))
	if depth(root) > maxDepth {
		return "", errTooMuch
	}
	d.prepare(o, root)
	var parts []string
	chunk := ast.NewDocument()
	flush := func() error {
		if chunk.HasChildren() {
			part, err := d.terminal(o, chunk)
			if err != nil {
				return err
			}
			parts = append(parts, part)
		}
		chunk = ast.NewDocument()
		return nil
	}
	for node := root.FirstChild(); node != nil; {
		next := node.NextSibling()
		if table, ok := node.(*extast.Table); ok {
			if err := flush(); err != nil {
				return "", err
			}
			parts = append(parts, strings.TrimRight(o.Table(d.table(table)), "\n"))
		} else {
			chunk.AppendChild(chunk, node)
		}
		node = next
	}
	if err := flush(); err != nil {
		return "", err
	}
	return strings.Join(parts, "\n\n") + "\n", nil
}

// markdownParser reads GitHub-flavoured Markdown with the HTML parsers left out: raw HTML is ordinary text.
func markdownParser() parser.Parser {
	return newMarkdown().Parser()
}

func newMarkdown() goldmark.Markdown {
	return goldmark.New(
		goldmark.WithParser(parser.NewParser(
			parser.WithBlockParsers(
				util.Prioritized(parser.NewSetextHeadingParser(), 100),
				util.Prioritized(parser.NewThematicBreakParser(), 200),
				util.Prioritized(parser.NewListParser(), 300),
				util.Prioritized(parser.NewListItemParser(), 400),
				util.Prioritized(parser.NewCodeBlockParser(), 500),
				util.Prioritized(parser.NewATXHeadingParser(), 600),
				util.Prioritized(parser.NewFencedCodeBlockParser(), 700),
				util.Prioritized(parser.NewBlockquoteParser(), 800),
				util.Prioritized(parser.NewParagraphParser(), 1000)),
			parser.WithInlineParsers(
				util.Prioritized(parser.NewCodeSpanParser(), 100),
				util.Prioritized(parser.NewLinkParser(), 200),
				util.Prioritized(parser.NewAutoLinkParser(), 300),
				util.Prioritized(parser.NewEmphasisParser(), 500)),
			parser.WithParagraphTransformers(parser.DefaultParagraphTransformers()...),
		)),
		goldmark.WithExtensions(extension.GFM),
	)
}

// opener is what may open a block inside another at the start of a line.
var opener = sync.OnceValue(func() *regexp.Regexp { return regexp.MustCompile(`^(?:[ ]*(?:>|[-+*][ ]|\d{1,9}[.)][ ]))+`) })

// tooDeep finds lines that open more nested blocks than maxDepth, and more links than maxLinks, before the parser has to.
func tooDeep(src string) bool {
	if strings.Count(src, "](") > maxLinks {
		return true
	}
	for line := range strings.SplitSeq(src, "\n") {
		if marks := opener().FindString(line); len(marks) > maxDepth && len(strings.FieldsFunc(marks, func(r rune) bool { return r == ' ' }))+strings.Count(marks, ">") > maxDepth && strings.Trim(line, "-* ") != "" {
			return true
		}
	}
	return false
}

func depth(root ast.Node) int {
	deepest, now := 0, 0
	_ = ast.Walk(root, func(_ ast.Node, entering bool) (ast.WalkStatus, error) {
		if !entering {
			now--
			return ast.WalkContinue, nil
		}
		if now++; now > deepest {
			deepest = now
		}
		if deepest > maxDepth {
			return ast.WalkStop, nil
		}
		return ast.WalkContinue, nil
	})
	return deepest
}

// document is a parsed text whose source can grow: new text nodes point at bytes appended to it.
type document struct{ source []byte }

func (d *document) segment(s string) text.Segment {
	start := len(d.source)
	d.source = append(d.source, s...)
	return text.NewSegment(start, len(d.source))
}

func (d *document) text(s string) *ast.Text { return ast.NewTextSegment(d.segment(literal.Replace(s))) }

// prepare makes the tree say what shall be seen: code kept to the letter, link targets as text, nested tables drawn.
func (d *document) prepare(o Output, root ast.Node) {
	var spans, tables, breaks []ast.Node
	_ = ast.Walk(root, func(n ast.Node, entering bool) (ast.WalkStatus, error) {
		if !entering {
			return ast.WalkContinue, nil
		}
		switch n.Kind() {
		case ast.KindCodeBlock, ast.KindFencedCodeBlock:
			n.SetLines(d.lines(string(n.Lines().Value(d.source))))
		case ast.KindCodeSpan:
			spans = append(spans, n)
		case ast.KindText:
			if t := n.(*ast.Text); t.SoftLineBreak() && !t.HardLineBreak() {
				breaks = append(breaks, n)
			}
		case extast.KindTable:
			if n.Parent() != root {
				tables = append(tables, n)
			}
		}
		return ast.WalkContinue, nil
	})
	// A line end within a paragraph is a blank (CommonMark 6.8); the text is folded anew to the width.
	for _, n := range breaks {
		n.(*ast.Text).SetSoftLineBreak(false)
		n.Parent().InsertAfter(n.Parent(), n, d.text(" "))
	}
	for _, n := range spans {
		var b strings.Builder
		for c := n.FirstChild(); c != nil; c = c.NextSibling() {
			if t, ok := c.(*ast.Text); ok {
				b.Write(t.Segment.Value(d.source))
			}
		}
		n.RemoveChildren(n)
		n.AppendChild(n, ast.NewTextSegment(d.segment(literal.Replace(strings.ReplaceAll(b.String(), "\n", " ")))))
	}
	for _, n := range inlineLinks(root) {
		d.link(n)
	}
	for _, n := range tables {
		inner := Output{Width: o.width() - 4*depthOf(n)}
		block := ast.NewCodeBlock()
		block.SetLines(d.lines(disguise.Replace(inner.Table(d.table(n.(*extast.Table))))))
		n.Parent().ReplaceChild(n.Parent(), n, block)
	}
}

func depthOf(n ast.Node) int {
	steps := 0
	for n = n.Parent(); n != nil; n = n.Parent() {
		steps++
	}
	return steps
}

func (d *document) lines(s string) *text.Segments {
	segments := text.NewSegments()
	for line := range strings.SplitAfterSeq(s, "\n") {
		if line == "\n" {
			line = emptyLine + line
		}
		if line != "" {
			segments.Append(d.segment(literal.Replace(line)))
		}
	}
	return segments
}

// link shows a link's text, then its target in parentheses. The target "#" keeps the renderer from printing its own.
func (d *document) link(n ast.Node) {
	parent := n.Parent()
	if parent == nil {
		return
	}
	after := func(node ast.Node, destination []byte, label string) {
		target, _ := LinkTarget(restore.Replace(string(util.UnescapePunctuations(destination))))
		if target != label {
			parent.InsertAfter(parent, node, d.text(" ("+target+")"))
		}
	}
	switch n := n.(type) {
	case *ast.Link:
		after(n, n.Destination, restore.Replace(d.words(n)))
		n.Destination, n.Title = []byte("#"), nil
	case *ast.Image:
		label := d.text("image: " + restore.Replace(d.words(n)))
		parent.ReplaceChild(parent, n, label)
		after(label, n.Destination, "")
	case *ast.AutoLink:
		link := ast.NewLink()
		link.Destination = []byte("#")
		link.AppendChild(link, d.text(restore.Replace(string(n.Label(d.source)))))
		parent.ReplaceChild(parent, n, link)
	}
}

// words is the text below a node without markup.
func (d *document) words(n ast.Node) string {
	var b strings.Builder
	_ = ast.Walk(n, func(n ast.Node, entering bool) (ast.WalkStatus, error) {
		if !entering {
			return ast.WalkContinue, nil
		}
		switch n := n.(type) {
		case *ast.Text:
			b.Write(util.UnescapePunctuations(n.Segment.Value(d.source)))
			if n.SoftLineBreak() || n.HardLineBreak() {
				b.WriteByte(' ')
			}
		case *ast.AutoLink:
			b.Write(n.Label(d.source))
		case *extast.TaskCheckBox:
			b.WriteString("[ ] ")
		}
		return ast.WalkContinue, nil
	})
	return b.String()
}

// table reads a Markdown table into ours. Its columns fold, since nobody said which of them holds prose.
func (d *document) table(n *extast.Table) Table {
	var t Table
	for row := n.FirstChild(); row != nil; row = row.NextSibling() {
		var cells []Cell
		for cell := row.FirstChild(); cell != nil; cell = cell.NextSibling() {
			cells = append(cells, Cell{Text: restore.Replace(d.words(cell))})
		}
		if row.Kind() != extast.KindTableHeader {
			t.Rows = append(t.Rows, cells)
			continue
		}
		for i, cell := range cells {
			right := i < len(n.Alignments) && n.Alignments[i] == extast.AlignRight
			t.Columns = append(t.Columns, Column{Head: cell.Text, Right: right, Wrap: true})
		}
	}
	return t
}

// terminal renders a part of the document. The renderer is told to fold nothing, since it folds list items to the margin,
// leaves lines of wide characters alone and pads with blanks; fold does it afterwards.
func (d *document) terminal(o Output, chunk ast.Node) (string, error) {
	profile := termenv.Ascii
	if o.Colour {
		profile = termenv.ANSI
	}
	node := ansi.NewRenderer(ansi.Options{WordWrap: 0, ColorProfile: profile, Styles: o.markdownStyle()})
	var b bytes.Buffer
	r := renderer.NewRenderer(renderer.WithNodeRenderers(util.Prioritized(node, 1000)))
	if err := r.Render(&b, d.source, chunk); err != nil {
		return "", fmt.Errorf("render markdown: %w", err)
	}
	folded := blankLines().ReplaceAllString(fold(b.String(), o.width()), "\n\n")
	return strings.Trim(restore.Replace(emptyLines().ReplaceAllString(folded, "")), "\n"), nil
}

var (
	// emptyLines are those of code, which hold a sign until blankLines, more than one empty line, have been made one.
	emptyLines = sync.OnceValue(func() *regexp.Regexp { return regexp.MustCompile("[ ]*" + emptyLine) })
	blankLines = sync.OnceValue(func() *regexp.Regexp { return regexp.MustCompile(`\n(?:[ ]*\n){2,}`) })
)
