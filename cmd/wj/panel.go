package main

import "wj/render"

// show prints a document in a format: text, markdown or html.
func (a *app) show(d render.Document, format string) error {
	switch format {
	case "markdown":
		return a.print(render.Clean(d.Markdown()))
	case "html":
		return a.print(d.Page())
	}
	return a.screen(d)
}

// screen shows a document on the terminal.
func (a *app) screen(d render.Document) error {
	return a.out.Show(func(o render.Output) string { return o.Document(d) })
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
