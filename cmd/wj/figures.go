package main

import (
	"fmt"
	"math"
	"strings"
	"time"

	"wj/journal/plan"
	"wj/render"
	"wj/water"
	"wj/water/treat"
)

// How the figures of a water change are written, on every screen alike.

// labelOf names a value, with CaCO3 where it is counted so.
func labelOf(id water.ID) string {
	name := strings.ReplaceAll(id.String(), "_", " ")
	if id.String() == "pH" {
		name = "pH"
	}
	if strings.Contains(id.Info().Unit.String(), "CaCO3") {
		name += ", CaCO3"
	}
	return name
}

func tenths(v float64, known bool) string {
	if !known || math.IsNaN(v) {
		return "?"
	}
	text := fmt.Sprintf("%.1f", v)
	if text == "-0.0" {
		return "0.0"
	}
	return text
}

// stateCell is a value with its state against the target.
func stateCell(v plan.Verdict, spread bool) render.Cell {
	c := render.Cell{Text: tenths(v.Value.Value, v.Known)}
	if !v.Known {
		c.State = render.Doubtful
		return c
	}
	if u := v.Value.Expanded(); spread && u > 0 {
		if u >= 0.95 {
			c.Text += fmt.Sprintf(" ± %.0f", u)
		} else {
			c.Text += fmt.Sprintf(" ± %.1g", u)
		}
	}
	switch {
	case v.Worst() > v.Max:
		c.State = render.Over
	case v.Worst() < v.Min:
		c.State = render.Under
	}
	return c
}

func limitText(low, high float64) string {
	short := func(v float64) string { return strings.TrimSuffix(fmt.Sprintf("%.1f", v), ".0") }
	switch {
	case math.IsNaN(low) && math.IsNaN(high):
		return ""
	case math.IsNaN(low):
		return "≤ " + short(high)
	case math.IsNaN(high):
		return "≥ " + short(low)
	}
	if low < 0 {
		return short(low) + " to " + short(high)
	}
	return short(low) + "–" + short(high)
}

func substanceText(d treat.Dose) string { return strings.ReplaceAll(d.Substance, "_", " ") }

// shortStrength is the strength with what it is of: "80 % w/w", "100 ± 10 % CaCl2.2H2O".
func shortStrength(d treat.Dose) string {
	return strings.TrimPrefix(strings.Replace(d.StrengthText(), " of ", " ", 1), "assay ")
}

func litresText(v float64) string { return water.Round(v, max(3, len(fmt.Sprintf("%.0f", v)))) + " L" }

// floorAmount rounds a bound down to three digits: a bound is never rounded up.
func floorAmount(v float64) string {
	if !(v > 0) {
		return "0"
	}
	step := math.Pow(10, math.Floor(math.Log10(v))-2)
	return water.Round(math.Floor(v/step*(1+1e-12))*step, 3)
}

// mashText is an estimate with two decimals: no mash is known better.
func mashText(m treat.MashPH) string {
	return fmt.Sprintf("%.2f ± %.2f", m.PH, math.Max(m.HalfWidth, 0.01))
}

func ageText(d time.Duration) string {
	if days := int(math.Round(d.Hours() / 24)); days != 0 {
		return fmt.Sprintf("%d d", days)
	}
	return "today"
}
