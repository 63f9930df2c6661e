package render

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"
)

// Control is a control chart: one value over time, what is expected of it in each period, and what happened meanwhile.
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
	Bars    int     // uncertainties are drawn where there are no more points than this
	Notes   []string
}

// Period is a span of time with what is expected in it. Center and its limits are drawn where Expected says so; a shaded
// period is told apart from its neighbours. Zero times reach to the edge.
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
			plain.Bands = append(plain.Bands, Band{Low: p.Lower, High: p.Upper})
		}
	}
	f, ok := plain.frame()
	d := Drawing{Title: withUnit(c.Title, c.Unit), Subtitle: c.Subtitle, Description: plain.describe(), Bottom: 2, Top: 1, Right: 1}
	if !ok {
		d.label(ToneSoft, XY{.5, .5}, 0, 0, 0, "no values to draw")
		d.Notes = c.Notes
		return d
	}
	ticks, decimals := f.valueTicks(max(lines/3, 3))
	for _, v := range ticks {
		text := formatValue(v, decimals)
		d.Left = max(d.Left, Width(text)+1)
		d.line(ToneGrid, XY{0, f.y(v)}, XY{1, f.y(v)})
		d.label(ToneSoft, XY{0, f.y(v)}, 1, -1.6, 0, text)
	}
	c.periods(&d, f, columns)
	d.line(ToneAxis, XY{0, 0}, XY{1, 0})
	d.line(ToneAxis, XY{0, 0}, XY{0, 1})
	c.timeAxis(&d, f, columns)
	var names []Shape // of limits; they go above the values
	for _, l := range c.Limits {
		if y := f.y(l.Value); y >= 0 && y <= 1 {
			d.line(ToneLimit, XY{0, y}, XY{1, y})
			at, anchor := c.emptier(f, y)
			names = append(names, Shape{Kind: Label, Tone: ToneText, Points: []XY{{at, y}}, Anchor: anchor, DX: -.8 * float64(anchor), DY: .55, Text: l.Name + " " + shortest(l.Value)})
		} else {
			where := "above"
			if y < 0 {
				where = "below"
			}
			c.Notes = append(c.Notes, fmt.Sprintf("limit %s %s %s lies %s this chart", l.Name, shortest(l.Value), c.Unit, where))
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
			for i, v := range []float64{p.Center, p.Lower, p.Upper} {
				tone := ToneControl
				if i == 0 {
					tone = ToneGrid
				}
				if y := f.y(v); y >= 0 && y <= 1 {
					d.line(tone, XY{from, y}, XY{to, y})
				}
			}
		}
	}
}

func (c Control) timeAxis(d *Drawing, f frame, columns int) {
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
		run = append(run, at)
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
	rings := false
	for _, m := range marks {
		p := c.Points[m.i]
		s := Shape{Kind: Mark, Tone: ToneData, Points: []XY{m.at}, Sign: p.State, Text: p.At.Format("2006-01-02") + " " + shortest(p.Value)}
		if m.i < len(c.Names) && c.Names[m.i] != "" {
			s.Text = c.Names[m.i]
		}
		if m.i < len(c.Rings) && c.Rings[m.i] {
			s.Ring, rings = true, true
		}
		used[p.State] = used[p.State] || !s.Ring
		d.Shapes = append(d.Shapes, s)
	}
	if rings {
		d.Notes = append(d.Notes, "o outside what is expected of it (ringed in the picture)")
	}
	for i, says := range []string{"> surely over, or beyond the range", "< surely under, or below the range", "? too near a limit to tell"} {
		if used[Over+State(i)] {
			d.Notes = append(d.Notes, says)
		}
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
	ticks, decimals := fy.valueTicks(max(lines/3, 3))
	for _, v := range ticks {
		text := formatValue(v, decimals)
		d.Left = max(d.Left, Width(text)+1)
		d.line(ToneGrid, XY{0, fy.y(v)}, XY{1, fy.y(v)})
		d.label(ToneSoft, XY{0, fy.y(v)}, 1, -1.6, 0, text)
	}
	ticks, decimals = fx.valueTicks(max(columns/10, 3))
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
