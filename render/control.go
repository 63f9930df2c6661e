package render

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"
)

// Control is a control chart: one value over time, what is expected of it in each period, and what happened meanwhile.
//
// A bound is drawn where it is, with a stem to where the true value may be, and no line goes through it. A line is broken
// where the supply changes, where a gap is over two and a half usual intervals, at points that are set apart, and at points that are outside of what is expected. What is expected is a band.
type Control struct {
	Title, Subtitle, Unit string
	Points                []Point
	// Names says what each point is, when it is pointed at; Rings which points are set apart. Both may be shorter.
	Names   []string
	Rings   []bool
	Periods []Period
	Limits  []LimitLine
	Events  []Event
	Changes []Event // small things on the time axis, such as new lots
	Trend   []Point // the ends of the trend line
	Spread  float64 // what is expected reaches so far on both sides of the trend line
	Bars    int     // uncertainties are drawn where there are no more points than this
	Notes   []string
}

// Period is a span of time with what is expected in it. Center and its limits are drawn where Expected says so; a shaded
// period is distinguished from its neighbours. Zero times reach to the edge.
type Period struct {
	Name                 string
	From, To             time.Time
	Shaded, Expected     bool
	Center, Lower, Upper float64
}

// Drawing lays the chart out for a plane of so many columns and lines of text.
func (c Control) Drawing(columns, lines int) Drawing {
	plain := Chart{Title: c.Title, Unit: c.Unit, Series: []Series{{Name: c.Title, Points: c.Points}}, Limits: c.Limits}
	for _, p := range c.Periods {
		if p.Expected {
			plain.expected = append(plain.expected, p)
		}
	}
	f, ok := plain.frame()
	d := Drawing{Title: withUnit(c.Title, c.Unit), Subtitle: c.Subtitle, Description: plain.describe(), Bottom: 2, Top: 1, Right: 1}
	if !ok {
		d.label(ToneSoft, XY{.5, .5}, 0, 0, 0, "no values to draw")
		d.Notes = c.Notes
		return d
	}
	d.valueAxis(f, lines)
	c.periods(&d, f, columns)
	c.trendBand(&d, f)
	d.timeAxis(f, columns)
	c.changes(&d, f, columns)
	var names []Shape // of limits; they go above the values
	for _, l := range c.Limits {
		if y := f.y(l.Value); y >= 0 && y <= 1 {
			d.line(ToneLimit, XY{0, y}, XY{1, y})
			at, anchor := c.emptier(f, y)
			names = append(names, Shape{Kind: Label, Tone: ToneText, Points: []XY{{at, y}}, Anchor: anchor, DX: -.8 * float64(anchor), DY: .55, Text: l.Name + " " + shortest(l.Value)})
		} else {
			c.Notes = append(c.Notes, l.offScale(c.Unit))
		}
	}
	c.events(&d, f)
	c.values(&d, f)
	d.Shapes = append(d.Shapes, names...)
	d.Notes = append(d.Notes, c.Notes...)
	return d
}

// emptier is the end of a horizontal line that has fewer points near it.
func (c Control) emptier(f frame, y float64) (x float64, anchor int) {
	left, right := 0, 0
	for _, p := range c.Points {
		if dy := f.y(p.Value) - y; dy > -.05 && dy < .15 {
			switch x := f.x(p.At); {
			case x < .35:
				left++
			case x > .65:
				right++
			}
		}
	}
	if left < right {
		return 0, -1
	}
	return 1, 1
}

func withUnit(title, unit string) string {
	if unit == "" {
		return title
	}
	return title + ", " + unit
}

func within(v float64) float64 { return min(max(v, 0), 1) }

func (c Control) periods(d *Drawing, f frame, columns int) {
	for _, p := range c.Periods {
		from, to := 0.0, 1.0
		if !p.From.IsZero() {
			from = within(f.x(p.From))
		}
		if !p.To.IsZero() {
			to = within(f.x(p.To))
		}
		if to <= from {
			continue
		}
		if p.Shaded {
			d.area(ToneShade, XY{from, 0}, XY{to, 1})
		}
		if room := int((to - from) * float64(columns)); p.Name != "" && room > 2 {
			name := []rune(Line(p.Name))
			if len(name) > room-1 {
				name = append(name[:max(room-2, 1)], '…')
			}
			d.label(ToneSoft, XY{from, 1}, -1, .4, 1, string(name))
		}
		if p.Expected {
			d.area(ToneBand, XY{from, within(f.y(p.Lower))}, XY{to, within(f.y(p.Upper))})
			if y := f.y(p.Center); y >= 0 && y <= 1 {
				d.line(ToneControl, XY{from, y}, XY{to, y})
			}
		}
	}
}

func (c Control) changes(d *Drawing, f frame, columns int) {
	last := -1
	for _, change := range c.Changes {
		x := f.x(change.At)
		if x < 0 || x > 1 {
			continue
		}
		if at := int(x * float64(columns)); at != last {
			d.label(ToneSoft, XY{x, 0}, 0, 0, -1, "▴")
			last = at
		}
	}
	if len(c.Changes) > 0 {
		var parts []string
		for _, change := range c.Changes {
			parts = append(parts, change.Name+" "+change.At.Format("2006-01-02"))
		}
		d.Notes = append(d.Notes, "▴ "+strings.Join(parts, ", "))
	}
}

func (c Control) events(d *Drawing, f frame) {
	for n, e := range c.Events {
		x := f.x(e.At)
		text := strconv.Itoa(n+1) + " " + e.At.Format("2006-01-02") + " " + e.Name
		if x >= 0 && x <= 1 {
			d.line(ToneEvent, XY{x, 0}, XY{x, 1})
			d.label(ToneEvent, XY{x, 1}, -1, .4, -.6, strconv.Itoa(n+1))
		} else {
			text += " (outside this chart)"
		}
		d.Notes = append(d.Notes, text)
	}
}

func (c Control) values(d *Drawing, f frame) {
	var run []XY
	type drawn struct {
		i  int
		at XY
	}
	var marks []drawn
	var before time.Time
	outside := false
	usual := usualInterval(c.Points)
	flush := func() {
		if len(run) > 1 {
			d.line(ToneData, run...)
		}
		run = nil
	}
	for i, p := range c.Points {
		if !finite(p.Value) || p.At.IsZero() {
			flush()
			continue
		}
		at := XY{f.x(p.At), within(f.y(p.Value))}
		if p.Bound != 0 {
			flush()
			end := XY{at.X, 0}
			if p.Bound > 0 {
				end.Y = 1
			}
			d.line(ToneBound, at, end)
			marks = append(marks, drawn{i, at})
			continue
		}
		ringed := i < len(c.Rings) && c.Rings[i]
		if len(run) > 0 && (c.broken(before, p.At, usual) || ringed != outside || p.Apart) {
			flush()
		}
		run, before, outside = append(run, at), p.At, ringed
		marks = append(marks, drawn{i, at})
		if p.Low < p.High && finite(p.Low) && finite(p.High) && len(c.Points) <= c.Bars {
			d.line(ToneRange, XY{at.X, within(f.y(p.Low))}, XY{at.X, within(f.y(p.High))})
		}
	}
	flush()
	if len(c.Trend) == 2 && finite(c.Trend[0].Value) && finite(c.Trend[1].Value) {
		d.line(ToneTrend, XY{within(f.x(c.Trend[0].At)), within(f.y(c.Trend[0].Value))}, XY{within(f.x(c.Trend[1].At)), within(f.y(c.Trend[1].Value))})
	}
	used := map[State]bool{}
	rings, below, above := false, false, false
	for _, m := range marks {
		p := c.Points[m.i]
		s := Shape{Kind: Mark, Tone: ToneData, Points: []XY{m.at}, Sign: p.State, Text: p.At.Format("2006-01-02") + " " + shortest(p.Value)}
		if m.i < len(c.Names) && c.Names[m.i] != "" {
			s.Text = c.Names[m.i]
		}
		switch {
		case p.Bound < 0:
			s.Glyph, below = "▽", true
		case p.Bound > 0:
			s.Glyph, above = "△", true
		case m.i < len(c.Rings) && c.Rings[m.i]:
			s.Ring, rings = true, true
		default:
			used[p.State] = true
		}
		d.Shapes = append(d.Shapes, s)
	}
	var legend []string
	for _, state := range []State{Within, Doubtful, Over, Under} {
		if used[state] {
			legend = append(legend, state.Style().Mark+" "+state.Style().Meaning)
		}
	}
	if rings {
		legend = append(legend, "◇ outside expected")
	}
	legend = append(legend, boundLegend(below, above)...)
	if len(legend) > 0 {
		d.Notes = append(d.Notes, strings.Join(legend, "  "))
	}
}

// broken reports whether no line joins two neighbours: the gap is over 2.5 usual intervals, or another period begins between them.
func (c Control) broken(before, at time.Time, usual time.Duration) bool {
	if usual > 0 && at.Sub(before) > usual*5/2 {
		return true
	}
	for _, p := range c.Periods {
		if !p.From.IsZero() && before.Before(p.From) && !at.Before(p.From) {
			return true
		}
	}
	return false
}

// trendBand is what is expected on both sides of a trend.
func (c Control) trendBand(d *Drawing, f frame) {
	if len(c.Trend) != 2 || !(c.Spread > 0) {
		return
	}
	x0, x1 := within(f.x(c.Trend[0].At)), within(f.x(c.Trend[1].At))
	const parts = 60
	for i := range parts {
		t := (float64(i) + .5) / parts
		v := c.Trend[0].Value + t*(c.Trend[1].Value-c.Trend[0].Value)
		from, to := x0+(x1-x0)*float64(i)/parts, x0+(x1-x0)*float64(i+1)/parts
		d.area(ToneBand, XY{from, within(f.y(v - c.Spread))}, XY{to, within(f.y(v + c.Spread))})
	}
}

// Scatter is one value against another, with the line that was fitted.
type Scatter struct {
	Title, Subtitle string
	XLabel, YLabel  string
	Points          []ScatterPoint
	Line            func(x float64) (y, low, high float64) // nil: none; low and high are the confidence limits of the line
	Notes           []string
}

// ScatterPoint is one pair of values.
type ScatterPoint struct {
	X, Y float64
	Name string
}

// Drawing lays the scatter out for a plane of so many columns and lines.
func (s Scatter) Drawing(columns, lines int) Drawing {
	d := Drawing{Title: s.Title, Subtitle: s.Subtitle, Bottom: 2, Right: 1, Notes: s.Notes}
	x0, x1, y0, y1 := math.Inf(1), math.Inf(-1), math.Inf(1), math.Inf(-1)
	n := 0
	for _, p := range s.Points {
		if finite(p.X) && finite(p.Y) {
			x0, x1, y0, y1 = min(x0, p.X), max(x1, p.X), min(y0, p.Y), max(y1, p.Y)
			n++
		}
	}
	d.Description = fmt.Sprintf("%s against %s, %d points", s.YLabel, s.XLabel, n)
	if n == 0 {
		d.label(ToneSoft, XY{.5, .5}, 0, 0, 0, "no values to draw")
		return d
	}
	widen := func(a, b float64) (float64, float64) {
		margin := (b - a) / 12
		if margin == 0 {
			margin = max(math.Abs(a)/10, .5)
		}
		return a - margin, b + margin
	}
	x0, x1 = widen(x0, x1)
	y0, y1 = widen(y0, y1)
	fx, fy := frame{low: x0, top: x1}, frame{low: y0, top: y1}
	d.valueAxis(fy, lines)
	ticks, decimals := fx.valueTicks(max(columns/10, 3))
	for _, v := range ticks {
		d.line(ToneGrid, XY{fx.y(v), 0}, XY{fx.y(v), 1})
		d.label(ToneSoft, XY{fx.y(v), 0}, 0, 0, -1, formatValue(v, decimals))
	}
	d.line(ToneAxis, XY{0, 0}, XY{1, 0})
	d.line(ToneAxis, XY{0, 0}, XY{0, 1})
	d.label(ToneText, XY{1, 0}, 1, 0, -2, s.XLabel)
	d.label(ToneText, XY{0, 1}, -1, .6, -.6, s.YLabel)
	if s.Line != nil {
		var middle, low, high []XY
		for i := range 41 {
			x := x0 + (x1-x0)*float64(i)/40
			y, l, h := s.Line(x)
			at := fx.y(x)
			if fy.y(y) >= 0 && fy.y(y) <= 1 {
				middle = append(middle, XY{at, fy.y(y)})
			}
			if fy.y(l) >= 0 && fy.y(l) <= 1 {
				low = append(low, XY{at, fy.y(l)})
			}
			if fy.y(h) >= 0 && fy.y(h) <= 1 {
				high = append(high, XY{at, fy.y(h)})
			}
		}
		d.line(ToneControl, low...)
		d.line(ToneControl, high...)
		d.line(ToneTrend, middle...)
	}
	for _, p := range s.Points {
		if finite(p.X) && finite(p.Y) {
			d.Shapes = append(d.Shapes, Shape{Kind: Mark, Tone: ToneData, Points: []XY{{fx.y(p.X), fy.y(p.Y)}}, Text: p.Name, Bold: true})
		}
	}
	return d
}
