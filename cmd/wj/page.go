package main

import "wj/render"

// page prints a Markdown text as a page for a browser and the printer.
func (a *app) page(title, markdown string) error {
	return a.print(render.HTMLPage(title, "<main>\n"+render.HTML(markdown)+"</main>\n"))
}
