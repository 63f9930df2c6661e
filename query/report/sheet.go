package report

import (
	"fmt"
	"strings"

	"wj/journal/plan"
	"wj/render"
	"wj/water"
)

// Sheet is a sheet to dose from as it is drawn; plan.Sheet is its machine form.
type Sheet struct{ *plan.Sheet }

// volume is as it was written, with its litres where it has another unit.
func (s Sheet) volume() string {
	if text := litresText(s.Volume); !strings.HasSuffix(s.Spelled, " L") {
		return s.Spelled + " (" + text + ")"
	}
	return s.Spelled
}

// liquor names the tank's, where mash and sparge are treated apart.
func (s Sheet) liquor() string {
	if s.Tank == "" {
		return ""
	}
	return " of " + s.Tank + " liquor"
}

// Document is the sheet for a terminal and for Markdown.
func (s Sheet) Document() render.Document {
	d := render.Document{Title: strings.TrimSpace(s.Brewery + " · water sheet · " + s.volume() + s.liquor() + " for " + s.Target)}
	d.Fact("change", "%s", s.Change)
	d.Fact("digest", "sha256 %s", s.Digest)
	d.Fact("printed", "%s; for this brew alone, print it fresh for the next", s.Printed)
	if s.Emergency != "" {
		d.Fact("EMERGENCY", "%s", s.Emergency)
	} else {
		d.List("approved", s.Approval)
	}
	for _, line := range s.Headline {
		d.Fact("answer", "%s", line)
	}
	d.List("waters", s.Waters)
	for _, n := range s.Notes {
		d.Fact("note", "%s", n)
	}
	t := render.Table{Columns: []render.Column{{Head: "dose for " + s.volume(), Wrap: true, Min: 16}, {Head: "strength", Wrap: true, Min: 12}, {Head: "lot"}, {Head: "amount", Right: true}, {Head: "per hL", Right: true}, {Head: "at most", Right: true}}, Notes: []string{s.Scale}}
	for _, x := range s.Work.Prediction.Doses {
		one := doseOf(x)
		t.Rows = append(t.Rows, []render.Cell{{Text: one.Substance}, {Text: one.Strength}, {Text: one.Lot}, {Text: one.Amount.Text}, {Text: one.PerHL.Text}, {Text: one.AtMost.Text}})
	}
	d.Table("", t)
	t = render.Table{Columns: []render.Column{{Head: "", Right: true}, {Head: "do", Wrap: true, Min: 30}, {Head: "amount", Right: true}, {Head: "weighed"}, {Head: "initials"}}}
	for i, step := range s.Steps {
		row := []render.Cell{{Text: fmt.Sprint(i + 1)}, {Text: step.Do}, {Text: step.Text}}
		if step.Tick {
			row = append(row, render.Cell{Text: "[         ]"}, render.Cell{Text: "[    ] [    ]"})
		}
		t.Rows = append(t.Rows, row)
	}
	d.Table("", t)
	d.List("expect", s.expectation())
	d.Fact("chlorine", "%s", s.Chlorine)
	d.Fact("liquor pH", "%s", s.LiquorPH)
	d.Fact("mash pH", "%s", s.Mash)
	d.Fact("verify", "%s", s.Verify)
	for _, c := range plan.Handling(s.Work.Prediction) {
		d.Fact("care", "%s", c)
	}
	d.Fact("care", "the label, the safety data sheet and the local code come before this sheet; a second person reads every label")
	d.Fact("record", "%s", s.Record)
	return d
}

func (s Sheet) expectation() []string {
	var out []string
	for _, v := range s.Expected {
		if !v.Known || !v.Limited() && v.ID != water.ResidualAlkalinity {
			continue
		}
		text := fmt.Sprintf("%s %s", labelOf(v.ID), bare(beside(plan.Text(v.Value), v.Value.Value, v.Min, v.Max)))
		if v.Range.Solids() {
			text += fmt.Sprintf(" (%s as it settles)", spanText(v))
		}
		if limit := limitText(v.Min, v.Max); limit != "" {
			text += " (" + limit + ")"
		}
		if !v.Inside() {
			text += " OUTSIDE"
		}
		out = append(out, text)
	}
	return out
}
