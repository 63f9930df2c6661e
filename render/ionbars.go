package render

import (
	"fmt"
	"strings"
)

// IonPart is one ion in a bar: its charge in meq/L, and what is to be said of it.
type IonPart struct {
	Name   string
	Charge float64
	Note   string // such as "by difference"
}

// IonBars lays out the ions of a water as two bars of equal scale, cations over anions, in meq/L: W. D. Collins, Graphic representation
// of water analyses, Industrial and Engineering Chemistry 15 (1923) 394, laid on its side so that the names have room.
func IonBars(title, subtitle string, cations, anions []IonPart, columns int, notes []string) Drawing {
	d := Drawing{Title: title, Subtitle: subtitle, Left: 9, Right: 1, Bottom: 2, Aspect: 0, Notes: notes}
	sum := func(parts []IonPart) (s float64) {
		for _, p := range parts {
			s += max(p.Charge, 0)
		}
		return s
	}
	c, a := sum(cations), sum(anions)
	most := max(c, a)
	if !(most > 0) || !finite(most) {
		d.label(ToneSoft, XY{.5, .5}, 0, 0, 0, "no ions to draw")
		return d
	}
	scale := frame{low: 0, top: most * 1.02}
	ticks, decimals := scale.valueTicks(max(columns/9, 3))
	for _, v := range ticks {
		d.label(ToneSoft, XY{scale.y(v), 0}, 0, 0, -1, formatValue(v, decimals))
		d.line(ToneGrid, XY{scale.y(v), 0}, XY{scale.y(v), 1})
	}
	d.label(ToneSoft, XY{1, 0}, 1, 0, -2, "meq/L")
	d.line(ToneAxis, XY{0, 0}, XY{1, 0})
	tone := ToneFirst
	var said []string
	bar := func(parts []IonPart, total, low, high float64, name string) {
		at := 0.0
		d.label(ToneText, XY{0, (low + high) / 2}, 1, -2, 0, name)
		for _, p := range parts {
			if p.Charge <= 0 {
				continue
			}
			from, to := scale.y(at), scale.y(at+p.Charge)
			text := fmt.Sprintf("%s %s", p.Name, formatValue(p.Charge, 2))
			d.Shapes = append(d.Shapes, Shape{Kind: Area, Tone: tone, Points: []XY{{from, low}, {to, high}}, Text: text + " meq/L"})
			room := int((to - from) * float64(columns))
			switch {
			case room > len([]rune(text))+3:
				d.label(tone, XY{(from + to) / 2, (low + high) / 2}, 0, 0, 0, " "+text+" ")
			case room > len([]rune(p.Name))+2:
				d.label(tone, XY{(from + to) / 2, (low + high) / 2}, 0, 0, 0, " "+p.Name+" ")
			}
			share := fmt.Sprintf("%s %s meq/L (%.0f %%)", p.Name, formatValue(p.Charge, 2), 100*p.Charge/total)
			if p.Note != "" {
				share += ", " + p.Note
			}
			said = append(said, share)
			at += p.Charge
			tone++ // the anions go on where the cations end, so that no colour means two ions
		}
	}
	bar(cations, c, .6, .92, "cations")
	one := strings.Join(said, " · ")
	said = nil
	bar(anions, a, .18, .5, "anions")
	two := strings.Join(said, " · ")
	d.Notes = append([]string{
		fmt.Sprintf("cations %s meq/L: %s", formatValue(c, 2), one),
		fmt.Sprintf("anions %s meq/L: %s", formatValue(a, 2), two),
	}, d.Notes...)
	d.Description = strings.Join(d.Notes[:2], "; ")
	return d
}
