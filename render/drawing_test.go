package render

import (
	"encoding/xml"
	"io"
	"math"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"
)

// TestPiperCorners puts the four kinds of water where Piper (1944, figure 3 and the text to it) has them in the diamond:
// carbonate hardness left, noncarbonate hardness above, noncarbonate alkali right, carbonate alkali below.
func TestPiperCorners(t *testing.T) {
	middle, low := 1+piperGap/2, piperGap*piperRise
	for _, c := range []struct {
		name  string
		p     PiperPoint
		where XY
	}{
		{"calcium bicarbonate", PiperPoint{Calcium: 1, Bicarbonate: 1}, XY{middle - .5, low + piperRise}},
		{"calcium chloride", PiperPoint{Calcium: 1, Chloride: 1}, XY{middle, low + 2*piperRise}},
		{"magnesium sulfate", PiperPoint{Magnesium: 1, Sulfate: 1}, XY{middle, low + 2*piperRise}},
		{"sodium chloride", PiperPoint{Sodium: 1, Chloride: 1}, XY{middle + .5, low + piperRise}},
		{"sodium bicarbonate", PiperPoint{Sodium: 1, Bicarbonate: 1}, XY{middle, low}},
	} {
		_, _, got := piperPlaces(c.p)
		if math.Hypot(got.X-c.where.X, got.Y-c.where.Y) > 1e-12 {
			t.Errorf("%s lies at %v, not at %v", c.name, got, c.where)
		}
	}
}

// TestPiperInside: any water lies inside its triangles and inside the diamond.
func TestPiperInside(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		share := func(name string) (a, b, c float64) {
			x, y := rapid.Float64Range(0, 1).Draw(t, name), rapid.Float64Range(0, 1).Draw(t, name)
			if x > y {
				x, y = y, x
			}
			return x, y - x, 1 - y
		}
		var p PiperPoint
		p.Calcium, p.Magnesium, p.Sodium = share("cations")
		p.Bicarbonate, p.Sulfate, p.Chloride = share("anions")
		cations, anions, d := piperPlaces(p)
		inTriangle := func(at XY, x0 float64) bool {
			return at.Y >= -1e-9 && at.Y <= 2*piperRise*(at.X-x0)+1e-9 && at.Y <= 2*piperRise*(x0+1-at.X)+1e-9
		}
		dx, dy := math.Abs(d.X-(1+piperGap/2)), math.Abs(d.Y-(piperGap+1)*piperRise)
		if !inTriangle(cations, 0) || !inTriangle(anions, 1+piperGap) || dx/.5+dy/piperRise > 1+1e-9 {
			t.Fatalf("%+v lies at %v, %v, %v", p, cations, anions, d)
		}
	})
}

func someDrawings() map[string]Drawing {
	at := time.Date(2026, 1, 1, 0, 0, 0, 0, time.UTC)
	evil := "<script>x</script> \x1b[31m 水"
	control := Control{Title: evil, Unit: "mg/L", Bars: 99, Limits: []LimitLine{{evil, 12}, {"far", 1e6}},
		Events: []Event{{at.AddDate(0, 1, 0), evil}, {at.AddDate(9, 0, 0), "later"}}, Changes: []Event{{at, evil}},
		Periods: []Period{{Name: evil, From: at, To: at.AddDate(0, 2, 0), Shaded: true, Expected: true, Center: 10, Lower: 9, Upper: 11}},
		Trend:   []Point{{At: at, Value: 9}, {At: at.AddDate(0, 3, 0), Value: 12}}, Rings: []bool{true}, Names: []string{evil}}
	for i := range 12 {
		control.Points = append(control.Points, Point{At: at.AddDate(0, 0, 9*i), Value: 9 + float64(i%4), Low: 8, High: 13, State: State(i % 4)})
	}
	control.Points[5].Value = math.NaN()
	scatter := Scatter{Title: evil, XLabel: evil, YLabel: "pH", Points: []ScatterPoint{{1, 2, evil}, {3, 4, ""}, {math.Inf(1), 1, ""}},
		Line: func(x float64) (float64, float64, float64) { return x + 1, x, x + 2 }}
	parts := []IonPart{{evil, 3, evil}, {"Mg", 1, ""}, {"none", 0, ""}}
	return map[string]Drawing{
		"control": control.Drawing(70, 16), "no values": Control{Title: "x"}.Drawing(70, 16), "scatter": scatter.Drawing(70, 16), "no pairs": Scatter{}.Drawing(70, 16),
		"ions": IonBars(evil, evil, parts, parts[:1], 60, []string{evil}), "no ions": IonBars("", "", nil, nil, 60, nil),
		"piper": Piper("p", "", []PiperPoint{{evil, .5, .3, .2, .5, .3, .2}, {"b", 1, 0, 0, 1, 0, 0}}, []string{evil}), "no waters": Piper("p", "", nil, nil),
	}
}

// TestDrawingSVG: every picture is well-formed XML, holds no element but those of pictures, refers to nothing outside,
// and is the same each time.
func TestDrawingSVG(t *testing.T) {
	for name, d := range someDrawings() {
		svg := DrawingSVG(d)
		if again := DrawingSVG(someDrawings()[name]); again != svg {
			t.Errorf("%s: not the same twice", name)
		}
		for _, bad := range []string{"\x1b", "<script", "http://www.w3.org/1999", "href", "url(", "NaN", "Inf"} {
			if strings.Contains(svg, bad) {
				t.Errorf("%s holds %q", name, bad)
			}
		}
		dec := xml.NewDecoder(strings.NewReader(svg))
		dec.Strict = true
		for {
			tok, err := dec.Token()
			if err == io.EOF {
				break
			}
			if err != nil {
				t.Fatalf("%s is not well-formed: %v", name, err)
			}
			if e, ok := tok.(xml.StartElement); ok && !strings.Contains(" svg title desc style rect text line polyline circle g path ", " "+e.Name.Local+" ") {
				t.Errorf("%s holds <%s>", name, e.Name.Local)
			}
		}
	}
}

// TestDrawingFits: no line is wider than the terminal, nothing but printable text comes out.
func TestDrawingFits(t *testing.T) {
	for name, d := range someDrawings() {
		for _, width := range []int{40, 80, 200} {
			for _, colour := range []bool{false, true} {
				o := Output{Width: width, Colour: colour}
				text := o.Drawing(d, 0)
				for line := range strings.SplitSeq(text, "\n") {
					n := 0
					for _, g := range glyphs(line) {
						n += g.columns
					}
					if n > width {
						t.Errorf("%s: %d columns of %d: %q", name, n, width, line)
					}
				}
				if strings.Contains(text, "\x1b") != colour && colour == false {
					t.Errorf("%s: escape sequences without colour", name)
				}
				if Gate(text, colour) != text {
					t.Errorf("%s at %d: the gate had to change it", name, width)
				}
			}
		}
	}
}
