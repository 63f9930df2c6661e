package report

import (
	"cmp"
	"fmt"
	"math"
	"strings"

	"wj/journal"
	"wj/journal/plan"
	"wj/render"
	"wj/water"
)

// batchDocument adds what a batch dosed against its sheet, what its liquor was by the waters of that day, and what a verification
// found.
func batchDocument(d *render.Document, j *journal.Journal, batch *journal.Batch) {
	c, ok := j.Changes.Get(batch.Change)
	if !ok {
		return
	}
	book := plan.Open(j)
	weighedDocument(d, batch, c)
	v, verified := book.Of(batch)
	work, err := book.ForBatch(batch)
	if err != nil {
		d.Paragraph("Liquor", "Not computed: %v", err)
		return
	}
	measured := map[water.ID]plan.Ion{}
	for _, i := range v.Ions {
		measured[i.ID] = i
	}
	t := render.Table{Columns: []render.Column{{Head: "mg/L", Wrap: true, Min: 18}, {Head: "expected", Right: true}, {Head: "as dosed", Right: true}, {Head: "target", Right: true}}, Notes: []string{"as dosed is computed with the waters of that day"}}
	if verified {
		t.Columns = append(t.Columns, render.Column{Head: "measured", Right: true}, render.Column{Head: "E_n", Right: true}, render.Column{Wrap: true, Min: 6})
	}
	for _, id := range book.Values(c) {
		verdict := book.Verdict(work, id)
		if !verdict.Known {
			continue
		}
		row := []string{labelOf(id), "", bare(beside(plan.Text(verdict.Value), verdict.Value.Value, verdict.Min, verdict.Max)), limitText(verdict.Min, verdict.Max), "", "", ""}
		for _, x := range c.Expect {
			if x.Name == id {
				row[1] = bare(x.Value.String())
			}
		}
		if !verdict.Inside() {
			row[3] += " missed"
		}
		if i, ok := measured[id]; ok {
			row[4] = bare(beside(measuredText(id, i.Measured, i.MeasuredU), i.Measured, i.Min, i.Max))
			if !math.IsNaN(i.ErrorRatio) {
				row[5] = fmt.Sprintf("%.2f", math.Abs(i.ErrorRatio))
			}
			row[6] = "agrees"
			if !i.Agrees() {
				row[6] = "missed"
			}
			if !i.Inside() {
				row[6] += ", outside of the target"
			}
		}
		cells := make([]render.Cell, len(t.Columns))
		for i := range cells {
			cells[i].Text = row[i]
		}
		t.Rows = append(t.Rows, cells)
	}
	if d.Table("Liquor", t); !verified {
		d.Paragraph("", "Not verified. To verify: wj new session SITE sample=verification change=%s batch=%s …", c.ID, batch.ID)
		return
	}
	d.Paragraph("", "%s by %s: %s", cmp.Or(v.Verdict(), "not compared"), v.Session.ID, v.Line())
	if v.Verdict() == "missed" {
		d.Paragraph("", "Repeat the sample, then check volume, form and lot; correct the change, never the measurement.")
	}
}

// weighedDocument compares what was weighed with the change scaled to the volume.
func weighedDocument(d *render.Document, batch *journal.Batch, c *journal.Change) {
	litres, err1 := batch.Volume.In(water.Litre)
	planned, err2 := c.Volume.In(water.Litre)
	if err1 != nil || err2 != nil || batch.Volume.Unit.IsNone() || !(planned > 0) {
		return
	}
	weighed := map[string]journal.Addition{}
	for _, w := range batch.Weighed {
		weighed[w.Substance] = w
	}
	t := render.Table{Columns: []render.Column{{Head: "addition"}, {Head: "by the sheet", Right: true}, {Head: "weighed", Right: true}, {Head: "off", Right: true}}}
	for _, a := range c.Add {
		want := a.Amount.Value * litres / planned
		row := []render.Cell{{Text: strings.ReplaceAll(a.Substance, "_", " ")}, {Text: water.Round(want, 3) + " " + a.Amount.Unit.String()}, {Text: "not recorded"}, {}}
		if w, ok := weighed[a.Substance]; ok {
			row[2].Text = w.Amount.String()
			if got, err := w.Amount.In(a.Amount.Unit); err == nil && want > 0 {
				row[3].Text = fmt.Sprintf("%+.1f %%", 100*(got-want)/want)
			}
			delete(weighed, a.Substance)
		}
		t.Rows = append(t.Rows, row)
	}
	for _, w := range batch.Weighed {
		if _, extra := weighed[w.Substance]; extra {
			t.Rows = append(t.Rows, []render.Cell{{Text: strings.ReplaceAll(w.Substance, "_", " ")}, {Text: "none"}, {Text: w.Amount.String()}, {Text: "not in the change"}})
		}
	}
	if len(t.Rows) > 0 {
		d.Table("Dosed into "+batch.Volume.String(), t)
	}
}
