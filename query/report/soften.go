package report

import (
	"fmt"

	"wj/journal/plan"
	"wj/render"
	"wj/water"
)

// SofteningDocument lays lime softening out as a procedure whose steps wait for readings.
func SofteningDocument(s *plan.Softened) render.Document {
	d := render.Document{Title: fmt.Sprintf("lime softening of %s, %s", s.Water, litresText(s.Volume))}
	d.Fact("answer", "A procedure, not one dose: each step waits for its readings.")
	d.Fact("water", "%s (%s)", s.Water, s.Session)
	for _, n := range append(s.Notes, s.Doubts...) {
		d.Fact("note", "%s", n)
	}
	d.Fact("lime", "%s %s into %s, %s; never over %s g: %s", fmt.Sprintf("%.4g", s.Lime.Amount), s.Lime.Unit, litresText(s.Lime.Volume), s.Lime.Strength, water.Round(s.Lime.Most, 3), s.Lime.Why)
	t := render.Table{Columns: []render.Column{{Head: "mg/L"}, {Head: "alkalinity", Right: true}, {Head: "calcium", Right: true}, {Head: "magnesium", Right: true}, {Head: "pH", Right: true}},
		Notes: []string{"alkalinity as CaCO3; the range is from equilibrium to as little as a stirred tank settles"}}
	row := func(name string, v ...plan.SoftValue) {
		span := func(of func(plan.SoftValue) float64, decimals int) string {
			text := fmt.Sprintf("%.*f", decimals, of(v[0]))
			if len(v) > 1 {
				text += fmt.Sprintf(" to %.*f", decimals, of(v[1]))
			}
			return text
		}
		t.Rows = append(t.Rows, []render.Cell{{Text: name}, {Text: span(func(x plan.SoftValue) float64 { return x.Alkalinity }, 0)}, {Text: span(func(x plan.SoftValue) float64 { return x.Calcium }, 0)},
			{Text: span(func(x plan.SoftValue) float64 { return x.Magnesium }, 0)}, {Text: span(func(x plan.SoftValue) float64 { return x.PH }, 1)}})
	}
	row("raw", s.Before)
	row("limed and settled", s.Limed...)
	if s.Split {
		row(fmt.Sprintf("with %.0f %% raw", 100*(1-s.Share)), s.Mixed...)
	}
	d.Table("", t)
	for i, step := range s.Steps {
		d.Fact(fmt.Sprintf("step %d", i+1), "%s", step.Do)
		if step.Hold != "" {
			d.Fact("hold", "until it is read: %s", step.Hold)
		}
	}
	for _, x := range s.Cautions {
		d.Fact("care", "%s", x)
	}
	return d
}
