package render

import (
	"fmt"
	"html"
	"strconv"
	"strings"
)

// The picture is 720 by 360 units with room for the scales; the legend below adds to the height.
const (
	svgWidth, svgHeight                  = 720, 360
	svgLeft, svgRight, svgTop, svgBottom = 64, 16, 40, 40
	svgLegendLine                        = 18
)

// svgStyle follows the reader's light or dark setting (CSS Media Queries Level 5, prefers-color-scheme). The series are told apart by
// dashes as well as by colour.
const svgStyle = `<style>
text{font:12px system-ui,sans-serif;fill:#24292f}.title{font-size:15px;font-weight:600}.soft{fill:#57606a}
.grid{stroke:#d8dee4}.axis{stroke:#57606a}.limit{stroke:#a0266b;stroke-width:1.5;stroke-dasharray:6 4}
.event{stroke:#0550ae;stroke-dasharray:2 3}.band{fill:#0550ae;fill-opacity:.1}.range{stroke:#57606a;stroke-opacity:.6}
.line{fill:none;stroke-width:2}.s0{stroke:#0969da}.s1{stroke:#9a6700;stroke-dasharray:8 3}.s2{stroke:#1a7f37;stroke-dasharray:3 3}.s3{stroke:#6639ba;stroke-dasharray:10 3 2 3}.s4{stroke:#a0266b;stroke-dasharray:1 3}.s5{stroke:#57606a;stroke-dasharray:12 4}.point{stroke-dasharray:none}
.point{stroke-width:2;fill:#fff}.back{fill:#fff}
@media (prefers-color-scheme:dark){text{fill:#e6edf3}.soft{fill:#9198a1}.grid{stroke:#30363d}.axis{stroke:#9198a1}
.limit{stroke:#ff7ec8}.event{stroke:#79c0ff}.band{fill:#79c0ff;fill-opacity:.14}.range{stroke:#9198a1}
.s0{stroke:#58a6ff}.s1{stroke:#d29922}.s2{stroke:#3fb950}.s3{stroke:#bc8cff}.s4{stroke:#ff7ec8}.s5{stroke:#9198a1}.point,.back{fill:#0d1117}}
</style>
`

// SVG draws a chart as a stand-alone picture: the same input gives the same bytes, numbers have one decimal, all text is
// escaped, and it carries a title and a description for those who hear it. It refers to nothing outside itself.
func SVG(c Chart) string {
	f, ok := c.frame()
	var notes []string
	if ok {
		notes = strings.Split(strings.TrimRight(Output{Width: 100}.legend(c, f), "\n"), "\n")
	}
	height := svgHeight + svgLegendLine*len(notes)
	var b strings.Builder
	fmt.Fprintf(&b, `<svg xmlns="http://www.w3.org/2000/svg" role="img" aria-labelledby="t d" viewBox="0 0 %d %d" width="%d" height="%d">`+"\n", svgWidth, height, svgWidth, height)
	fmt.Fprintf(&b, "<title id=\"t\">%s</title>\n<desc id=\"d\">%s</desc>\n", escapeXML(c.Title), escapeXML(c.describe()))
	b.WriteString(svgStyle)
	fmt.Fprintf(&b, `<rect class="back" width="%d" height="%d"/>`+"\n", svgWidth, height)
	svgText(&b, svgLeft, 20, "title", "start", c.Title)
	label := c.YLabel
	if c.Unit != "" {
		label = strings.TrimSpace(label + " (" + c.Unit + ")")
	}
	svgText(&b, svgLeft, 34, "soft", "start", label)
	if !ok {
		svgText(&b, svgWidth/2, svgHeight/2, "soft", "middle", "no values to draw")
	} else {
		svgPlot(&b, c, f)
	}
	for i, note := range notes {
		if note != "" {
			svgText(&b, svgLeft, float64(svgHeight+svgLegendLine*i+6), "soft", "start", note)
		}
	}
	b.WriteString("</svg>\n")
	return b.String()
}

// describe says the chart in words.
func (c Chart) describe() string {
	var parts []string
	for _, s := range c.Series {
		points, n := sorted(s.Points), 0
		var first, last Point
		for _, p := range points {
			if finite(p.Value) {
				if n == 0 {
					first = p
				}
				last = p
				n++
			}
		}
		if n > 0 {
			parts = append(parts, fmt.Sprintf("%s: %d values, from %s on %s to %s on %s", s.Name, n,
				shortest(first.Value), first.At.Format("2006-01-02"), shortest(last.Value), last.At.Format("2006-01-02")))
		}
	}
	for _, l := range c.Limits {
		parts = append(parts, "limit "+l.Name+" "+shortest(l.Value))
	}
	return strings.Join(parts, "; ")
}

func escapeXML(s string) string { return html.EscapeString(Line(s)) }

// coordinate writes a number with one decimal, the same on every machine.
func coordinate(v float64) string { return strconv.FormatFloat(v, 'f', 1, 64) }

func svgText(b *strings.Builder, x, y float64, class, anchor, text string) {
	if text == "" {
		return
	}
	fmt.Fprintf(b, `<text class="%s" x="%s" y="%s" text-anchor="%s">%s</text>`+"\n", class, coordinate(x), coordinate(y), anchor, escapeXML(text))
}

func svgLine(b *strings.Builder, class string, x1, y1, x2, y2 float64) {
	fmt.Fprintf(b, `<line class="%s" x1="%s" y1="%s" x2="%s" y2="%s"/>`+"\n", class, coordinate(x1), coordinate(y1), coordinate(x2), coordinate(y2))
}

func svgPlot(b *strings.Builder, c Chart, f frame) {
	const left, right, top, bottom = svgLeft, svgWidth - svgRight, svgTop, svgHeight - svgBottom
	clamp := func(v float64) float64 { return min(max(v, 0), 1) }
	x := func(fraction float64) float64 { return left + clamp(fraction)*(right-left) }
	y := func(v float64) float64 { return bottom - clamp(f.y(v))*(bottom-top) }

	for _, band := range c.Bands {
		x0, x1, y0, y1 := x(0), x(1), float64(top), float64(bottom)
		if !band.From.IsZero() {
			x0 = x(f.x(band.From))
		}
		if !band.To.IsZero() {
			x1 = x(f.x(band.To))
		}
		if band.Low != band.High && finite(band.Low) && finite(band.High) {
			y0, y1 = y(band.High), y(band.Low)
		}
		fmt.Fprintf(b, `<rect class="band" x="%s" y="%s" width="%s" height="%s"/>`+"\n", coordinate(x0), coordinate(y0), coordinate(max(x1-x0, 0)), coordinate(max(y1-y0, 0)))
	}
	ticks, decimals := f.valueTicks(6)
	for _, v := range ticks {
		svgLine(b, "grid", left, y(v), right, y(v))
		svgText(b, left-8, y(v)+4, "soft", "end", formatValue(v, decimals))
	}
	for _, tick := range f.timeTicks(8) {
		svgLine(b, "axis", x(f.x(tick.at)), bottom, x(f.x(tick.at)), bottom+5)
		svgText(b, x(f.x(tick.at)), bottom+19, "soft", "middle", tick.label)
	}
	svgLine(b, "axis", left, bottom, right, bottom)
	for _, limit := range c.Limits {
		if limit.Value >= f.low && limit.Value <= f.top {
			svgLine(b, "limit", left, y(limit.Value), right, y(limit.Value))
			svgText(b, right, y(limit.Value)-4, "soft", "end", limit.Name)
		}
	}
	for n, event := range c.Events {
		if at := f.x(event.At); at >= 0 && at <= 1 {
			svgLine(b, "event", x(at), top, x(at), bottom)
			svgText(b, x(at)+3, top+10, "soft", "start", strconv.Itoa(n+1))
		}
	}
	for n, s := range c.Series {
		letter := ""
		if len(c.Series) > 1 {
			letter = string(seriesLetter(n))
		}
		svgSeries(b, s, letter, n%6, f, x, y)
	}
}

func svgSeries(b *strings.Builder, s Series, letter string, class int, f frame, x, y func(float64) float64) {
	var run []string
	var lastX, lastY float64
	flush := func() {
		if len(run) > 1 {
			fmt.Fprintf(b, `<polyline class="line s%d" points="%s"/>`+"\n", class, strings.Join(run, " "))
		}
		run = nil
	}
	points := sorted(s.Points)
	for _, p := range points {
		if !finite(p.Value) || p.At.IsZero() {
			flush()
			continue
		}
		lastX, lastY = x(f.x(p.At)), y(p.Value)
		run = append(run, coordinate(lastX)+","+coordinate(lastY))
	}
	flush()
	if lastX > 0 {
		svgText(b, lastX+5, lastY+14, "soft", "start", letter)
	}
	for _, p := range points {
		if !finite(p.Value) || p.At.IsZero() {
			continue
		}
		px, py := x(f.x(p.At)), y(p.Value)
		if p.Low < p.High && finite(p.Low) && finite(p.High) {
			svgLine(b, "range", px, y(p.High), px, y(p.Low))
		}
		style := p.State.Style()
		name := strings.TrimSpace(fmt.Sprintf("%s %s %s %s", s.Name, p.At.Format("2006-01-02"), shortest(p.Value), style.Meaning))
		fmt.Fprintf(b, `<circle class="point s%d" cx="%s" cy="%s" r="3.5"><title>%s</title></circle>`+"\n", class, coordinate(px), coordinate(py), escapeXML(name))
		if style.Mark != "" {
			svgText(b, px+6, py-5, "mark", "start", style.Mark)
		}
	}
}
