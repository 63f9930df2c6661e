package main

import (
	"html"

	"wj/render"
)

// pageStyle is for pages that are Markdown turned into HTML: plain, printable
// on A4, light and dark.
const pageStyle = `:root{color-scheme:light dark}
body{font:16px/1.45 system-ui,sans-serif;max-width:46rem;margin:1.5rem auto;padding:0 1rem}
h1{font-size:1.6rem}h2{font-size:1.2rem;margin-top:1.6rem}
table{border-collapse:collapse;margin:.6rem 0}th,td{padding:.2rem .7rem .2rem 0;text-align:left;vertical-align:top;border-bottom:1px solid #8886}
code,pre{font-family:ui-monospace,monospace;font-size:.92em}pre{overflow-x:auto}
@page{size:A4;margin:16mm}@media print{:root{color-scheme:light}body{margin:0;max-width:none;font-size:11pt}h2{break-after:avoid}tr{break-inside:avoid}}
`

// page prints a Markdown text as a page for a browser and the printer. It needs
// nothing else, runs no script and loads nothing.
func (a *app) page(title, markdown string) error {
	return a.print("<!doctype html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n<meta name=\"viewport\" content=\"width=device-width,initial-scale=1\">\n" +
		"<meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; style-src 'unsafe-inline'\">\n" +
		"<title>" + html.EscapeString(render.Line(title)) + "</title>\n<style>\n" + pageStyle + "</style>\n</head>\n<body>\n<main>\n" + render.HTML(markdown) + "</main>\n</body>\n</html>\n")
}
