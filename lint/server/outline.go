package server

import (
	"bytes"
	"strings"

	"wj/journal"
	"wj/journal/frontmatter"
)

// documentSymbols is the outline of a record: its keys, and the headings of its text.
func (s *server) documentSymbols(p documentParams) ([]documentSymbol, error) {
	out := []documentSymbol{}
	s.lookAsItIs(p.TextDocument.URI, func(d *document) {
		doc := d.parsed()
		if doc.OK() {
			out = append(out, d.symbols(doc, 0)...)
		}
		if d.file.Kind != journal.KindSettings {
			out = append(out, d.headings(doc.Body)...)
		}
	})
	return out, nil
}

func (d *document) symbols(doc *frontmatter.Document, node int32) []documentSymbol {
	var out []documentSymbol
	for c := range doc.Children(node) {
		n := doc.Nodes[c]
		start, name := int(n.Start), "-"
		pick := d.text.span(int(n.Start), int(n.Start))
		if n.KeyStart >= 0 {
			start, name = int(n.KeyStart), doc.Key(c)
			pick = d.text.span(int(n.KeyStart), int(n.KeyEnd))
		}
		symbol := documentSymbol{Name: orDash(name), Kind: symbolProperty, Range: d.text.span(start, max(int(n.End), start)), SelectionRange: pick}
		switch n.Kind {
		case frontmatter.Scalar:
			symbol.Kind, symbol.Detail = symbolField, oneLine(doc.Text(c))
		default:
			if value, ok := doc.Child(c, "value"); n.Kind == frontmatter.Mapping && ok {
				symbol.Detail = oneLine(string(doc.Source[doc.Nodes[value].Start:doc.Nodes[value].End]))
			}
			symbol.Children = d.symbols(doc, c)
		}
		if symbol.Name == "-" {
			if symbol.Name = "item"; symbol.Detail != "" {
				symbol.Name = symbol.Detail
			}
		}
		out = append(out, symbol)
	}
	return out
}

func orDash(name string) string {
	if strings.TrimSpace(name) == "" {
		return "-"
	}
	return name
}

func oneLine(s string) string {
	const most = 60
	s = strings.Join(strings.Fields(s), " ")
	if r := []rune(s); len(r) > most {
		return string(r[:most]) + "…"
	}
	return s
}

// headings are the Markdown headings after the front matter.
func (d *document) headings(body int) []documentSymbol {
	var out []documentSymbol
	for _, h := range headingsOf(d.text.src, body) {
		out = append(out, documentSymbol{Name: orDash(h.name), Kind: symbolString, Range: d.text.span(h.start, h.end), SelectionRange: d.text.span(h.start, h.lineEnd)})
	}
	return out
}

type heading struct {
	name                string
	level               int
	start, lineEnd, end int // end is where the next heading of its level or above begins
}

// headingsOf finds headings of the form "# text" outside code fences.
func headingsOf(src []byte, body int) []heading {
	var out []heading
	fenced := false
	at := min(max(body, 0), len(src))
	for at < len(src) {
		line := src[at:]
		next := len(src)
		if i := bytes.IndexByte(line, '\n'); i >= 0 {
			line, next = line[:i], at+i+1
		}
		text := strings.TrimRight(string(line), "\r ")
		if strings.HasPrefix(text, "```") || strings.HasPrefix(text, "~~~") {
			fenced = !fenced
		}
		level := len(text) - len(strings.TrimLeft(text, "#"))
		if !fenced && level > 0 && level <= 6 && (len(text) == level || text[level] == ' ') {
			for i := range out {
				if out[i].end == 0 && out[i].level >= level {
					out[i].end = at
				}
			}
			out = append(out, heading{strings.TrimSpace(strings.Trim(text, "#")), level, at, at + len(line), 0})
		}
		at = next
	}
	for i := range out {
		if out[i].end == 0 {
			out[i].end = len(src)
		}
	}
	return out
}

// foldingRanges are the front matter, what is nested in it, comments of several lines, and
// the sections of the text.
func (s *server) foldingRanges(p documentParams) ([]foldingRange, error) {
	out := []foldingRange{}
	s.lookAsItIs(p.TextDocument.URI, func(d *document) {
		doc := d.parsed()
		add := func(start, end int, kind string) {
			from, to := d.text.line(start), d.text.line(max(start, end))
			if to > from {
				out = append(out, foldingRange{from, to, kind})
			}
		}
		if d.file.Kind != journal.KindSettings && doc.OK() {
			add(max(doc.Front-1, 0), doc.FrontEnd, "region")
			for _, h := range headingsOf(d.text.src, doc.Body) {
				add(h.start, len(bytes.TrimRight(d.text.src[:h.end], "\r\n \t")), "")
			}
		}
		for i := range doc.Nodes {
			n := doc.Nodes[i]
			if n.Kind == frontmatter.None || i == 0 {
				continue
			}
			start := int(n.Start)
			if n.KeyStart >= 0 {
				start = int(n.KeyStart)
			}
			add(start, len(bytes.TrimRight(d.text.src[:min(max(int(n.End), start), len(d.text.src))], "\r\n \t")), "")
		}
		out = append(out, d.comments(doc)...)
	})
	return out, nil
}

// comments are runs of comment lines in the front matter.
func (d *document) comments(doc *frontmatter.Document) []foldingRange {
	var out []foldingRange
	first, last := -1, len(d.text.lines)
	if d.file.Kind != journal.KindSettings {
		last = d.text.line(doc.FrontEnd)
	}
	for line := 0; line <= last; line++ {
		comment := false
		if line < len(d.text.lines) && line < last {
			start, end := d.text.bounds(line)
			comment = bytes.HasPrefix(bytes.TrimLeft(d.text.src[start:end], " "), []byte("#"))
		}
		switch {
		case comment && first < 0:
			first = line
		case !comment && first >= 0:
			if line-1 > first {
				out = append(out, foldingRange{first, line - 1, "comment"})
			}
			first = -1
		}
	}
	return out
}
