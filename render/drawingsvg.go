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
const drawingStyle = `.dr text{font:12px system-ui,sans-serif;fill:#24292f}.dr .title{font-size:15px;font-weight:600}.dr .soft{fill:#57606a}
.dr .back{fill:#fff}.dr line,.dr polyline{fill:none}.dr .axis{stroke:#57606a}.dr .grid{stroke:#d8dee4}.dr .data{stroke:#0b5c75;stroke-width:1.6}
.dr .range{stroke:#57606a;stroke-opacity:.55}.dr .trend{stroke:#7a4b00;stroke-width:2;stroke-dasharray:9 4}.dr .limit{stroke:#a0266b;stroke-width:1.5;stroke-dasharray:6 4}
.dr .control{stroke:#0b5c75;stroke-dasharray:2 3}.dr .event{stroke:#57606a;stroke-dasharray:2 3}.dr .shade{fill:#0b5c75;fill-opacity:.08}
.dr .mark{fill:#0b5c75;stroke:#fff}.dr .mark[class*=' p']{stroke:#24292f}.dr .ring{fill:none;stroke:#a0266b;stroke-width:1.8}.dr .part{stroke:#fff;stroke-width:1.5}
.dr .p0{fill:#7fb2bf}.dr .p1{fill:#c9a86a}.dr .p2{fill:#a7a2c9}.dr .p3{fill:#9dbb8a}.dr .p4{fill:#d09a9a}.dr .p5{fill:#b5b5b5}.dr .inpart{fill:#111}
@media (prefers-color-scheme:dark){.dr text{fill:#e6edf3}.dr .soft{fill:#9198a1}.dr .back{fill:#0d1117}.dr .axis{stroke:#9198a1}.dr .grid{stroke:#30363d}
.dr .data,.dr .control{stroke:#7cc4d8}.dr .range,.dr .event{stroke:#9198a1}.dr .trend{stroke:#e0b060}.dr .limit{stroke:#ff7ec8}.dr .shade{fill:#7cc4d8;fill-opacity:.13}
.dr .mark{fill:#7cc4d8;stroke:#0d1117}.dr .ring{stroke:#ff7ec8}.dr .part{stroke:#0d1117}.dr .inpart{fill:#111}}
@media print{.dr text{fill:#000}.dr .soft{fill:#333}.dr .back{fill:#fff}.dr .axis{stroke:#333}.dr .data,.dr .control{stroke:#0b5c75}.dr .mark{fill:#0b5c75;stroke:#fff}.dr .trend{stroke:#7a4b00}.dr .limit{stroke:#a0266b}.dr .range,.dr .event{stroke:#555}.dr .grid{stroke:#ccc}.dr .shade{fill:#0b5c75;fill-opacity:.08}}
`

// DrawingStyle is the style sheet for drawings that stand in a page (DrawingInline).
func DrawingStyle() string { return drawingStyle }

func (t Tone) class() string {
	names := [...]string{"axis", "grid", "data", "range", "trend", "limit", "control", "event", "shade", "text", "soft"}
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
			fmt.Fprintf(b, `<circle class="%s" cx="%s" cy="%s" r="3.6">`, class, coordinate(x(q.X)), coordinate(y(q.Y)))
			if text := strings.TrimSpace(s.Text + " " + style.Meaning); text != "" {
				b.WriteString("<title>" + escapeXML(text) + "</title>")
			}
			b.WriteString("</circle>\n")
			if s.Ring {
				fmt.Fprintf(b, `<circle class="ring" cx="%s" cy="%s" r="7"/>`+"\n", coordinate(x(q.X)), coordinate(y(q.Y)))
			}
			if s.Sign != Plain {
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
