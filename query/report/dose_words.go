package report

import (
	"fmt"
	"math"
	"strconv"
	"strings"

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
	return fixed(v, 1)
}

// fixed is a number with so many decimals, and none that is less than nothing.
func fixed(v float64, decimals int) string {
	text := fmt.Sprintf("%.*f", decimals, v)
	if strings.Trim(text, "-0.") == "" {
		return strings.TrimPrefix(text, "-")
	}
	return text
}

// beside keeps a printed value from contradicting its mark, which judges the value as it is: where rounding lays it on the other side
// of a limit, or onto one that it passes, it gets more digits.
func beside(text string, v, low, high float64) string {
	number, rest, _ := strings.Cut(text, " ")
	printed, err := strconv.ParseFloat(number, 64)
	agrees := func(x float64) bool { return (x > high) == (v > high) && (x < low) == (v < low) }
	if err != nil || math.IsNaN(v) || agrees(printed) {
		return text
	}
	for decimals := 1; decimals <= 9; decimals++ {
		number = strconv.FormatFloat(v, 'f', decimals, 64)
		if x, _ := strconv.ParseFloat(number, 64); agrees(x) {
			break
		}
	}
	return strings.TrimSpace(number + " " + rest)
}

// stateCell is a value with its state against the target.
func stateCell(v plan.TargetCheck, spread bool) render.Cell {
	c := render.Cell{Text: beside(tenths(v.Value.Value, v.Known), v.Value.Value, v.Min, v.Max)}
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

func litresText(v float64) string { return water.Round(v, max(3, len(fmt.Sprintf("%.0f", v)))) + " L" }

// mashText is an estimate with two decimals: no mash is known better.
func mashText(m treat.MashPH) string {
	return fmt.Sprintf("%.2f ± %.2f", m.PH, math.Max(m.HalfWidth, 0.01))
}

// notDosed is the amount of what is only in the other of two changes.
var notDosed = Figure{math.NaN(), "none"}

// doseOf writes a dose with its strength, its lot and its bound.
func doseOf(d treat.Dose) Dose {
	unit := d.Unit.String()
	one := Dose{Unit: unit, Substance: substanceText(d), Strength: strings.TrimPrefix(strings.Replace(d.StrengthText(), " of ", " ", 1), "assay "), Lot: d.Lot,
		Amount: figure(d.AmountText(), unit), PerHL: figure(water.Round(d.PerHectolitre(), 3), unit), AtMost: figure(roundedDown(d.Most), unit), Over: d.Over()}
	if cost, ok := d.Cost(); ok {
		one.Cost = figure(fmt.Sprintf("%.2f", cost), "")
	}
	return one
}

// doseTable writes doses with unit, strength, volume, upper bound and cost.
func doseTable(w *plan.Work) render.Table {
	p := w.Prediction
	t := render.Table{Columns: []render.Column{{Head: "dose per " + litresText(p.Plan.Volume), Wrap: true, Min: 16}, {Head: "strength", Wrap: true, Min: 12}, {Head: "amount", Right: true}, {Head: "per hL", Right: true},
		{Head: "at most", Right: true}, {Head: strings.TrimSpace("cost " + w.Currency), Right: true}}}
	for i := range p.Doses {
		d := doseOf(p.Doses[i])
		amount := render.Cell{Text: d.Amount.Text}
		if d.Over {
			amount.State = render.Over
		}
		t.Rows = append(t.Rows, []render.Cell{{Text: d.Substance}, {Text: d.Strength}, amount, {Text: d.PerHL.Text}, {Text: d.AtMost.Text}, {Text: d.Cost.Text}})
	}
	if cost, ok := w.Cost(); ok && len(p.Doses) > 0 {
		t.Notes = append(t.Notes, fmt.Sprintf("together %.2f %s", cost, w.Currency))
	}
	return t
}

// measuredText writes a value in its standard unit with its 95 % half-width.
func measuredText(id water.ID, v, half float64) string {
	text, spread := water.Spread(v, half)
	if spread != "" {
		text += " ± " + spread
	}
	if unit := id.Info().Unit; !unit.IsNone() {
		text += " " + unit.String()
	}
	return text
}

// bare is a value without the unit that its table is headed with; labelOf says where it counts as CaCO3.
func bare(text string) string {
	return strings.TrimSuffix(strings.TrimSuffix(text, " mg/L CaCO3"), " mg/L")
}
