package report

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"wj/render"
	"wj/water"
)

// Document lays the review out: the decision first. With all nothing is shortened.
func (r *Review) Document(all bool) render.Document {
	if r.Change == nil {
		return r.recordDocument(all)
	}
	p := r.Change
	d := render.Document{Title: fmt.Sprintf("change %s: %s", r.ID, r.State), Lead: slices.Clone(r.Answer)}
	if len(r.Inputs) > 0 {
		d.Fact("inputs", "not as on %s: %s", r.Base, strings.Join(r.Inputs, " · "))
	}
	by := fmt.Sprintf("%s, %s · by %s, %s", p.For, p.Volume, p.name, longDay(p.Proposed.Time))
	if p.Supersedes != "" && p.Supersedes != p.Before {
		by += " · supersedes " + p.Supersedes
	}
	d.Fact("for", "%s", by)
	for i, w := range p.Waters {
		d.Fact(label(i, "water"), "%s", w.line(r))
	}
	if p.moved || all {
		for i, w := range p.Today {
			d.Fact(label(i, "today"), "%s", w.line(r))
		}
	}
	if r.State != "proposed" || len(r.Signed) > 0 || all {
		d.List("state", p.Why)
	}
	d.Fact("EMERGENCY", "%s", p.Emergency)
	for i, reason := range p.NoSheet {
		if i > 0 || all { // the answer has the first
			d.Fact("no sheet", "%s", reason)
		}
	}
	if len(p.Rivals) > 0 {
		d.Fact("RIVALS", "%s: approved for %s as well, and none supersedes another", strings.Join(p.Rivals, ", "), p.For)
	}
	d.Table("", p.valuesTable())
	if len(p.Doses) > 0 {
		d.Table("", p.dosesTable(all))
	}
	d.Fact("verified", "%s", p.Verified)
	for i, s := range r.Signed {
		d.Fact(label(i, "signed"), "%s", s.line(all))
	}
	mash := p.MashPH
	if at := strings.IndexByte(mash, '('); at >= 0 && !all {
		from, caution, _ := strings.Cut(strings.TrimSuffix(mash[at+1:], ")"), ";")
		from, _, _ = strings.Cut(from, ",")
		if strings.Contains(caution, "outside") {
			from += ";" + caution
		}
		mash = mash[:at+1] + from + ")"
	}
	d.Fact("mash pH", "%s", mash)
	d.Fact("chlorine", "%s", p.Chlorine)
	safe := slices.Clone(p.Safe)
	for i, s := range safe {
		if within, _, cut := strings.Cut(s, " ("); cut && !all && strings.Contains(s, ": within, ") {
			safe[i] = within
		}
	}
	if !all {
		safe = slices.DeleteFunc(safe, func(s string) bool {
			return strings.HasPrefix(s, "alkalinity stays over") && strings.HasSuffix(s, ": yes")
		})
	}
	d.List("safe", safe)
	for i, c := range p.Cautions {
		d.Fact(label(i, "caution"), "%s", c)
	}
	d.List("checks", p.Checks)
	assumes := p.Assumes
	if n := len(assumes); n > 0 && !all { // the last is the version of the calculation
		assumes = slices.Clone(assumes[:min(n-1, 1)])
		if more := n - 1 - len(assumes); more > 0 {
			assumes = append(assumes, fmt.Sprintf("%d more: --all", more))
		}
	}
	d.List("assumes", assumes)
	if p.Says != "" {
		d.Fact("says", "%s", shortened(p.Says, 68, all))
	}
	expires := strings.Join(r.Expires, ", ")
	if !all {
		expires = strings.Replace(expires, " or moves an expected one, by more than chance", "", 1)
	}
	d.Fact("expires", "%s", expires)
	for _, f := range r.Findings {
		d.Fact("", "%s", f)
	}
	r.next(&d)
	return d
}

// why is what a sign-off's standing depends on: of many reasons the first, and what shows who signed.
func (s SignedLine) why(all bool) string {
	list := s.Why
	if n := len(list); n > 3 && !all {
		list = []string{list[0], fmt.Sprintf("%d more: --all", n-2), list[n-1]}
	}
	if len(list) == 0 {
		return ""
	}
	return ": " + strings.Join(list, "; ")
}

func label(i int, text string) string {
	if i == 0 {
		return text
	}
	return ""
}

// shortened is the beginning of a text that is long, unless all of it is asked for.
func shortened(text string, letters int, all bool) string {
	if all || len(text) <= letters {
		return text
	}
	return text[:max(strings.LastIndexByte(text[:letters], ' '), 0)] + " …"
}

// next is what can be done now, each with its command.
func (r *Review) next(d *render.Document) {
	if !r.open {
		if r.Change != nil && r.State != "refused" && r.State != "superseded" {
			d.Command("next", "", fmt.Sprintf("wj sheet %s --volume %q", r.ID, r.volume))
		}
		return
	}
	who := cmp.Or(strings.Join(r.MaySign, ", "), "nobody: roles are in people/")
	text := "may: " + who
	if r.Policy != "" {
		// who may does not name the author
		policy := strings.NewReplacer(", other than the author", "", ", with their own signature", "").Replace(r.Policy)
		text = policy + "; may: " + who
	}
	d.Fact("digest", "%s · %s", cmp.Or(r.Digest, "…"), text)
	d.Command("accept", "", fmt.Sprintf("wj sign %s --digest %s", r.ID, cmp.Or(r.Digest, "…")))
	d.Command("refuse", "the same with --refuse -m \"why\"; ask for changes:", "wj remark")
}

func (w Water) line(r *Review) string {
	age := fmt.Sprintf("%d d", w.AgeDays)
	if w.AgeDays == 0 {
		age = "today"
	}
	parts := []string{fmt.Sprintf("%s %%", fewDigits(100*float64(w.Share))), water.Round(float64(w.Liters), max(3, len(fmt.Sprintf("%.0f", float64(w.Liters))))) + " L", w.Site, fmt.Sprintf("%s (%s, %s)", dayText(w.Sampled.Time, r.now), w.Source, age)}
	if w.figure != "" {
		parts = append(parts, w.figure)
	}
	return strings.Join(parts, " · ")
}

// valuesTable are the values, the one nearest to its limit first: blend, the dose before on today's water, with the salts,
// with today's water where that moved, target and margin.
func (p *ChangePart) valuesTable() render.Table {
	t := render.Table{Columns: []render.Column{{}, {Head: "mg/L"}, {Head: "blend", Right: true, Drop: 1}}}
	if p.hadBefore {
		t.Columns = append(t.Columns, render.Column{Head: "before", Right: true, Drop: 2})
	}
	t.Columns = append(t.Columns, render.Column{Head: "proposed", Right: true}, render.Column{Head: "± 95 %", Right: true})
	if p.moved {
		t.Columns = append(t.Columns, render.Column{Head: "today", Right: true})
	}
	t.Columns = append(t.Columns, render.Column{Head: "target", Right: true}, render.Column{Head: "margin", Right: true})
	for _, v := range p.Values {
		value, half := "not known", ""
		if v.Value != nil {
			value, half = Value{Value: v.Value, U: v.U}.Figure()
			value = beside(value, float64(*v.Value), numberOrNaN(v.Min), numberOrNaN(v.Max))
		}
		decimals := func(n *Number) string {
			switch {
			case n == nil:
				return ""
			case half == "":
				return fewDigits(float64(*n))
			}
			return like(float64(*n), half)
		}
		row := []render.Cell{markCell(v.conformity), {Text: valueName(v.id)}, {Text: decimals(v.Blend)}}
		if p.hadBefore {
			row = append(row, render.Cell{Text: decimals(v.Before)})
		}
		row = append(row, render.Cell{Text: value}, render.Cell{Text: half})
		if p.moved {
			row = append(row, render.Cell{Text: decimals(v.Today)})
		}
		margin := ""
		if v.Margin != nil {
			margin = fmt.Sprintf("%+.1f", float64(*v.Margin))
		}
		t.Rows = append(t.Rows, append(row, render.Cell{Text: targetText(v.Min, v.Max)}, render.Cell{Text: margin}))
	}
	var marks []string
	if slices.ContainsFunc(p.Values, func(v ChangeValue) bool { return v.Margin != nil }) {
		marks = append(marks, "margin in standard uncertainties")
	}
	if p.Treatment != nil && p.Treatment.Brief() != "" { // with the waters above
		marks = append(marks, p.Treatment.Brief())
	}
	if len(marks) > 0 {
		t.Notes = append(t.Notes, strings.Join(marks, "; "))
	}
	if p.hadBefore {
		t.Notes = append(t.Notes, fmt.Sprintf("before: %s, %s, with today's water", p.Before, p.beforeState))
	}
	return t
}

// valueName names a value, with CaCO₃ where it is counted so.
func valueName(id water.ID) string {
	if strings.Contains(id.Info().Unit.String(), "CaCO3") {
		return title(id) + " CaCO₃"
	}
	return title(id)
}

func targetText(low, high *Number) string {
	switch {
	case low != nil && high != nil && *low < 0:
		return fewDigits(float64(*low)) + " to " + fewDigits(float64(*high))
	case low != nil && high != nil:
		return fewDigits(float64(*low)) + "–" + fewDigits(float64(*high))
	case low != nil:
		return "≥ " + fewDigits(float64(*low))
	case high != nil:
		return "≤ " + fewDigits(float64(*high))
	}
	return ""
}

func (p *ChangePart) dosesTable(all bool) render.Table {
	t := render.Table{Columns: []render.Column{{Head: "add to " + p.Volume.Text}, {Head: "amount", Right: true}, {Head: "per hL", Right: true, Drop: 1}}}
	if p.hadBefore {
		t.Columns = append(t.Columns, render.Column{Head: "before", Right: true})
	}
	t.Columns = append(t.Columns, render.Column{Head: "at most", Right: true}, render.Column{Head: p.Currency, Right: true, Drop: 2}, render.Column{Head: "strength, lot", Wrap: true})
	for _, x := range p.Doses {
		amount := render.Cell{Text: x.Amount.Text}
		if x.Over {
			amount.State = render.Over
		}
		row := []render.Cell{{Text: x.Substance}, amount, {Text: x.PerHL.Text}}
		if p.hadBefore {
			row = append(row, render.Cell{Text: x.Before.Text})
		}
		strength := x.Strength
		if at := strings.Index(strength, "% "); at >= 0 && !all {
			strength = strength[:at+1]
		}
		if x.Lot != "" {
			strength += ", " + x.Lot
		}
		t.Rows = append(t.Rows, append(row, render.Cell{Text: x.AtMost.Text}, render.Cell{Text: x.Cost.Text}, render.Cell{Text: strength}))
	}
	return t
}

// recordDocument is the review of any other record: the record, its history, what depends on it, the sign-offs.
func (r *Review) recordDocument(all bool) render.Document {
	if r.Record == nil {
		d := render.Document{Title: r.Kind + " " + r.ID, Lead: slices.Clone(r.Answer)}
		d.List("differs", r.Inputs)
		r.signatures(&d, all)
		return d
	}
	d := r.Record.Document(all)
	if n := len(d.Blocks); n > 0 && d.Blocks[n-1].Fact != nil && d.Blocks[n-1].Fact.Label == "more" {
		d.Blocks = d.Blocks[:n-1]
	}
	few := 4
	if all {
		few = len(r.History) + len(r.Depends)
	}
	for i, h := range r.History {
		if i == few || i == len(r.History)-1 && r.older > 0 {
			d.Command("", fmt.Sprintf("and %d older", len(r.History)-i+r.older), "wj log "+r.ID)
			break
		}
		d.Fact(label(i, "history"), "%s", h)
	}
	for i, x := range r.Depends {
		if i == few {
			d.Command("", fmt.Sprintf("and %d more", len(r.Depends)-i), "wj trace "+r.ID+" --down")
			break
		}
		d.Fact(label(i, "used by"), "%s %s: %s", x.Kind, x.ID, x.Why)
	}
	if len(r.Depends) == 0 {
		d.Fact("used by", "nothing depends on it")
	}
	r.signatures(&d, all)
	return d
}

// signatures are the sign-offs of a record that is no change, and what the next covers.
func (r *Review) signatures(d *render.Document, all bool) {
	for i, s := range r.Signed {
		d.Fact(label(i, "signed"), "%s", s.line(true))
	}
	d.Fact("covers", "%s", strings.Join(r.Covers, ", "))
	for _, f := range r.Findings {
		d.Fact("", "%s", f)
	}
	r.next(d)
}
