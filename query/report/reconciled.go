package report

import (
	"fmt"

	"wj/journal"
	"wj/render"
	"wj/water"
)

// Reconciled are the redundant readings of an analysis, adjusted together until they agree.
type Reconciled struct {
	Readings      Named[ReconciledReading] `json:"readings"`
	ChiSquare     Number                   `json:"chi_square"`
	Freedom       int                      `json:"degrees_of_freedom"`
	P             Number                   `json:"p"`
	Contradiction string                   `json:"contradiction,omitempty"`
	DoNotFit      []string                 `json:"do_not_fit"` // the reading that breaks the rest, or all that could be it
	conditions    []water.Condition
}

// ReconciledReading is a reading in the standard unit as measured and as all of them together have it.
type ReconciledReading struct {
	Measured   Value  `json:"measured"`
	Reconciled Value  `json:"reconciled"`
	Adjustment Number `json:"adjustment"` // over its own standard deviation
	id         water.ID
}

func (r ReconciledReading) name() string { return r.id.String() }

// reconciled adjusts the readings of an analysis; nil where none says what another does.
func reconciled(a *water.Analysis) *Reconciled {
	r, ok := water.Reconcile(a)
	if !ok {
		return nil
	}
	out := &Reconciled{ChiSquare: Number(r.ChiSquare), Freedom: len(r.Conditions), P: Number(r.P), Contradiction: r.Contradiction(), DoNotFit: []string{}, conditions: r.Conditions}
	for _, x := range r.Readings {
		unit := x.ID.Info().Unit.String()
		out.Readings = append(out.Readings, ReconciledReading{valueOf(x.Measured.Value, x.Measured.U, water.Exact, unit), valueOf(x.Value, x.U, water.Exact, unit), Number(x.Adjustment), x.ID})
	}
	for _, id := range r.Misfits {
		out.DoNotFit = append(out.DoNotFit, id.String())
	}
	return out
}

// table shows what the readings become together, and the one that does not fit.
func (r *Reconciled) table(d *render.Document) {
	t := render.Table{Columns: []render.Column{{Head: "value"}, {Head: "measured", Right: true}, {Head: "± 95 %", Right: true}, {Head: "together", Right: true}, {Head: "± 95 %", Right: true}, {Head: "unit"}, {Head: ""}}}
	for _, x := range r.Readings {
		measured, u := x.Measured.Figure()
		value, half := x.Reconciled.Figure()
		mark := ""
		for _, odd := range r.DoNotFit {
			if odd == x.id.String() {
				mark = "does not fit"
				if len(r.DoNotFit) > 1 {
					mark = "one of these is off"
				}
			}
		}
		t.Rows = append(t.Rows, []render.Cell{{Text: title(x.id)}, {Text: measured}, {Text: u}, {Text: value}, {Text: half}, {Text: unitText(x.Measured.Unit)}, {Text: mark}})
	}
	d.Table("Reconciled: all readings adjusted together by their uncertainty", t)
	text := "The readings agree within their uncertainty"
	if len(r.DoNotFit) > 0 {
		text = "The readings contradict each other"
	}
	names := ""
	for i, c := range r.conditions {
		if i > 0 {
			names += "; "
		}
		names += c.Name
	}
	d.Items("", []string{fmt.Sprintf("%s: chi-square %s with %s, p = %s. Least squares (Kuehn & Davidson 1961, Mah & Tamhane 1982).", text, water.Round(float64(r.ChiSquare), 2), journal.Count(r.Freedom, "condition"), water.Round(float64(r.P), 2)), "Conditions: " + names + "."})
}
