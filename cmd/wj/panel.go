package main

import (
	"fmt"
	"strings"

	"wj/render"
)

// panel is a screen of labelled lines and tables that is drawn for a terminal
// or written as Markdown with the same content.
type panel struct {
	title  string
	blocks []panelBlock
}

type panelBlock struct {
	label, text string
	head        string // of a table
	table       *render.Table
}

// panelWidth is how wide the screen may get; longer lines are hard to follow.
const panelWidth = 100

// line adds a labelled line; an empty text adds nothing.
func (p *panel) line(label, format string, args ...any) {
	text := format
	if len(args) > 0 {
		text = fmt.Sprintf(format, args...)
	}
	if text = render.Line(text); text != "" {
		p.blocks = append(p.blocks, panelBlock{label: label, text: text})
	}
}

// list adds a labelled line of several short statements.
func (p *panel) list(label string, items []string) { p.line(label, "%s", strings.Join(items, " · ")) }

// table adds a table under a head; the head may be empty.
func (p *panel) table(head string, t render.Table) {
	p.blocks = append(p.blocks, panelBlock{head: head, table: &t})
}

// text draws the panel for a terminal.
func (p *panel) text(o render.Output) string {
	o.Width = min(max(o.Width, 40), panelWidth)
	label := 0
	for _, b := range p.blocks {
		label = max(label, len(b.label))
	}
	label += 2
	var out strings.Builder
	if p.title != "" {
		out.WriteString(o.Paint(render.Heading, render.Line(p.title)) + "\n")
	}
	for i, b := range p.blocks {
		if b.table != nil {
			if i > 0 {
				out.WriteString("\n")
			}
			if b.head != "" {
				out.WriteString(o.Paint(render.Heading, render.Line(b.head)) + "\n")
			}
			out.WriteString(o.Table(*b.table))
			if i+1 < len(p.blocks) && p.blocks[i+1].table == nil {
				out.WriteString("\n")
			}
			continue
		}
		for n, l := range strings.Split(render.Wrap(b.text, o.Width-label), "\n") {
			head := ""
			if n == 0 {
				head = b.label
			}
			out.WriteString(o.Paint(render.Bold, fmt.Sprintf("%-*s", label, head)) + l + "\n")
		}
	}
	return out.String()
}

// markdown writes the panel for a pull request.
func (p *panel) markdown() string {
	var out strings.Builder
	if p.title != "" {
		out.WriteString("## " + plain(render.Line(p.title)) + "\n\n")
	}
	for i, b := range p.blocks {
		if b.table != nil {
			if b.head != "" {
				out.WriteString("\n**" + plain(render.Line(b.head)) + "**\n")
			}
			out.WriteString("\n" + render.MarkdownTable(*b.table))
			if i+1 < len(p.blocks) && p.blocks[i+1].table == nil {
				out.WriteString("\n")
			}
			continue
		}
		out.WriteString("- ")
		if b.label != "" {
			out.WriteString("**" + plain(b.label) + "** ")
		}
		out.WriteString(plain(b.text) + "\n")
	}
	return out.String()
}

// show prints the panel in a format: text or markdown.
func (a *app) showPanel(p *panel, format string) error {
	if format == "markdown" {
		return a.print(render.Clean(p.markdown()))
	}
	return a.out.Print(p.text(a.out))
}
