package render

import (
	"math"
	"sort"
	"strconv"
	"strings"
)

// Spark draws values as a row of eight heights, the least at the bottom; a value that is not finite is a blank.
func Spark(values []float64) string {
	const bars = "▁▂▃▄▅▆▇█"
	low, top := math.Inf(1), math.Inf(-1)
	for _, v := range values {
		if finite(v) {
			low, top = min(low, v), max(top, v)
		}
	}
	var b strings.Builder
	for _, v := range values {
		switch {
		case !finite(v):
			b.WriteByte(' ')
		case top == low:
			b.WriteRune([]rune(bars)[3])
		default:
			b.WriteRune([]rune(bars)[int(math.Round((v-low)/(top-low)*7))])
		}
	}
	return b.String()
}

// canvas is a field of braille cells, two dots wide and four high (Unicode Standard, block U+2800), with characters laid over.
type canvas struct {
	width, height int
	dots          []rune
	over          []rune
	state         []State
}

func newCanvas(width, height int) *canvas {
	n := width * height
	return &canvas{width, height, make([]rune, n), make([]rune, n), make([]State, n)}
}

// dot sets one dot; x counts from the left, y from above. Outside nothing happens.
func (c *canvas) dot(x, y int) {
	if x < 0 || y < 0 || x >= 2*c.width || y >= 4*c.height {
		return
	}
	bits := [4][2]rune{{0x01, 0x08}, {0x02, 0x10}, {0x04, 0x20}, {0x40, 0x80}}
	c.dots[y/4*c.width+x/2] |= bits[y%4][x%2]
}

// put lays a character over a cell. With under it gives way to what is there already.
func (c *canvas) put(x, y int, r rune, state State, under bool) {
	if x < 0 || y < 0 || x >= c.width || y >= c.height {
		return
	}
	if i := y*c.width + x; !under || c.over[i] == 0 {
		c.over[i], c.state[i] = r, state
	}
}

// line sets the dots between two points; the caller keeps both inside the canvas.
func (c *canvas) line(x0, y0, x1, y1 float64) {
	steps := int(max(math.Abs(x1-x0), math.Abs(y1-y0))) + 1
	for i := 0; i <= steps; i++ {
		t := float64(i) / float64(steps)
		c.dot(int(math.Round(x0+t*(x1-x0))), int(math.Round(y0+t*(y1-y0))))
	}
}

// Chart draws a chart in height lines of braille cells (at least 4, 0 means 12) as wide as the output, with a scale, limit
// lines, bands, numbered events, and a legend. States stand as marks at their points.
func (o Output) Chart(c Chart, height int) string {
	f, ok := c.frame()
	var b strings.Builder
	title := Line(c.Title)
	if unit := Line(c.Unit); unit != "" {
		title += " (" + unit + ")"
	}
	for line := range strings.SplitSeq(Wrap(title, o.width()), "\n") {
		b.WriteString(o.Paint(Heading, line) + "\n")
	}
	if !ok {
		return b.String() + "no values to draw\n"
	}
	if height == 0 {
		height = 12
	}
	height = min(max(height, 4), 60)
	ticks, decimals := f.valueTicks(height / 3)
	margin := 0
	labels := make([]string, height)
	for _, v := range ticks {
		row := f.row(v, height)
		labels[row] = formatValue(v, decimals)
		margin = max(margin, Width(labels[row]))
	}
	margin = min(margin, o.width()/3)
	plot := newCanvas(o.width()-margin-3, height)
	o.drawPlot(plot, c, f)
	for row := range height {
		axis := " │"
		if labels[row] != "" {
			axis = " ┤"
		}
		b.WriteString(o.Paint(Dim, pad(labels[row], margin, true)+axis) + o.canvasRow(plot, row) + "\n")
	}
	o.drawTimeAxis(&b, f, plot.width, margin)
	b.WriteString(o.legend(c, f))
	return b.String()
}

// row is the line of the plot, from above, in which a value lies.
func (f frame) row(v float64, height int) int {
	return min(max(int((1-f.y(v))*float64(height)), 0), height-1)
}

func (o Output) drawPlot(plot *canvas, c Chart, f frame) {
	column := func(x float64) int { return min(max(int(x*float64(plot.width)), 0), plot.width-1) }
	for _, band := range c.Bands {
		left, right, top, bottom := 0, plot.width-1, 0, plot.height-1
		if !band.From.IsZero() {
			left = column(f.x(band.From))
		}
		if !band.To.IsZero() {
			right = column(f.x(band.To))
		}
		if band.Low != band.High {
			if band.High < f.low || band.Low > f.top {
				continue
			}
			top, bottom = f.row(band.High, plot.height), f.row(band.Low, plot.height)
		}
		for y := top; y <= bottom; y++ {
			for x := left; x <= right; x++ {
				plot.put(x, y, '░', Dim, true)
			}
		}
	}
	for _, limit := range c.Limits {
		if y := f.y(limit.Value); y >= 0 && y <= 1 {
			for x := range plot.width {
				plot.put(x, f.row(limit.Value, plot.height), '╌', Over, false)
			}
		}
	}
	for _, e := range c.Events {
		if x := f.x(e.At); x >= 0 && x <= 1 {
			for y := range plot.height {
				plot.put(column(x), y, '┊', Info, false)
			}
		}
	}
	for n, event := range c.Events {
		if x := f.x(event.At); x >= 0 && x <= 1 {
			for i, r := range strconv.Itoa(n + 1) {
				plot.put(column(x)+i, 0, r, Info, false)
			}
		}
	}
	for n, s := range c.Series {
		var before *Point
		points := sorted(s.Points)
		if len(c.Series) > 1 {
			defer plot.name(n, points, f)
		}
		for i := range points {
			p := &points[i]
			if !finite(p.Value) || p.At.IsZero() {
				before = nil
				continue
			}
			x, y := dotAt(plot, f, *p)
			if before != nil {
				x0, y0 := dotAt(plot, f, *before)
				plot.line(x0, y0, x, y)
			}
			plot.dot(int(math.Round(x)), int(math.Round(y)))
			before = p
		}
		for _, p := range points {
			if mark := p.State.Style().Mark; mark != "" && finite(p.Value) && !p.At.IsZero() {
				plot.put(column(f.x(p.At)), f.row(p.Value, plot.height), []rune(mark)[0], p.State, false)
			}
		}
	}
}

// name writes the letter of a series over its last point.
func (c *canvas) name(n int, points []Point, f frame) {
	for i := len(points) - 1; i >= 0; i-- {
		if p := points[i]; finite(p.Value) && !p.At.IsZero() {
			x := min(max(int(f.x(p.At)*float64(c.width)), 0), c.width-1)
			c.put(x, f.row(p.Value, c.height), seriesLetter(n), Bold, false)
			return
		}
	}
}

func seriesLetter(n int) rune { return 'a' + rune(n%26) }

func dotAt(plot *canvas, f frame, p Point) (x, y float64) {
	return f.x(p.At) * float64(2*plot.width-1), (1 - f.y(p.Value)) * float64(4*plot.height-1)
}

func sorted(points []Point) []Point {
	out := append([]Point(nil), points...)
	sort.SliceStable(out, func(i, j int) bool { return out[i].At.Before(out[j].At) })
	return out
}

// canvasRow writes a row; marks win over dots, dots over bands, limits and events.
func (o Output) canvasRow(plot *canvas, row int) string {
	var b strings.Builder
	for x := range plot.width {
		i := row*plot.width + x
		mark := plot.over[i] != 0 && plot.state[i] != Dim && !strings.ContainsRune("╌┊", plot.over[i])
		switch {
		case plot.dots[i] != 0 && !mark:
			b.WriteRune(0x2800 + plot.dots[i])
		case plot.over[i] != 0:
			b.WriteString(o.Paint(plot.state[i], string(plot.over[i])))
		default:
			b.WriteByte(' ')
		}
	}
	return join(glyphs(b.String()))
}

func (o Output) drawTimeAxis(b *strings.Builder, f frame, width, margin int) {
	axis, labels := []rune(strings.Repeat("─", width)), []rune(strings.Repeat(" ", width))
	free := 0
	for _, tick := range f.timeTicks(max(width/12, 2)) {
		x := min(max(int(f.x(tick.at)*float64(width)), 0), width-1)
		axis[x] = '┴'
		start := min(max(x-len(tick.label)/2, 0), width-len(tick.label))
		if start < free {
			continue
		}
		copy(labels[start:], []rune(tick.label))
		free = start + len(tick.label) + 1
	}
	b.WriteString(o.Paint(Dim, strings.Repeat(" ", margin)+" └"+string(axis)) + "\n")
	b.WriteString(o.Paint(Dim, strings.TrimRight(strings.Repeat(" ", margin+2)+string(labels), " ")) + "\n")
}

// legend names what is drawn, and what lies beyond the frame.
func (o Output) legend(c Chart, f frame) string {
	var lines []string
	if len(c.Series) > 1 {
		for n, s := range c.Series {
			lines = append(lines, string(seriesLetter(n))+" "+Line(s.Name))
		}
	}
	for _, l := range c.Limits {
		text := "╌ " + Line(l.Name) + " " + shortest(l.Value)
		if c.Unit != "" {
			text += " " + Line(c.Unit)
		}
		if l.Value > f.top {
			text += " (above this chart)"
		} else if l.Value < f.low {
			text += " (below this chart)"
		}
		lines = append(lines, text)
	}
	for _, band := range c.Bands {
		text := "░ " + Line(band.Name)
		if band.Low != band.High {
			text += " " + shortest(band.Low) + " to " + shortest(band.High)
		}
		lines = append(lines, text)
	}
	for n, event := range c.Events {
		text := "┊" + strconv.Itoa(n+1) + " " + event.At.Format("2006-01-02") + " " + Line(event.Name)
		if x := f.x(event.At); x < 0 || x > 1 {
			text += " (outside this chart)"
		}
		lines = append(lines, text)
	}
	used := map[State]bool{}
	for _, s := range c.Series {
		for _, p := range s.Points {
			used[p.State] = true
		}
	}
	for s := Plain; s <= Unjudged; s++ {
		if style := s.Style(); used[s] && style.Mark != "" {
			lines = append(lines, style.Mark+" "+style.Meaning)
		}
	}
	var b strings.Builder
	for _, line := range lines {
		for folded := range strings.SplitSeq(Wrap(line, o.width()), "\n") {
			b.WriteString(o.Paint(Dim, folded) + "\n")
		}
	}
	return b.String()
}
