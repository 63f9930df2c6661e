package main

import (
	"errors"
	"fmt"
	"math"
	"sort"
	"strings"

	"wj/journal"
	"wj/journal/audit"
	"wj/journal/history"
	"wj/journal/plan"
	"wj/journal/writer"
	"wj/lint"
	"wj/render"
	"wj/water"
	"wj/water/treat"
)

// panel is the answer on one screen.
func (t *treatment) panel() *panel {
	p := &panel{title: "treat " + litresText(t.volume)}
	if t.target != nil {
		p.title += " for " + t.target.ID
	}
	var waters []string
	for i := range t.work.Sources {
		src := &t.work.Sources[i]
		waters = append(waters, fmt.Sprintf("%.4g %% %s, %s (%s, %s)", 100*src.Share, src.Site, src.Basis.ID, src.Basis.Source, ageText(t.now.Sub(src.Basis.Sampled))))
	}
	p.list("waters", waters)
	for _, n := range t.notes {
		p.line("note", "%s", n)
	}
	for _, n := range shortages(t.book, t.work.Prediction, t.now) {
		p.line("note", "%s", n)
	}
	if t.answer != nil {
		verdict := "every limit of the target is kept"
		if !t.answer.Met() {
			verdict = "NOT every limit of the target can be kept"
		}
		p.line("answer", "%s (%s tried)", verdict, count(t.answer.Tried, "set"))
	}
	p.table("", t.values())
	if len(t.work.Prediction.Doses) > 0 {
		p.table("", doseTable(t.work, nil, false))
	}
	if r := t.work.Prediction.Removal(); r != nil {
		p.line("chlorine", "%s", r)
	}
	balance, err := t.work.Prediction.Equilibrate()
	if err == nil {
		p.line("liquor", "pH %.2f ± %.2f closed, %.2f after standing open · calcite saturation index %.2f ± %.2f", balance.PH.Value, balance.PH.Expanded(), balance.PHDegassed.Value, balance.Calcite.Value, balance.Calcite.Expanded())
	} else {
		p.line("liquor", "pH not computed: %v", err)
	}
	if t.target != nil {
		if m, err := t.book.MashPH(t.work, t.now); err == nil {
			p.line("mash pH", "%s (indicative; %s)", mashText(m), m.From)
		}
	}
	if t.answer != nil {
		for _, r := range t.answer.Results {
			if r.Missed != 0 {
				p.line("missed", "%s", r.Words)
			}
		}
		for _, b := range t.answer.Bindings {
			p.line("binds", "%s", b.Words)
		}
	}
	for _, d := range t.work.Prediction.Doses {
		p.line("bound", "%s: at most %s %s into %s: %s", substanceText(d), floorAmount(d.Most), d.Unit, litresText(d.Volume), d.Why)
	}
	for _, c := range lint.DoseLimits(t.j).Check(t.work.Prediction, balance) {
		p.line(string(c.Severity), "%s: %s; %s (%s)", c.Rule, c.Message, c.Help, c.Source)
	}
	for _, w := range cautionsOf(t.work.Prediction) {
		p.line("care", "%s", w)
	}
	if len(t.others) > 0 {
		p.table("other answers", t.otherTable())
	}
	p.list("assumes", append(append([]string{}, t.work.Prediction.Assumptions...), plan.Version))
	return p
}

// cautionsOf are the cautions of all that is dosed: what is true of several
// substances is said once, of all of them.
func cautionsOf(p *treat.Prediction) []string {
	names := map[string][]string{} // of each caution
	var order []string
	for _, d := range p.Doses {
		s, err := d.Entry()
		if err != nil || s.Caution == "" || d.Amount == 0 {
			continue
		}
		for _, part := range strings.Split(s.Caution, "; ") {
			if names[part] == nil {
				order = append(order, part)
			}
			names[part] = append(names[part], substanceText(d))
		}
	}
	said := map[string]int{}
	var out []string
	for _, part := range order {
		who := strings.Join(names[part], ", ")
		if at, ok := said[who]; ok {
			out[at] += "; " + part
			continue
		}
		said[who] = len(out)
		out = append(out, who+": "+part)
	}
	return out
}

func (t *treatment) values() render.Table {
	out := render.Table{Columns: []render.Column{{Head: "mg/L, ± is 95 %"}, {Head: "blend", Right: true}, {Head: "result", Right: true}}}
	if t.target != nil {
		out.Columns = append(out.Columns, render.Column{Head: "target", Right: true}, render.Column{Head: "margin", Right: true})
	}
	for _, id := range t.book.Values(t.change) {
		v := t.book.Verdict(t.work, id)
		if !v.Known && !v.Limited() {
			continue
		}
		blend, err := t.work.Prediction.Blend(id)
		row := []render.Cell{{Text: labelOf(id)}, {Text: tenths(blend.Value, err == nil)}, stateCell(v, true)}
		if t.target != nil {
			row = append(row, render.Cell{Text: limitText(v.Min, v.Max)}, render.Cell{Text: marginText(v.Margin)})
		}
		out.Rows = append(out.Rows, row)
	}
	if t.target != nil {
		out.Notes = append(out.Notes, "margin is the distance to the nearest limit in standard uncertainties")
	}
	return out
}

// doseTable writes doses with unit, strength, volume and upper bound; before is
// another dose for the same target, scaled to the same volume.
func doseTable(w, before *plan.Work, compare bool) render.Table {
	p := w.Prediction
	t := render.Table{Columns: []render.Column{{Head: "dose per " + litresText(p.Plan.Volume), Wrap: true, Min: 16}, {Head: "strength", Wrap: true, Min: 12}, {Head: "amount", Right: true}, {Head: "per hL", Right: true}}}
	if compare {
		t.Columns = append(t.Columns, render.Column{Head: "before", Right: true})
	}
	t.Columns = append(t.Columns, render.Column{Head: "at most", Right: true}, render.Column{Head: strings.TrimSpace("cost " + w.Currency), Right: true})
	was := map[string]treat.Dose{}
	var scaled *plan.Work
	if before != nil {
		if s, err := before.Scaled(p.Plan.Volume); err == nil {
			scaled = s
			for _, d := range s.Prediction.Doses {
				was[d.Substance] = d
			}
		}
	}
	for _, d := range p.Doses {
		row := []render.Cell{{Text: substanceText(d)}, {Text: shortStrength(d)}, {Text: d.AmountText() + " " + d.Unit.String()}, {Text: water.Round(d.PerHectolitre(), 3) + " " + d.Unit.String()}}
		if d.Over() {
			row[2].State = render.Over
		}
		if compare {
			text := "none"
			if o, ok := was[d.Substance]; ok {
				text = o.AmountText() + " " + o.Unit.String()
				delete(was, d.Substance)
			}
			row = append(row, render.Cell{Text: text})
		}
		row = append(row, render.Cell{Text: floorAmount(d.Most) + " " + d.Unit.String()})
		if cost, ok := d.Cost(); ok {
			row = append(row, render.Cell{Text: fmt.Sprintf("%.2f", cost)})
		}
		t.Rows = append(t.Rows, row)
	}
	left := make([]string, 0, len(was))
	for key := range was {
		left = append(left, key)
	}
	sort.Strings(left)
	for _, key := range left {
		o := was[key]
		t.Rows = append(t.Rows, []render.Cell{{Text: substanceText(o)}, {Text: shortStrength(o)}, {Text: "none"}, {}, {Text: o.AmountText() + " " + o.Unit.String()}})
	}
	if cost, ok := w.Cost(); ok && len(p.Doses) > 0 {
		note := fmt.Sprintf("together %.2f %s", cost, w.Currency)
		if scaled != nil {
			if old, ok := scaled.Cost(); ok {
				note += fmt.Sprintf(" (before %.2f)", old)
			}
		}
		t.Notes = append(t.Notes, note)
	}
	return t
}

// otherTable compares the alternatives.
func (t *treatment) otherTable() render.Table {
	out := render.Table{Columns: []render.Column{{Head: "with"}, {Head: "doses", Wrap: true, Min: 30}, {Head: "cost", Right: true}, {Head: "limits missed", Wrap: true, Min: 20}}}
	for _, o := range t.others {
		if o.err != nil {
			out.Rows = append(out.Rows, []render.Cell{{Text: o.what}, {Text: "no answer: " + o.err.Error()}})
			continue
		}
		var doses, missed []string
		if len(t.supplies) > 1 {
			for _, w := range o.answer.Plan.Waters {
				doses = append(doses, fmt.Sprintf("%.4g %% %s", 100*w.Share, w.Name))
			}
		}
		cost, priced := 0.0, true
		for _, d := range o.answer.Doses {
			doses = append(doses, fmt.Sprintf("%s %s %s, %s", d.AmountText(), d.Unit, substanceText(d), d.StrengthText()))
			c, ok := d.Cost()
			cost, priced = cost+c, priced && ok
		}
		for _, r := range o.answer.Results {
			if r.Missed != 0 {
				missed = append(missed, fmt.Sprintf("%s %s", r.Target.ID, tenths(r.Value.Value, true)))
			}
		}
		price := ""
		if priced {
			price = fmt.Sprintf("%.2f", cost)
		}
		out.Rows = append(out.Rows, []render.Cell{{Text: o.what}, {Text: strings.Join(doses, " · ")}, {Text: price}, {Text: orElse(strings.Join(missed, ", "), "none")}})
	}
	return out
}

// json is the answer for machines.
func (t *treatment) json() render.Object {
	number := func(v float64) any {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return nil
		}
		return rounded(v)
	}
	waters, values, doses, cautions := []any{}, render.Object{}, []any{}, []any{}
	for i := range t.work.Sources {
		s := &t.work.Sources[i]
		waters = append(waters, render.Object{{Name: "site", Value: s.Site}, {Name: "session", Value: s.Basis.ID}, {Name: "share", Value: number(s.Share)}})
	}
	ids := append(t.book.Values(t.change), water.Potassium, water.Nitrate, water.CalciumHardness, water.TotalHardness)
	seen := map[water.ID]bool{}
	for _, id := range ids {
		v := t.book.Verdict(t.work, id)
		if !v.Known || seen[id] {
			continue
		}
		seen[id] = true
		o := valueJSON(water.Exact, v.Value.Value, v.Value.U, id)
		if v.Limited() {
			o = append(o, render.Member{Name: "inside", Value: v.Inside()}, render.Member{Name: "margin", Value: number(v.Margin)})
		}
		values = append(values, render.Member{Name: id.String(), Value: o})
	}
	balance, err := t.work.Prediction.Equilibrate()
	if err == nil {
		for _, v := range []struct {
			name  string
			value water.Value
		}{{"pH", balance.PH}, {"pH_open", balance.PHDegassed}, {"saturation_index", balance.Calcite}, {"conductivity", balance.Conductivity}} {
			if !seen[v.value.ID] || v.name == "pH_open" {
				values = append(values, render.Member{Name: v.name, Value: render.Object{{Name: "value", Value: number(v.value.Value)}, {Name: "u", Value: number(v.value.U)}}})
			}
		}
	}
	for _, d := range t.work.Prediction.Doses {
		o := render.Object{{Name: "substance", Value: d.Substance}, {Name: "amount", Value: number(d.Amount)}, {Name: "unit", Value: d.Unit.String()}, {Name: "strength", Value: d.StrengthText()},
			{Name: "volume", Value: number(d.Volume)}, {Name: "volume_unit", Value: "L"}, {Name: "most", Value: number(d.Most)}, {Name: "why", Value: d.Why}, {Name: "lot", Value: textOrNil(d.Lot)}, {Name: "stage", Value: textOrNil(d.Stage)}}
		doses = append(doses, o)
	}
	for _, c := range lint.DoseLimits(t.j).Check(t.work.Prediction, balance) {
		cautions = append(cautions, render.Object{{Name: "severity", Value: string(c.Severity)}, {Name: "rule", Value: c.Rule}, {Name: "message", Value: c.Message}, {Name: "help", Value: c.Help}, {Name: "source", Value: c.Source}})
	}
	out := render.Object{{Name: "version", Value: plan.Version}, {Name: "volume", Value: number(t.volume)}, {Name: "waters", Value: waters}, {Name: "doses", Value: doses}, {Name: "values", Value: values}, {Name: "cautions", Value: cautions}}
	if r := t.work.Prediction.Removal(); r != nil {
		out = append(out, render.Member{Name: "chlorine", Value: render.Object{{Name: "total", Value: number(r.Chlorine.Total)}, {Name: "u", Value: number(r.Chlorine.UTotal)}, {Name: "free", Value: number(r.Chlorine.Free)},
			{Name: "need", Value: number(r.Theory)}, {Name: "sulfate", Value: number(r.Sulfate)}, {Name: "chloride", Value: number(r.Chloride)}, {Name: "sodium", Value: number(r.Sodium)}, {Name: "potassium", Value: number(r.Potassium)},
			{Name: "ammonium", Value: number(r.Ammonium)}, {Name: "alkalinity_used", Value: number(r.AlkalinityUsed)}, {Name: "chlorine_left", Value: number(r.ChlorineLeft)}, {Name: "sulfite_left", Value: number(r.SulfiteLeft)}}})
	}
	if t.answer != nil {
		binds := []any{}
		for _, b := range t.answer.Bindings {
			binds = append(binds, b.Words)
		}
		out = append(out, render.Member{Name: "met", Value: t.answer.Met()}, render.Member{Name: "binds", Value: binds})
	}
	return out
}

// write puts the draft of the change into the journal.
func (c *treatCmd) write(t *treatment, root string) error {
	var fatal []string
	balance, _ := t.work.Prediction.Equilibrate()
	for _, k := range lint.DoseLimits(t.j).Check(t.work.Prediction, balance) {
		if k.Severity == treat.Error {
			fatal = append(fatal, k.Message)
		}
	}
	if len(fatal) > 0 {
		hint := "change the dose; nothing was written"
		if r := t.work.Prediction.Removal(); r != nil {
			hint += "; --dechlorinate " + r.Dose.Substance + " doses that in a step of its own"
		}
		return withHint(hint, "this must not be dosed: %s", strings.Join(fatal, "; "))
	}
	if t.target == nil {
		return withHint("--target ID", "a change is for a target")
	}
	d := t.a.draft(t.j, root, journal.KindChange)
	if err := d.Other(orElse(c.Write, t.target.ID)); err != nil {
		return err
	}
	var err error
	if t.change.Author = c.By; t.change.Author == "" {
		if t.change.Author, err = d.Person(t.now); err != nil {
			return err
		}
	}
	switch c.Supersedes {
	case "none":
	case "":
		t.change.Supersedes = t.inForce(root)
	default:
		if _, ok := t.j.Changes.Get(c.Supersedes); !ok {
			return withHint("wj ls changes lists them", "there is no change %q", c.Supersedes)
		}
		t.change.Supersedes = c.Supersedes
	}
	body := orElse(c.Note, fmt.Sprintf("Drafted by `wj treat` from the waters above. Say here why.\n\n%s", strings.Join(cautionsOf(t.work.Prediction), "\n")))
	// A list stands on lines of its own; Compose knows only what stands behind a colon.
	src := []byte(strings.Replace(string(journal.Compose(journal.KindChange, t.book.Entries(t.change, t.work), body)), "basis: \n", "basis:\n", 1))
	record := writer.Record{Files: []writer.File{{Path: d.Path, New: src}}, Subject: "Propose change " + d.ID, Trailers: []history.Trailer{{Key: "Proposes", Value: d.ID}}, Kept: c.NoCommit}
	out, err := t.a.put(t.j, root, record, c.DryRun)
	if err != nil || c.DryRun {
		return err
	}
	t.a.say("wrote %s", t.a.relative(root, out.Paths[0]))
	t.a.saidCommit(root, out)
	t.a.say("next: read it, say why in its body, then wj review %s", d.ID)
	return nil
}

// inForce is the change for the same target that may be brewed with today, or
// was until the water moved; "" where there is none.
func (t *treatment) inForce(root string) string {
	w, err := t.a.witness(t.j, root, "")
	if err != nil {
		if !errors.Is(err, history.ErrNoRepository) {
			return ""
		}
		w = &witness{}
	} else {
		defer w.h.Close()
	}
	judgement := audit.NewJudgement(t.j, t.a.facts(t.j, w))
	found, newest := "", (*journal.Change)(nil)
	for _, c := range t.j.Changes.List {
		if c.For != t.target.ID || newest != nil && c.Proposed.Before(newest.Proposed) {
			continue
		}
		if s := judgement.Change(c).State; s.Approved() || s == audit.LapsedState || s == audit.Missed {
			found, newest = c.ID, c
		}
	}
	return found
}
