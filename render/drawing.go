package render

import (
	"math"
	"strings"
)

// Drawing is a picture made of few shapes, for the terminal (Output.Drawing) and as SVG (DrawingSVG). The plane of the
// shapes reaches from 0 to 1 both ways, Y upwards; what is drawn outside it is in the margins.
type Drawing struct {
	Title, Subtitle string
	Description     string  // the picture in words, for those who hear it
	Untitled        bool    // an SVG says its title, and does not show it: a heading does
	Aspect          float64 // width of the plane over its height; 0 lets it fill the room there is
	Width, Height   float64 // of the SVG and of its plane, in units of which a letter is twelve high; 0 for the usual ones
	// Left, Right, Top and Bottom are the margins around the plane, in characters and lines.
	Left, Right, Top, Bottom int
	Shapes                   []Shape
	Notes                    []string // below the picture
}

// XY is a place in the plane.
type XY struct{ X, Y float64 }

// ShapeKind says what a shape is.
type ShapeKind uint8

// The kinds of shapes.
const (
	Stroke ShapeKind = iota // through all points
	Area                    // the rectangle between two points
	Mark                    // a sign at each point
	Label                   // Text at the first point
)

// Tone says what a shape stands for, and with that how it looks. Tones are distinguished by form as well as by colour.
type Tone uint8

// The tones.
const (
	ToneAxis Tone = iota
	ToneGrid
	ToneData  // the values themselves
	ToneRange // their uncertainty
	ToneTrend
	ToneLimit
	ToneControl // what is expected
	ToneEvent
	ToneShade // a period
	ToneText
	ToneSoft  // text that matters less
	ToneBand  // what is expected
	ToneBound // from a bound to where the true value may be
	ToneFirst // the parts of a bar: ToneFirst, ToneFirst+1 … ToneFirst+5
)

// Shape is one part of a drawing. DX and DY move a label by characters and lines from its point. Anchor is where the point
// is in the label: -1 at its start, 0 in its middle, 1 at its end.
type Shape struct {
	Kind   ShapeKind
	Tone   Tone
	Points []XY
	Text   string // of a label; of a mark, what it says when pointed at
	Sign   State  // of a mark: over, under, doubtful
	Ring   bool   // of a mark: set apart from the others
	Glyph  string // of a mark: the character that it is drawn with
	Bold   bool   // of a mark: it stands alone, with no line through it
	Key    Tone   // of a label that names a series: the tone of its points
	Anchor int
	DX, DY float64
}

func (d *Drawing) line(tone Tone, points ...XY) {
	d.Shapes = append(d.Shapes, Shape{Kind: Stroke, Tone: tone, Points: points})
}

func (d *Drawing) area(tone Tone, a, b XY) {
	d.Shapes = append(d.Shapes, Shape{Kind: Area, Tone: tone, Points: []XY{a, b}})
}

func (d *Drawing) label(tone Tone, at XY, anchor int, dx, dy float64, text string) {
	if text != "" {
		d.Shapes = append(d.Shapes, Shape{Kind: Label, Tone: tone, Points: []XY{at}, Anchor: anchor, DX: dx, DY: dy, Text: text})
	}
}

// dashed reports which tones are broken lines: dots drawn, dots left out.
func (t Tone) dashed() (on, off int) {
	switch t {
	case ToneGrid:
		return 1, 11
	case ToneTrend:
		return 5, 2
	case ToneLimit:
		return 4, 3
	case ToneControl:
		return 1, 2
	case ToneEvent:
		return 2, 2
	case ToneBound:
		return 1, 1
	}
	return 1, 0
}

func (t Tone) state() State {
	switch t {
	case ToneLimit:
		return Over
	case ToneEvent:
		return Info
	case ToneData, ToneText:
		return Plain
	case ToneTrend:
		return Bold
	}
	if t >= ToneFirst {
		return Plain
	}
	return Dim
}

// fills are the characters of areas, in the order of the parts.
var fills = [6]rune{'█', '▒', '▓', '░', '▚', '▞'}

func (t Tone) fill() rune {
	if t >= ToneFirst {
		return fills[int(t-ToneFirst)%len(fills)]
	}
	return '░'
}

// page is a terminal picture in the making: areas below, dots above them, text on top.
type page struct {
	*canvas
	fill, text       []rune
	toneOf, textTone []Tone
	part             []bool // the area is part of a bar
}

// Drawing draws for the terminal. height is the number of lines of the plane; 0 follows from Aspect, or is 16.
func (o Output) Drawing(d Drawing, height int) string {
	var b strings.Builder
	for line := range strings.SplitSeq(Wrap(o.spell(Line(d.Title)), o.width()), "\n") {
		b.WriteString(o.Paint(Heading, line) + "\n")
	}
	if d.Subtitle != "" {
		for line := range strings.SplitSeq(Wrap(o.spell(Line(d.Subtitle)), o.width()), "\n") {
			b.WriteString(o.Paint(Dim, line) + "\n")
		}
	}
	columns := max(o.width()-d.Left-d.Right, 10)
	if d.Aspect > 0 {
		if height == 0 {
			height = int(math.Round(float64(columns) / d.Aspect / 2)) // a cell is twice as high as it is wide
		}
		if most := int(math.Round(float64(2*height) * d.Aspect)); most < columns {
			columns = max(most, 10)
		}
	} else if height == 0 {
		height = 16
	}
	height = min(max(height, 1), 80)
	w, h := columns+d.Left+d.Right, height+d.Top+d.Bottom
	p := &page{canvas: newCanvas(w, h), fill: make([]rune, w*h), text: make([]rune, w*h), toneOf: make([]Tone, w*h), textTone: make([]Tone, w*h), part: make([]bool, w*h)}
	dot := func(at XY) (x, y float64) {
		return float64(2*d.Left) + at.X*float64(2*columns-1), float64(4*d.Top) + (1-at.Y)*float64(4*height-1)
	}
	cell := func(at XY) (x, y int) {
		return d.Left + min(int(at.X*float64(columns)), columns-1), d.Top + min(int((1-at.Y)*float64(height)), height-1)
	}
	for _, s := range d.Shapes {
		switch s.Kind {
		case Area:
			p.drawArea(s, cell)
		case Stroke:
			for i := 1; i < len(s.Points); i++ {
				p.drawLine(s, i, dot)
			}
		case Mark:
			p.drawMark(o, s, cell, dot)
		case Label:
			p.drawLabel(s, cell)
		}
	}
	for y := range h {
		b.WriteString(o.pageRow(p, y) + "\n")
	}
	for _, note := range d.Notes {
		for line := range strings.SplitSeq(foldWords(o.spell(Line(note)), o.width()), "\n") {
			b.WriteString(o.Paint(Dim, line) + "\n")
		}
	}
	return b.String()
}

func (p *page) drawArea(s Shape, cell func(XY) (int, int)) {
	if len(s.Points) < 2 || s.Tone == ToneShade { // a shade and a band cannot be distinguished on a terminal; periods have names
		return
	}
	a, b := s.Points[0], s.Points[1]
	x0, y0 := cell(XY{min(a.X, b.X), max(a.Y, b.Y)})
	x1, y1 := cell(XY{max(a.X, b.X), min(a.Y, b.Y)})
	if s.Tone >= ToneFirst && math.Abs(b.X-a.X) > 0 {
		x1-- // neighbours share an edge, not a column
	}
	for y := max(y0, 0); y <= min(y1, p.height-1); y++ {
		for x := max(x0, 0); x <= min(x1, p.width-1); x++ {
			p.fill[y*p.width+x], p.part[y*p.width+x] = s.Tone.fill(), s.Tone >= ToneFirst
		}
	}
}

func (p *page) drawLine(s Shape, i int, dot func(XY) (float64, float64)) {
	x0, y0 := dot(s.Points[i-1])
	x1, y1 := dot(s.Points[i])
	if !finite(x0) || !finite(y0) || !finite(x1) || !finite(y1) {
		return
	}
	on, off := s.Tone.dashed()
	steps := min(int(max(math.Abs(x1-x0), math.Abs(y1-y0)))+1, 4000)
	for k := 0; k <= steps; k++ {
		if k%(on+off) >= on {
			continue
		}
		t := float64(k) / float64(steps)
		x, y := int(math.Round(x0+t*(x1-x0))), int(math.Round(y0+t*(y1-y0)))
		p.dot(x, y)
		if x >= 0 && y >= 0 && x/2 < p.width && y/4 < p.height {
			at := y/4*p.width + x/2
			p.toneOf[at] = max(min(s.Tone, ToneLimit), p.toneOf[at]) // data over grid
			if s.Tone == ToneEvent || s.Tone == ToneLimit {
				p.toneOf[at] = s.Tone
			}
		}
	}
}

func (p *page) drawMark(o Output, s Shape, cell func(XY) (int, int), dot func(XY) (float64, float64)) {
	for _, at := range s.Points {
		if !finite(at.X) || !finite(at.Y) {
			continue
		}
		sign := ""
		if s.Sign != Plain {
			sign = s.Sign.Style().Mark
		}
		switch {
		case s.Glyph != "":
			sign = s.Glyph
		case s.Ring:
			sign = "◇"
		case sign == "" && s.Tone >= ToneFirst:
			sign = string(seriesLetter(int(s.Tone - ToneFirst)))
		case sign == "" && s.Bold:
			sign = "•"
		case sign == "":
			x, y := dot(at)
			for _, n := range [][2]int{{0, 0}, {1, 0}, {0, 1}, {1, 1}} {
				p.dot(int(math.Round(x))+n[0]-1, int(math.Round(y))+n[1]-1)
			}
			continue
		}
		x, y := cell(at)
		p.setText(x, y, []rune(sign)[0], s.Tone)
	}
}

func (p *page) drawLabel(s Shape, cell func(XY) (int, int)) {
	text := glyphs(Line(s.Text))
	n := 0
	for _, g := range text {
		n += g.columns
	}
	x, y := cell(s.Points[0])
	x += int(math.Round(s.DX))
	y -= int(math.Round(s.DY))
	switch s.Anchor {
	case 0:
		x -= n / 2
	case 1:
		x -= n - 1
	}
	x = max(min(x, p.width-n), 0) // a label at the edge moves in rather than being cut
	for _, g := range text {
		r := []rune(g.text)[0]
		if g.columns != 1 {
			r = '·' // two columns or none: the grid holds one for each
		}
		p.setText(x, y, r, s.Tone)
		x++
	}
}

func (p *page) setText(x, y int, r rune, tone Tone) {
	if x >= 0 && y >= 0 && x < p.width && y < p.height {
		p.text[y*p.width+x], p.textTone[y*p.width+x] = r, tone
	}
}

// asciiLine are the characters of lines where there is no braille; those of the values are left to their marks.
var asciiLine = [ToneFirst + 6]string{ToneAxis: "-", ToneGrid: " ", ToneData: " ", ToneRange: " ", ToneTrend: ".", ToneLimit: "-", ToneControl: ".", ToneEvent: ":", ToneShade: " ", ToneText: " ", ToneSoft: " ", ToneBand: ".", ToneBound: ":",
	ToneFirst: ".", ToneFirst + 1: ".", ToneFirst + 2: ".", ToneFirst + 3: ".", ToneFirst + 4: ".", ToneFirst + 5: "."}

// first is the first character of a text.
func first(s string) string {
	for _, r := range s {
		return string(r)
	}
	return " "
}

func (o Output) pageRow(p *page, y int) string {
	var b strings.Builder
	for x := range p.width {
		i := y*p.width + x
		switch {
		case p.text[i] != 0:
			b.WriteString(o.Paint(p.textTone[i].state(), first(o.spell(string(p.text[i])))))
		case p.dots[i] != 0 && !(p.part[i] && p.toneOf[i] == ToneGrid):
			if o.ASCII {
				b.WriteString(asciiLine[p.toneOf[i]])
			} else {
				b.WriteString(o.Paint(p.toneOf[i].state(), string(0x2800+p.dots[i])))
			}
		case p.fill[i] == '░' && !p.part[i]:
			b.WriteString(o.Paint(Dim, o.spell("░")))
		case p.fill[i] != 0:
			b.WriteString(o.spell(string(p.fill[i])))
		default:
			b.WriteByte(' ')
		}
	}
	return join(glyphs(b.String()))
}
