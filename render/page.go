package render

import (
	_ "embed"
	"fmt"
	"html"
	"strings"
)

// pageStyle is the one style of all pages: paper, print, dark and telephone. Its colours are those of the palette.
//
//go:embed page.css
var pageStyle string

// HTMLPage is a page that is whole in itself: no script, nothing fetched, no link to the outside but those of the body. The body
// is HTML that this package made.
func HTMLPage(title, body string) string {
	return PageHead(title, "default-src 'none'; style-src 'unsafe-inline'", "<style>\n"+PageStyle()+"</style>\n") + "<body>\n" + body + "</body>\n</html>\n"
}

// PageHead is the head of a page: its title, its content security policy, and what else is in it as HTML.
func PageHead(title, policy, more string) string {
	return "<!doctype html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n<meta name=\"viewport\" content=\"width=device-width,initial-scale=1\">\n" +
		"<meta http-equiv=\"Content-Security-Policy\" content=\"" + policy + "\">\n<title>" + escapeXML(title) + "</title>\n" + more + "</head>\n"
}

// PageStyle is the style sheet of all pages, for a folder of pages that share it.
func PageStyle() string { return pageColours() + pageStyle + DrawingStyle() }

// Page draws a document as a page.
func (d Document) Page() string { return HTMLPage(d.Title, "<main>\n"+d.HTML()+"</main>\n") }

// HTML draws a document as a fragment of safe HTML.
func (d Document) HTML() string { return d.Linked(func(string) string { return "" }) }

// Linked draws a document as HTML too, with links where to gives the address of what a cell or a fact names.
func (d Document) Linked(to func(name string) string) string {
	var b strings.Builder
	if d.Title != "" {
		b.WriteString("<h1>" + escapeXML(d.Title) + "</h1>\n")
	}
	for _, l := range d.Lead {
		b.WriteString("<p class=\"lead\">" + escapeXML(l) + "</p>\n")
	}
	facts, heading := false, ""
	for i, block := range d.Blocks {
		if is := block.Fact != nil; is != facts {
			b.WriteString(map[bool]string{true: "<dl>\n", false: "</dl>\n"}[is])
			facts = is
		}
		if block.Heading != "" {
			heading = block.Heading
			id := ""
			if block.Anchor != "" {
				id = " id=\"" + escapeXML(block.Anchor) + "\""
			}
			b.WriteString("<h2" + id + ">" + escapeXML(heading) + "</h2>\n")
		}
		if block.Fold != "" {
			b.WriteString("<details><summary>" + escapeXML(block.Fold) + "</summary>\n")
		}
		switch {
		case block.Fact != nil:
			f := *block.Fact
			fmt.Fprintf(&b, "<dt>%s</dt><dd>%s", escapeXML(f.Label), escapeXML(f.Text))
			if f.Command != "" {
				b.WriteString(" <code>" + escapeXML(f.Command) + "</code>")
			}
			b.WriteString("</dd>\n")
		case block.Text != "":
			b.WriteString("<p>" + escapeXML(block.Text) + "</p>\n")
		case block.Table != nil:
			name := block.Heading
			if block.Fold != "" {
				name = strings.TrimPrefix(heading+": "+block.Fold, ": ")
			}
			b.WriteString(linkedTable(*block.Table, name, to))
		case block.Passage != "":
			b.WriteString(HTML(block.Passage))
		case block.Drawing != nil:
			b.WriteString(Figure(*block.Drawing, block.Narrow, fmt.Sprintf("f%d", i)))
		}
		if len(block.Items) > 0 {
			b.WriteString("<ul>\n")
			for _, item := range block.Items {
				b.WriteString("<li>" + escapeXML(item) + "</li>\n")
			}
			b.WriteString("</ul>\n")
		}
		if block.Fold != "" {
			b.WriteString("</details>\n")
		}
	}
	if facts {
		b.WriteString("</dl>\n")
	}
	return b.String()
}

// Figure is a drawing for a page, with its notes below it; narrow is what a telephone shows in its place, if anything.
func Figure(d Drawing, narrow *Drawing, id string) string {
	notes := d.Notes
	d.Notes = nil
	text := "<figure>" + DrawingInline(d, id)
	if narrow != nil {
		n := *narrow
		n.Notes = nil
		text = "<figure><div class=\"wide\">" + DrawingInline(d, id) + "</div><div class=\"narrow\">" + DrawingInline(n, id+"n") + "</div>"
	}
	if len(notes) > 0 {
		text += "<figcaption>" + escapeXML(strings.Join(notes, "; ")) + "</figcaption>"
	}
	return text + "</figure>\n"
}

// anchor makes a link of HTML, where there is somewhere to go.
func anchor(address, html string) string {
	if address == "" || html == "" {
		return html
	}
	return "<a href=\"" + escapeXML(address) + "\">" + html + "</a>"
}

// linkedTable writes a table for a page; on a telephone each row becomes a few lines of its own. to leads a cell's link to its page.
func linkedTable(t Table, name string, to func(string) string) string {
	t = cleaned(t)
	var b strings.Builder
	label := ""
	if name != "" {
		label = fmt.Sprintf(" role=\"region\" aria-label=\"%s\"", escapeXML(name))
	}
	fmt.Fprintf(&b, "<div class=\"scroll\"%s><table class=\"stack\">\n<thead><tr>", label)
	class := func(c Column, more string) string {
		if c.Right {
			more = strings.TrimSpace("n " + more)
		}
		if more == "" {
			return ""
		}
		return " class=\"" + more + "\""
	}
	for _, c := range t.Columns {
		head := escapeXML(c.Head)
		if c.Unit != "" {
			head += " <span class=\"u\">" + escapeXML(c.Unit) + "</span>"
		}
		if c.Head == "" {
			head = "<span class=\"sr\">state</span>"
		}
		fmt.Fprintf(&b, "<th scope=\"col\"%s>%s</th>", class(c, ""), head)
	}
	b.WriteString("</tr></thead>\n<tbody>\n")
	rowHead := 0 // the first column that has a name is what a row is about
	for rowHead < len(t.Columns)-1 && t.Columns[rowHead].Head == "" {
		rowHead++
	}
	for _, row := range t.Rows {
		b.WriteString("<tr>")
		for i, c := range row {
			text := anchor(to(c.Link), escapeXML(c.Text))
			style := c.State.Style()
			if style.Mark != "" {
				if c.Text == style.Mark || c.Text == "" {
					text = markHTML(c.State)
				} else {
					text = markedHTML(c.State, text)
				}
			}
			switch {
			case i == rowHead && t.Columns[i].Head != "":
				fmt.Fprintf(&b, "<th scope=\"row\"%s>%s</th>", class(t.Columns[i], ""), text)
			case t.Columns[i].Head == "":
				fmt.Fprintf(&b, "<td class=\"m0\">%s</td>", text)
			default:
				head, short := t.Columns[i].Head, ""
				if head == "unit" || strings.HasPrefix(head, "±") { // on a telephone the value before says what it is
					head, _, _ = strings.Cut(strings.TrimPrefix(head, "unit"), " ")
				}
				if Width(c.Text)+Width(head) < longWord { // with what it is beside it
					short = "short"
				}
				if head != "" {
					head = " data-head=\"" + escapeXML(head) + "\""
				}
				fmt.Fprintf(&b, "<td%s%s>%s</td>", class(t.Columns[i], short), head, text)
			}
		}
		b.WriteString("</tr>\n")
	}
	b.WriteString("</tbody></table></div>\n")
	for _, n := range t.Notes {
		b.WriteString("<p class=\"soft\">" + escapeXML(n) + "</p>\n")
	}
	return b.String()
}

// markHTML is a mark as full as the interval is over the limit, with its word for those who hear it.
func markHTML(s State) string {
	class := map[State]string{Over: "full", Under: "full", Doubtful: "half", Within: "ok", Unjudged: "none"}[s]
	if class == "" {
		return html.EscapeString(s.Style().Mark)
	}
	return fmt.Sprintf("<span class=\"m %s\" role=\"img\" aria-label=\"%s\"></span>", class, s.Style().Meaning)
}

// markedHTML sets a text apart by its state.
func markedHTML(s State, text string) string {
	switch s {
	case Over, Under, Error:
		return "<span class=\"over\">" + text + "</span> " + markHTML(s)
	case Doubtful, Warning:
		return "<span class=\"unsure\">" + text + "</span> " + markHTML(s)
	}
	return text + " " + markHTML(s)
}
