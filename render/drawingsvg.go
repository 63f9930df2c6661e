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

// drawingForm and drawingColour are the style of drawings. Parts of a bar are distinguished by their labels and edges as well as
// by colour, marks by how full they are.
const (
	drawingForm = `.dr text{font:12px system-ui,sans-serif}.dr .title{font-size:15px;font-weight:600}.dr line,.dr polyline{fill:none}
.dr .data{stroke-width:1.2}.dr .range{stroke-opacity:.6}.dr .trend{stroke-width:1.6;stroke-dasharray:9 4}.dr .limit{stroke-width:1.5}.dr .control,.dr .bound{stroke-dasharray:2 3}
.dr .event{stroke-dasharray:6 3}.dr .shade{fill-opacity:.6}.dr .ring{fill:none;stroke-width:1.8}.dr .mark{stroke-width:1.6}.dr .part{stroke-width:1.5}.dr .inpart{paint-order:stroke;stroke-width:2px}
.dr .line{fill:none;stroke-width:2}.dr .l1{stroke-dasharray:8 3}.dr .l2{stroke-dasharray:3 3}.dr .l3{stroke-dasharray:10 3 2 3}.dr .l4{stroke-dasharray:1 3}.dr .l5{stroke-dasharray:12 4}.dr .mark{stroke-dasharray:none}
`
	drawingColour = `.dr text{fill:var(--ink)}.dr .soft{fill:var(--soft)}.dr .back{fill:var(--paper)}.dr .axis,.dr .control,.dr .event{stroke:var(--edge)}.dr .grid{stroke:var(--rule)}
.dr .data,.dr .range,.dr .trend,.dr .bound{stroke:var(--mark)}.dr .limit,.dr .ring{stroke:var(--over)}.dr .shade{fill:var(--shade)}.dr .band{fill:var(--band)}
.dr .p0{fill:var(--s1)}.dr .p1{fill:var(--s2)}.dr .p2{fill:var(--s3)}.dr .p3{fill:var(--s4)}.dr .p4{fill:var(--s5)}.dr .p5{fill:var(--s6)}.dr .part{stroke:var(--paper)}.dr text.inpart{fill:#fff;stroke:#1b2226}
.dr .mark{fill:var(--mark);stroke:var(--mark)}.dr .mark.over{fill:var(--over);stroke:var(--over)}.dr .mark.unsure{fill:var(--unsure);stroke:var(--unsure)}
.dr .l0{stroke:var(--s1)}.dr .l1{stroke:var(--s2)}.dr .l2{stroke:var(--s3)}.dr .l3{stroke:var(--s4)}.dr .l4{stroke:var(--s5)}.dr .l5{stroke:var(--s6)}
.dr .mark.l0,.dr .mark.p0{fill:var(--s1)}.dr .mark.l1,.dr .mark.p1{fill:var(--s2)}.dr .mark.l2,.dr .mark.p2{fill:var(--s3)}.dr .mark.l3,.dr .mark.p3{fill:var(--s4)}.dr .mark.l4,.dr .mark.p4{fill:var(--s5)}.dr .mark.l5,.dr .mark.p5{fill:var(--s6)}
.dr .mark[class*=' p']{stroke:var(--ink)}.dr .mark.hollow{fill:var(--paper)}`
)

// DrawingStyle is the style sheet for drawings that are in a page (DrawingInline).
func DrawingStyle() string { return drawingForm + PictureColours(drawingColour) }

func (t Tone) class() string {
	names := [...]string{"axis", "grid", "data", "range", "trend", "limit", "control", "event", "shade", "text", "soft", "band", "bound"}
	if t >= ToneFirst {
		return fmt.Sprintf("p%d", int(t-ToneFirst)%6)
	}
	return names[t]
}

// series is the class of a line and its points.
func (t Tone) series() string { return fmt.Sprintf("l%d", int(t-ToneFirst)%6) }

// DrawingSVG draws a stand-alone SVG: the same drawing gives the same bytes, all text is escaped, a title and a description
// are there for those who hear it, and it refers to nothing outside itself.
func DrawingSVG(d Drawing) string {
	return `<?xml version="1.0" encoding="UTF-8"?>` + "\n" + drawingSVG(d, "", "<style>\n"+DrawingStyle()+"</style>\n")
}

// DrawingInline is the SVG for a page that holds several drawings and their style (DrawingStyle): id keeps their names apart.
func DrawingInline(d Drawing, id string) string { return drawingSVG(d, id, "") }

func drawingSVG(d Drawing, id, style string) string {
	left, right, top, bottom := float64(d.Left)*charWidth+8, float64(d.Right)*charWidth+8, float64(d.Top)*lineHeight+30, float64(d.Bottom)*lineHeight+18
	if d.Subtitle != "" {
		top += lineHeight
	}
	if d.Untitled {
		top -= 22
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
	if !d.Untitled {
		svgText(&b, 8, 20, "title", "start", d.Title)
	}
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
		class := s.Tone.class()
		if s.Tone >= ToneFirst {
			class = "line " + s.Tone.series()
		}
		if len(p) == 2 {
			svgLine(b, class, x(p[0].X), y(p[0].Y), x(p[1].X), y(p[1].Y))
			return
		}
		var at []string
		for _, q := range p {
			at = append(at, coordinate(x(q.X))+","+coordinate(y(q.Y)))
		}
		fmt.Fprintf(b, `<polyline class="%s" points="%s"/>`+"\n", class, strings.Join(at, " "))
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
		for _, q := range p {
			if s.Glyph != "" {
				fmt.Fprintf(b, "<g><title>%s</title>", escapeXML(s.Text))
				svgText(b, x(q.X), y(q.Y)+4, "text", "middle", s.Glyph)
				b.WriteString("</g>\n")
				continue
			}
			class := ""
			if s.Tone >= ToneFirst {
				class = s.Tone.class()
			}
			svgMark(b, x(q.X), y(q.Y), class, s.Sign, s.Text)
			if s.Ring {
				fmt.Fprintf(b, `<circle class="ring" cx="%s" cy="%s" r="7"/>`+"\n", coordinate(x(q.X)), coordinate(y(q.Y)))
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
		text := s.Text
		if s.Key >= ToneFirst { // a picture has the points themselves in place of their letter
			_, text, _ = strings.Cut(text, " ")
			svgMark(b, x(p[0].X)+(s.DX+.5)*charWidth, y(p[0].Y), s.Key.series(), Plain, text)
			text = "\u2002\u2002" + text
		}
		svgText(b, x(p[0].X)+s.DX*charWidth, y(p[0].Y)-s.DY*lineHeight+4, class, anchor, text)
	}
}

// svgMark draws a point as full as its interval is over the limit: hollow within, half full where the interval includes the
// limit, full over it. Colour says the same again.
func svgMark(b *strings.Builder, x, y float64, class string, state State, text string) {
	const radius = 3.6
	if class == "" { // a series keeps its own colour
		class = map[State]string{Doubtful: "unsure", Over: "over", Under: "over"}[state]
	}
	class = strings.TrimSpace("mark " + class)
	hollow := ""
	if state == Within || state == Doubtful {
		hollow = " hollow"
	}
	fmt.Fprintf(b, `<g><title>%s</title><circle class="%s%s" cx="%s" cy="%s" r="%v"/>`, escapeXML(strings.TrimSpace(text+" "+state.Style().Meaning)), class, hollow, coordinate(x), coordinate(y), radius)
	if state == Doubtful {
		fmt.Fprintf(b, `<path class="%s" d="M%s %sv%va%v %v 0 0 1 0 %vz"/>`, class, coordinate(x), coordinate(y-radius), 2*radius, radius, radius, -2*radius)
	}
	b.WriteString("</g>\n")
}
