package report

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"wj/journal/plan"
	"wj/render"
	"wj/water"
	"wj/water/treat"
)

// Treatment is the liquor of one tank as it was asked for and what was found for it. Judged is its machine form.
type Treatment struct {
	*plan.Treatment
	Judged *plan.Answer
	book   *plan.Book
}

// NewTreatment judges what was found, by the limits of doses: one treatment, or one for the mash and one for the sparge.
func NewTreatment(book *plan.Book, t *plan.Treatment, limits treat.Limits) []*Treatment {
	out := []*Treatment{{Treatment: t, Judged: t.Told(limits), book: book}}
	if t.Sparge != nil {
		out = append(out, &Treatment{Treatment: t.Sparge, Judged: out[0].Judged.Sparge, book: book})
	}
	return out
}

// Document is the answer on one screen.
func (t *Treatment) Document() render.Document {
	now := t.Question.Now
	d := render.Document{Title: "treat " + t.Volume.String()}
	if t.Change.Tank != "" {
		d.Title += " of " + t.Change.Tank + " liquor"
	}
	if t.Target != nil {
		d.Title += " for " + t.Target.ID
	}
	for _, line := range t.Judged.Headline() {
		d.Fact("answer", "%s", line)
	}
	t.cautions(&d, func(c plan.AnswerCaution) bool { return c.Severity == string(treat.Error) }) // what must not be done comes first
	for _, set := range t.Judged.Equal {
		d.Fact("equally good", "%s", strings.ReplaceAll(strings.Join(set, ", "), "_", " "))
	}
	var waters []string
	for i := range t.Work.Sources {
		src := &t.Work.Sources[i]
		waters = append(waters, fmt.Sprintf("%.4g %% %s, %s (%s, %s)", 100*src.Share, src.Site, src.Basis.ID, src.Basis.Source, ageText(now.Sub(src.Basis.Sampled))))
	}
	d.List("waters", waters)
	for _, line := range t.Judged.SupplyLines() {
		d.Fact("supply", "%s", line)
	}
	for _, n := range t.Judged.Basis {
		d.Fact("doubtful", "%s", n)
	}
	for _, n := range append(t.Judged.Notes, t.book.Shortages(t.Work.Prediction, now)...) {
		d.Fact("note", "%s", n)
	}
	d.Table("", t.values())
	if len(t.Work.Prediction.Doses) > 0 {
		d.Table("", doseTable(t.Work))
	}
	if r := t.Work.Prediction.Removal(); r != nil {
		d.Fact("chlorine", "%s", r)
	}
	balance, err := t.Work.AsSampled().Prediction.Equilibrate()
	if err == nil {
		text := liquorText(balance)
		if t.Work.Prediction.Plan.IntoMash {
			text = "before the acid, which goes into the mash: " + text
		}
		d.Fact("liquor", "%s", text)
	} else {
		d.Fact("liquor", "pH not computed: %v", err)
	}
	for _, line := range t.Judged.Settles() {
		d.Fact("solids", "%s", line)
	}
	if t.Target != nil && t.Change.Tank != "sparge" {
		if m, err := t.book.MashPH(t.Work, now); err == nil && m.HalfWidth > tooWide {
			d.Fact("mash pH", "not known to better than %.1f, so none is given (%s)", m.HalfWidth, m.From)
		} else if err == nil {
			d.Fact("mash pH", "%s (indicative; %s)", mashText(m), m.From)
		}
	}
	for _, line := range t.Judged.Missed {
		d.Fact("missed", "%s", line)
	}
	for _, line := range t.Judged.Binds {
		d.Fact("binds", "%s", line)
	}
	for _, dose := range t.Work.Prediction.Doses {
		d.Fact("bound", "%s: at most %s %s into %s: %s", substanceText(dose), roundedDown(dose.Most), dose.Unit, litresText(dose.Volume), dose.Why)
	}
	t.cautions(&d, func(c plan.AnswerCaution) bool { return c.Severity != string(treat.Error) })
	for _, w := range plan.Handling(t.Work.Prediction) {
		d.Fact("care", "%s", w)
	}
	if len(t.Others) > 0 {
		d.Table("other answers", t.otherTable())
	}
	d.List("assumes", t.Judged.Assumes)
	return d
}

// tooWide is how wide an estimate of mash pH is of no use, half its width.
const tooWide = 0.5

func (t *Treatment) cautions(d *render.Document, which func(plan.AnswerCaution) bool) {
	for _, c := range t.Judged.Cautions {
		if which(c) {
			d.Fact(c.Severity, "%s: %s; %s (%s)", c.Rule, c.Message, c.Help, c.Source)
		}
	}
}

// liquorText is the pH with its temperature, and what may fall out.
func liquorText(e *treat.Equilibrium) string {
	state := "closed"
	if e.Open {
		state = "open to the air"
	}
	text := fmt.Sprintf("pH %.2f (%.2f to %.2f) at %.0f °C, %s", e.PH.Value, e.PHRange.Low, e.PHRange.High, e.Temperature, state)
	if !e.Open {
		text += fmt.Sprintf("; %.2f after standing open", e.PHDegassed.Value)
	}
	if !e.InRange {
		return text + "; outside of what the model was compared with (to 80 °C, pH 4 to 11, 0.1 mol/L), so no saturation is given"
	}
	text += fmt.Sprintf(" · calcite saturation index %s (%s to %s)", fixed(e.Calcite.Value, 2), fixed(e.CalciteRange.Low, 2), fixed(e.CalciteRange.High, 2))
	if !math.IsNaN(e.Precipitation) {
		if e.Precipitation < -0.5 {
			text += fmt.Sprintf(", could dissolve %.0f mg/L CaCO3", -e.Precipitation)
		} else {
			text += fmt.Sprintf(", precipitation potential %.0f mg/L CaCO3", math.Abs(e.Precipitation))
		}
	}
	return text
}

func (t *Treatment) values() render.Table {
	out := render.Table{Columns: []render.Column{{Head: "mg/L"}, {Head: "blend", Right: true}, {Head: "expected", Right: true}, {Head: "95 % range", Right: true}}}
	if t.Target != nil {
		out.Columns = append(out.Columns, render.Column{Head: "limits", Right: true}, render.Column{Head: "chance", Right: true})
	}
	chance := map[water.ID]string{}
	if t.Chance != nil {
		for k, x := range t.Targets {
			chance[x.ID] = plan.ChanceText(t.Chance.Of[k])
		}
	}
	for _, id := range t.book.Values(t.Change) {
		if id == water.PHValue {
			continue
		}
		v := t.book.Verdict(t.Work, id)
		if !v.Known && !v.Limited() {
			continue
		}
		blend, err := t.Work.Prediction.Blend(id)
		row := []render.Cell{{Text: labelOf(id)}, {Text: tenths(blend.Value, err == nil)}, stateCell(v, false), {Text: spanText(v)}}
		if t.Target != nil {
			row = append(row, render.Cell{Text: limitText(v.Min, v.Max)}, render.Cell{Text: chance[id]})
		}
		out.Rows = append(out.Rows, row)
	}
	for k, x := range t.Targets { // those that are no value of the liquor's own
		if t.Chance == nil || !x.Mash && x.ID != water.PHValue {
			continue
		}
		r, name := t.Chance.Ranges[k], "liquor pH"
		if x.Mash {
			name = "mash pH, 20 °C"
		}
		out.Rows = append(out.Rows, []render.Cell{{Text: name}, {}, {Text: fmt.Sprintf("%.2f", r.Value.Value)}, {Text: fmt.Sprintf("%.2f to %.2f", r.Low, r.High)},
			{Text: fmt.Sprintf("%.2f–%.2f", x.Min, x.Max)}, {Text: plan.ChanceText(t.Chance.Of[k])}})
	}
	out.Notes = append(out.Notes, fmt.Sprintf("alkalinity as CaCO3, as a titration to pH %g reads it", t.Work.Prediction.Plan.TitratedTo()))
	if t.Chance != nil && t.Chance.Drawn {
		out.Notes = append(out.Notes, "the chance of all together is corrected by 2,048 direct draws, which differ from the model")
	}
	return out
}

// spanText is the interval of a value over all that solids may do.
func spanText(v plan.TargetCheck) string {
	if !v.Known || !(v.Range.High > v.Range.Low) {
		return ""
	}
	decimals := decimalsOf(v.Range.High - v.Range.Low)
	return fixed(v.Range.Low, decimals) + " to " + fixed(v.Range.High, decimals)
}

func decimalsOf(width float64) int {
	switch {
	case width < 0.5:
		return 2
	case width < 3:
		return 1
	}
	return 0
}

// otherTable compares the alternatives.
func (t *Treatment) otherTable() render.Table {
	out := render.Table{Columns: []render.Column{{Head: "with"}, {Head: "doses", Wrap: true, Min: 24}, {Head: "cost", Right: true}, {Head: "chance", Right: true}, {Head: "limits missed", Wrap: true, Min: 14}}}
	if cost, ok := t.CostOf(t.Answer); ok && t.Chance != nil {
		out.Rows = append(out.Rows, []render.Cell{{Text: "as above"}, {}, {Text: fmt.Sprintf("%.2f", cost)}, {Text: plan.ChanceText(t.Chance.Wide)}, {}})
	}
	for _, o := range t.Others {
		if o.Err != nil {
			out.Rows = append(out.Rows, []render.Cell{{Text: o.What}, {Text: "no answer: " + o.Err.Error()}})
			continue
		}
		var doses, missed []string
		likely := ""
		if len(t.Work.Sources) > 1 {
			for _, w := range o.Answer.Plan.Waters {
				if i := slices.IndexFunc(t.Work.Sources, func(s plan.Source) bool { return s.Site == w.Name }); i < 0 || math.Abs(t.Work.Sources[i].Share-w.Share) > 0.005 {
					doses = append(doses, fmt.Sprintf("%.4g %% %s", 100*w.Share, w.Name))
				}
			}
		}
		for _, d := range o.Answer.Doses {
			doses = append(doses, fmt.Sprintf("%s %s %s", d.AmountText(), d.Unit, substanceText(d)))
		}
		if len(o.Answer.Chance.Of) > 0 {
			likely = plan.ChanceText(o.Answer.Chance.Wide)
		}
		for _, r := range o.Answer.Results {
			if r.Missed != 0 {
				missed = append(missed, fmt.Sprintf("%s %s", r.Target.Words(), water.Round(r.Value.Value, 3)))
			}
		}
		kept := "none"
		if len(o.Answer.Doses) < len(t.Answer.Doses) && o.Answer.Chance.Wide >= t.Question.Chance {
			kept += "; farther from the middle of the ranges"
		}
		price := ""
		if cost, priced := t.CostOf(o.Answer); priced {
			price = fmt.Sprintf("%.2f", cost)
		}
		out.Rows = append(out.Rows, []render.Cell{{Text: o.What}, {Text: strings.Join(doses, " · ")}, {Text: price}, {Text: likely}, {Text: cmp.Or(strings.Join(missed, ", "), kept)}})
	}
	return out
}
