package render

import (
	"fmt"
	"math"
	"strings"
)

// A character of the margins is 7 units wide and a line 16 high in the SVG; the plane is drawingWidth wide.
const (
	drawingWidth  = 720.0
	drawingHeight = 300.0 // of a plane without an aspect
	charWidth     = 7.0
	lineHeight    = 16.0
)

// drawingStyle follows the reader's light or dark setting (CSS Media Queries Level 5, prefers-color-scheme); parts of a
// bar are told apart by their labels and edges as well as by colour.
const drawingStyle = `.dr text{font:12px system-ui,sans-serif;fill:#1b2226}.dr .title{font-size:15px;font-weight:600}.dr .soft{fill:#4f595f}
.dr .back{fill:#fbfaf7}.dr line,.dr polyline{fill:none}.dr .axis{stroke:#7d7a70}.dr .grid{stroke:#d5d0c5}.dr .data{stroke:#14505f;stroke-width:1.2}
.dr .range{stroke:#14505f;stroke-opacity:.6}.dr .trend{stroke:#14505f;stroke-width:1.6;stroke-dasharray:9 4}.dr .limit{stroke:#8f1d5e;stroke-width:1.5}
.dr .control{stroke:#7d7a70;stroke-dasharray:2 3}.dr .event{stroke:#7d7a70;stroke-dasharray:6 3}.dr .shade{fill:#e9e5db;fill-opacity:.6}.dr .band{fill:#d6e3e6}.dr .bound{stroke:#14505f;stroke-dasharray:2 3}
.dr .mark{fill:#14505f;stroke:#fbfaf7}.dr .mark.within{fill:#fbfaf7;stroke:#14505f;stroke-width:1.6}.dr .mark.unsure{fill:#6b5800}.dr .mark.over{fill:#8f1d5e}.dr .mark[class*=' p']{stroke:#1b2226}.dr .ring{fill:none;stroke:#8f1d5e;stroke-width:1.8}.dr .part{stroke:#fbfaf7;stroke-width:1.5}
.dr .p0{fill:#1e4a5c}.dr .p1{fill:#b07694}.dr .p2{fill:#985300}.dr .p3{fill:#7758c6}.dr .p4{fill:#679062}.dr .p5{fill:#543c30}.dr .inpart{fill:#fff;paint-order:stroke;stroke:#1b2226;stroke-width:2px}
@media (prefers-color-scheme:dark){.dr text{fill:#e9e7e1}.dr .soft{fill:#aab1b3}.dr .back{fill:#14181b}.dr .axis,.dr .event,.dr .control{stroke:#848b8d}.dr .grid{stroke:#394045}
.dr .data,.dr .range,.dr .trend,.dr .bound{stroke:#a6dbe4}.dr .limit{stroke:#f58fb8}.dr .shade{fill:#262c30}.dr .band{fill:#22414a}
.dr .mark{fill:#a6dbe4;stroke:#14181b}.dr .mark.within{fill:#14181b;stroke:#a6dbe4}.dr .mark.unsure{fill:#d9c04f}.dr .mark.over{fill:#f58fb8}.dr .ring{stroke:#f58fb8}.dr .part{stroke:#14181b}
.dr .p0{fill:#63d6dc}.dr .p1{fill:#956d88}.dr .p2{fill:#dcc94a}.dr .p3{fill:#9a7cf0}.dr .p4{fill:#4a8a2f}.dr .p5{fill:#e88a8a}}
@media print{.dr text{fill:#000}.dr .soft{fill:#333}.dr .back{fill:#fff}}
`

// DrawingStyle is the style sheet for drawings that stand in a page (DrawingInline).
func DrawingStyle() string { return drawingStyle }

func (t Tone) class() string {
	names := [...]string{"axis", "grid", "data", "range", "trend", "limit", "control", "event", "shade", "text", "soft", "band", "bound"}
	if t >= ToneFirst {
		return fmt.Sprintf("p%d", int(t-ToneFirst)%6)
	}
	return names[t]
}

// DrawingSVG draws a stand-alone SVG: the same drawing gives the same bytes, all text is escaped, a title and a description
// are there for those who hear it, and it refers to nothing outside itself.
func DrawingSVG(d Drawing) string {
	return `<?xml version="1.0" encoding="UTF-8"?>` + "\n" + drawingSVG(d, "", "<style>\n"+drawingStyle+"</style>\n")
}

// DrawingInline is the SVG for a page that holds several drawings and their style (DrawingStyle): id keeps their names apart.
func DrawingInline(d Drawing, id string) string { return drawingSVG(d, id, "") }

func drawingSVG(d Drawing, id, style string) string {
	left, right, top, bottom := float64(d.Left)*charWidth+8, float64(d.Right)*charWidth+8, float64(d.Top)*lineHeight+30, float64(d.Bottom)*lineHeight+18
	if d.Subtitle != "" {
		top += lineHeight
	}
	width, planeHeight := drawingWidth, drawingHeight
	if d.Width > 0 {
		width = d.Width
	}
	if d.Height > 0 {
		planeHeight = d.Height
	}
	planeWidth := max(width-left-right, 1)
	if d.Aspect > 0 {
		planeHeight = planeWidth / d.Aspect
	}
	height := top + planeHeight + bottom
	var notes []string
	for _, n := range d.Notes {
		notes = append(notes, strings.Split(Wrap(Line(n), max(int(width/charWidth), 20)), "\n")...)
	}
	total := height + float64(len(notes))*lineHeight + 6
	x := func(v float64) float64 { return left + v*planeWidth }
	y := func(v float64) float64 { return top + (1-v)*planeHeight }
	var b strings.Builder
	fmt.Fprintf(&b, `<svg xmlns="http://www.w3.org/2000/svg" class="dr" role="img" aria-labelledby="%st %sd" viewBox="0 0 %s %s" width="%s" height="%s">`+"\n", id, id,
		coordinate(width), coordinate(total), coordinate(width), coordinate(total))
	fmt.Fprintf(&b, "<title id=\"%st\">%s</title>\n<desc id=\"%sd\">%s</desc>\n", id, escapeXML(d.Title), id, escapeXML(d.Description))
	b.WriteString(style)
	fmt.Fprintf(&b, `<rect class="back" width="%s" height="%s"/>`+"\n", coordinate(width), coordinate(total))
	svgText(&b, 8, 20, "title", "start", d.Title)
	svgText(&b, 8, 20+lineHeight, "soft", "start", d.Subtitle)
	for _, s := range d.Shapes {
		if len(s.Points) > 0 && allFinite(s.Points) {
			drawingShape(&b, s, x, y)
		}
	}
	for i, n := range notes {
		svgText(&b, 8, height+float64(i)*lineHeight+8, "soft", "start", n)
	}
	b.WriteString("</svg>\n")
	return b.String()
}

func allFinite(points []XY) bool {
	for _, p := range points {
		if !finite(p.X) || !finite(p.Y) {
			return false
		}
	}
	return true
}

func drawingShape(b *strings.Builder, s Shape, x, y func(float64) float64) {
	p := s.Points
	switch s.Kind {
	case Stroke:
		if len(p) == 2 {
			svgLine(b, s.Tone.class(), x(p[0].X), y(p[0].Y), x(p[1].X), y(p[1].Y))
			return
		}
		var at []string
		for _, q := range p {
			at = append(at, coordinate(x(q.X))+","+coordinate(y(q.Y)))
		}
		fmt.Fprintf(b, `<polyline class="%s" points="%s"/>`+"\n", s.Tone.class(), strings.Join(at, " "))
	case Area:
		if len(p) < 2 {
			return
		}
		class := s.Tone.class()
		if s.Tone >= ToneFirst {
			class += " part"
		}
		fmt.Fprintf(b, `<rect class="%s" x="%s" y="%s" width="%s" height="%s">`, class, coordinate(min(x(p[0].X), x(p[1].X))), coordinate(min(y(p[0].Y), y(p[1].Y))),
			coordinate(math.Abs(x(p[1].X)-x(p[0].X))), coordinate(math.Abs(y(p[1].Y)-y(p[0].Y))))
		if s.Text != "" {
			b.WriteString("<title>" + escapeXML(s.Text) + "</title>")
		}
		b.WriteString("</rect>\n")
	case Mark:
		style := s.Sign.Style()
		for _, q := range p {
			class := "mark"
			if s.Tone >= ToneFirst {
				class += " " + s.Tone.class()
			}
			class += map[State]string{Within: " within", Doubtful: " unsure", Over: " over", Under: " over"}[s.Sign]
			if s.Glyph != "" {
				fmt.Fprintf(b, "<g><title>%s</title>", escapeXML(s.Text))
				svgText(b, x(q.X), y(q.Y)+4, "text", "middle", s.Glyph)
				b.WriteString("</g>\n")
				continue
			}
			fmt.Fprintf(b, `<circle class="%s" cx="%s" cy="%s" r="3.6">`, class, coordinate(x(q.X)), coordinate(y(q.Y)))
			if text := strings.TrimSpace(s.Text + " " + style.Meaning); text != "" {
				b.WriteString("<title>" + escapeXML(text) + "</title>")
			}
			b.WriteString("</circle>\n")
			if s.Ring {
				fmt.Fprintf(b, `<circle class="ring" cx="%s" cy="%s" r="7"/>`+"\n", coordinate(x(q.X)), coordinate(y(q.Y)))
			}
			if s.Sign == Doubtful || s.Sign == Over || s.Sign == Under {
				svgText(b, x(q.X)+6, y(q.Y)-5, "soft", "start", style.Mark)
			}
		}
	case Label:
		anchor := [...]string{"start", "middle", "end"}[min(max(s.Anchor+1, 0), 2)]
		class := "text"
		switch {
		case s.Tone == ToneSoft || s.Tone == ToneEvent:
			class = "soft"
		case s.Tone >= ToneFirst:
			class = "inpart"
		}
		svgText(b, x(p[0].X)+s.DX*charWidth, y(p[0].Y)-s.DY*lineHeight+4, class, anchor, s.Text)
	}
}
