package render

import (
	"fmt"
	"html"
	"strconv"
	"strings"
)

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
