package main

import "wj/render"

// panel is a document in the words of those that still build theirs here.
type panel struct {
	title string
	doc   render.Document
}

func (p *panel) line(label, format string, args ...any) { p.doc.Fact(label, format, args...) }
func (p *panel) list(label string, items []string)      { p.doc.List(label, items) }
func (p *panel) table(head string, t render.Table)      { p.doc.Table(head, t) }

func (p *panel) document() render.Document {
	d := p.doc
	d.Title = p.title
	return d
}

func (p *panel) text(o render.Output) string { return o.Document(p.document()) }
func (p *panel) markdown() string            { return p.document().Markdown() }

// show prints a document in a format: text, markdown or html.
func (a *app) show(d render.Document, format string) error {
	switch format {
	case "markdown":
		return a.print(render.Clean(d.Markdown()))
	case "html":
		return a.print(d.Page())
	}
	return a.out.Print(a.out.Document(d))
}

// showJSON prints a value of typed fields on one line.
func (a *app) showJSON(value any) error {
	text, err := render.JSON(value)
	if _, old := value.(render.Object); !old {
		text, err = render.Encode(value)
	}
	if err != nil {
		return err
	}
	return a.print(text + "\n")
}
