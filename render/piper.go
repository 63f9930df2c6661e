package render

import (
	"fmt"
	"math"
)

// PiperPoint is one water in a Piper diagram: shares of its cations and of its anions, each adding up to 1 in meq/L. Sodium
// stands for sodium and potassium, Bicarbonate for bicarbonate and carbonate.
type PiperPoint struct {
	Name                           string
	Calcium, Magnesium, Sodium     float64
	Bicarbonate, Sulfate, Chloride float64
}

// The diagram's own coordinates: both triangles have sides of 1 and stand piperGap apart; the diamond lies above.
const piperGap = 0.22

var piperRise = math.Sqrt(3) / 2

// piperPlaces are the three places of a water: A. M. Piper, Transactions, American Geophysical Union 25 (1944) 914–928, figure 2:
// cations left (calcium left, sodium right, magnesium above), anions right (bicarbonate left, chloride right, sulfate above), and the
// place in the diamond where lines through both, along the outer sides of their triangles, meet.
func piperPlaces(p PiperPoint) (cations, anions, diamond XY) {
	cations = XY{p.Sodium + p.Magnesium/2, p.Magnesium * piperRise}
	anions = XY{1 + piperGap + p.Chloride + p.Sulfate/2, p.Sulfate * piperRise}
	slope := 2 * piperRise
	x := (cations.X+anions.X)/2 + (anions.Y-cations.Y)/(2*slope)
	return cations, anions, XY{x, cations.Y + slope*(x-cations.X)}
}

// Piper lays out a Piper diagram.
func Piper(title, subtitle string, points []PiperPoint, notes []string) Drawing {
	width, height := 2+piperGap, (2+piperGap)*piperRise
	d := Drawing{Title: title, Subtitle: subtitle, Aspect: width / height, Left: 3, Right: 3, Top: 1, Bottom: 2, Notes: notes}
	to := func(p XY) XY { return XY{p.X / width, p.Y / height} }
	line := func(tone Tone, points ...XY) {
		for i := range points {
			points[i] = to(points[i])
		}
		d.line(tone, points...)
	}
	mid, low := 1+piperGap/2, piperGap*piperRise
	corner := XY{mid, low}
	for i := 1; i < 5; i++ {
		t := float64(i) / 5
		for _, x0 := range []float64{0, 1 + piperGap} {
			line(ToneGrid, XY{x0 + t/2, t * piperRise}, XY{x0 + 1 - t/2, t * piperRise})
			line(ToneGrid, XY{x0 + t, 0}, XY{x0 + t + (1-t)/2, (1 - t) * piperRise})
			line(ToneGrid, XY{x0 + t, 0}, XY{x0 + t/2, t * piperRise})
		}
		line(ToneGrid, XY{corner.X - t/2, corner.Y + t*piperRise}, XY{corner.X - t/2 + .5, corner.Y + (1+t)*piperRise})
		line(ToneGrid, XY{corner.X + t/2, corner.Y + t*piperRise}, XY{corner.X + t/2 - .5, corner.Y + (1+t)*piperRise})
	}
	for _, x0 := range []float64{0, 1 + piperGap} {
		line(ToneAxis, XY{x0, 0}, XY{x0 + 1, 0}, XY{x0 + .5, piperRise}, XY{x0, 0})
	}
	line(ToneAxis, corner, XY{mid - .5, low + piperRise}, XY{mid, low + 2*piperRise}, XY{mid + .5, low + piperRise}, corner)
	label := func(x, y float64, anchor int, dx, dy float64, text string) {
		d.label(ToneText, to(XY{x, y}), anchor, dx, dy, text)
	}
	label(0, 0, -1, -1, -1, "Ca")
	label(1, 0, 1, 1, -1, "Na + K")
	label(.5, piperRise, 0, 0, 1, "Mg")
	label(1+piperGap, 0, -1, -1, -1, "HCO3 + CO3")
	label(2+piperGap, 0, 1, 2, -1, "Cl")
	label(1.5+piperGap, piperRise, 0, 0, 1, "SO4")
	label(mid-.27, low+1.55*piperRise, 1, -1, 0, "SO4 + Cl")
	label(mid+.27, low+1.55*piperRise, -1, 1, 0, "Ca + Mg")
	var names []string // in the order of their first water
	number := map[string]int{}
	last := map[string]XY{}
	for _, p := range points {
		n, known := number[p.Name]
		if !known {
			n = len(names)
			number[p.Name], names = n, append(names, p.Name)
		}
		a, b, c := piperPlaces(p)
		for _, at := range []XY{a, b, c} {
			d.Shapes = append(d.Shapes, Shape{Kind: Mark, Tone: ToneFirst + Tone(n%6), Points: []XY{to(at)}, Text: p.Name})
		}
		last[p.Name] = c
	}
	// In the picture the last place of each kind carries its letter, for colour alone is lost on paper.
	var legend []string
	for n, name := range names {
		letter := string(seriesLetter(n % 6))
		legend = append(legend, letter+" "+name)
		d.label(ToneText, to(last[name]), -1, 1, .5, letter)
	}
	d.Notes = append(legend, d.Notes...)
	d.Description = fmt.Sprintf("Piper diagram of %d waters of %d kinds; shares of charge in percent", len(points), len(names))
	return d
}
