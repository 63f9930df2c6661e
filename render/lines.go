package render

import (
	"fmt"
	"slices"
	"sort"
	"strings"
	"time"
)

// valueAxis draws round values at the left.
func (d *Drawing) valueAxis(f frame, lines int) {
	ticks, decimals := f.valueTicks(max(lines/3, 3))
	for _, v := range ticks {
		text := formatValue(v, decimals)
		d.Left = max(d.Left, Width(text)+1)
		d.line(ToneGrid, XY{0, f.y(v)}, XY{1, f.y(v)})
		d.label(ToneSoft, XY{0, f.y(v)}, 1, -1.6, 0, text)
	}
}

// timeAxis draws both axes and round moments below, those that have room.
func (d *Drawing) timeAxis(f frame, columns int) {
	d.line(ToneAxis, XY{0, 0}, XY{1, 0})
	d.line(ToneAxis, XY{0, 0}, XY{0, 1})
	free := -1.0
	for _, tick := range f.timeTicks(max(columns/11, 2)) {
		x := f.x(tick.at)
		d.line(ToneGrid, XY{x, 0}, XY{x, .02})
		half := float64(Width(tick.label)+1) / 2 / float64(max(columns, 1))
		anchor, from := 0, x-half
		if x+half > 1 { // its end would be cut off
			anchor, from = 1, x-2*half
		}
		if from >= free {
			d.label(ToneSoft, XY{x, 0}, anchor, 0, -2, tick.label)
			free = from + 2*half
		}
	}
}

// Drawing lays the chart out for a plane of so many columns and lines of text. A bound is drawn where it is, with a stem to
// where the true value may be, and no line goes through it; a line is broken at a gap of over two and a half usual intervals
// and at a point that is apart.
func (c Chart) Drawing(columns, lines int) Drawing {
	d := Drawing{Title: withUnit(c.Title, c.Unit), Subtitle: c.Subtitle, Description: c.describe(), Bottom: 2, Right: 1}
	f, ok := c.frame()
	if !ok {
		d.label(ToneSoft, XY{.5, .5}, 0, 0, 0, "no values to draw")
		d.Notes = c.Notes
		return d
	}
	d.valueAxis(f, lines)
	d.timeAxis(f, columns)
	for _, l := range c.Limits {
		if y := f.y(l.Value); y >= 0 && y <= 1 {
			d.line(ToneLimit, XY{0, y}, XY{1, y})
			d.label(ToneText, XY{0, y}, -1, .8, .55, l.Name+" "+shortest(l.Value))
		} else if finite(l.Value) {
			d.Notes = append(d.Notes, l.offScale(c.Unit))
		}
	}
	var ends []seriesEnd
	below, above := false, false
	for n, s := range c.Series {
		tone := ToneFirst + Tone(n%6)
		end := seriesEnd{name: s.Name, tone: tone, at: -1}
		var run []XY
		flush := func() {
			if len(run) > 1 {
				d.line(tone, run...)
			}
			run = nil
		}
		points := sorted(s.Points)
		usual := usualInterval(points)
		var before time.Time
		for _, p := range points {
			if !finite(p.Value) || p.At.IsZero() {
				flush()
				continue
			}
			at := XY{within(f.x(p.At)), within(f.y(p.Value))}
			mark := Shape{Kind: Mark, Tone: tone, Points: []XY{at}, Sign: p.State, Text: s.Name + " " + p.At.Format("2006-01-02") + " " + shortest(p.Value)}
			end.at = at.Y
			switch {
			case p.Bound != 0:
				flush()
				foot := XY{at.X, 0}
				if mark.Glyph, below = "▽", true; p.Bound > 0 {
					mark.Glyph, foot.Y = "△", 1
				}
				below, above = below || p.Bound < 0, above || p.Bound > 0
				d.line(ToneBound, at, foot)
			case p.Apart || usual > 0 && !before.IsZero() && p.At.Sub(before) > usual*5/2:
				flush()
				run = append(run, at)
			default:
				run = append(run, at)
			}
			before = p.At
			d.Shapes = append(d.Shapes, mark)
		}
		flush()
		if end.at >= 0 {
			ends = append(ends, end)
		}
	}
	d.names(ends, columns, lines)
	d.Notes = append(append(d.Notes, boundLegend(below, above)...), c.Notes...)
	return d
}

// seriesEnd is where the line of a series ends, for its name.
type seriesEnd struct {
	name string
	tone Tone
	at   float64
}

// names writes the names of the series beside the ends of their lines, a line of text apart from one another; where there is no
// room for them they go below, with the letters that the points have on a terminal.
func (d *Drawing) names(ends []seriesEnd, columns, lines int) {
	longest := 0
	for _, e := range ends {
		longest = max(longest, Width(Line(e.name)))
	}
	letter := func(e seriesEnd) string { return string(seriesLetter(int(e.tone - ToneFirst))) }
	if longest > 24 || longest*3 > columns || len(ends) > lines {
		for _, e := range ends {
			d.Notes = append(d.Notes, letter(e)+" "+e.name)
		}
		return
	}
	d.Right = longest + 4
	sort.SliceStable(ends, func(i, j int) bool { return ends[i].at > ends[j].at })
	gap := 1.05 / float64(max(lines, 1))
	for i := range ends { // from above, each at least a line below the one before
		if i > 0 {
			ends[i].at = min(ends[i].at, ends[i-1].at-gap)
		}
	}
	for i := len(ends) - 1; i >= 0; i-- { // and none below the plane
		least := 0.0
		if i < len(ends)-1 {
			least = ends[i+1].at + gap
		}
		ends[i].at = max(ends[i].at, least)
	}
	for _, e := range ends {
		d.Shapes = append(d.Shapes, Shape{Kind: Label, Tone: ToneText, Points: []XY{{1, e.at}}, Anchor: -1, DX: 1.2, Text: letter(e) + " " + e.name, Key: e.tone})
	}
}

// offScale says that a limit is not in the chart.
func (l LimitLine) offScale(unit string) string {
	return strings.TrimSpace(fmt.Sprintf("off scale: limit %s %s %s", l.Name, shortest(l.Value), unit))
}

// boundLegend explains the marks of bounds.
func boundLegend(below, above bool) (notes []string) {
	if below {
		notes = append(notes, "▽ below the method's range, the true value is between 0 and the mark")
	}
	if above {
		notes = append(notes, "△ above the method's range")
	}
	return notes
}

// usualInterval is the median time between neighbouring points.
func usualInterval(points []Point) time.Duration {
	var gaps []time.Duration
	for i := 1; i < len(points); i++ {
		gaps = append(gaps, points[i].At.Sub(points[i-1].At))
	}
	if len(gaps) == 0 {
		return 0
	}
	slices.Sort(gaps)
	return gaps[len(gaps)/2]
}
