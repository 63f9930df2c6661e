package main

import (
	"fmt"
	"strings"
	"time"

	"wj/journal"
	"wj/journal/judge"
	"wj/journal/plan"
	"wj/lint"
	"wj/render"
	"wj/water"
)

type sheetCmd struct {
	ID     string `arg:"" help:"The approved change."`
	Volume string `placeholder:"QUANTITY" help:"How much liquor is treated today: \"1480 L\"; by default the volume of the change."`
	Format string `enum:"text,markdown,html,json" default:"text" help:"${enum}; html prints on one A4 page."`
	Output string `short:"o" placeholder:"FILE" help:"Write it to a file instead of standard output."`
}

func (c *sheetCmd) Help() string {
	return "Prints the sheet to dose from: waters, weighed amounts, the order of work, cautions, boxes for what was weighed and two initials. " +
		"Only from a change whose approval is valid at this moment, recomputed with the newest session of each site; else it says why not. Print it fresh for every brew."
}

// brewSheet is a sheet as it is drawn.
type brewSheet struct{ *plan.Sheet }

func (s brewSheet) volume() string { return litresText(s.Volume) }

// verifying is how often a change's liquor is tested.
func verifying(j *journal.Journal) plan.Verifying {
	const rule = "change/not-verified"
	return plan.Verifying{Every: int(lint.Setting(j, rule, "every")), Within: time.Duration(lint.Setting(j, rule, "within") * 24 * float64(time.Hour))}
}

func (c *sheetCmd) Run(a *app) error {
	j, root, err := a.load(journal.Options{Sessions: true})
	if err != nil {
		return err
	}
	id, err := j.ID(c.ID, journal.KindChange)
	if other, elsewhere := find(j, c.ID); err != nil && elsewhere == nil {
		return withHint("wj ls changes lists them", "%s is a %s, not a change", other.ID, other.Kind)
	}
	if err != nil {
		return err
	}
	change, _ := j.Changes.Get(id)
	if c.Volume == "" {
		c.Volume = change.Volume.String()
	}
	_, litres, err := plan.LitresOf(c.Volume, "--volume \"1480 L\"")
	if err != nil {
		return advised(err)
	}
	w, err := a.witnessIfAny(j, root)
	if err != nil {
		return err
	}
	defer w.close()
	judged := judge.NewChanges(j, a.facts(j, w)).Change(change)
	policy := j.Settings.Policy
	if w.base != nil {
		policy = w.base.Settings.Policy
	}
	found, reasons, err := plan.Open(j).Sheet(judged, policy, a.now().In(j.Settings.Zone), litres, lint.DoseLimits(j), verifying(j))
	if err != nil {
		return err
	}
	if len(reasons) > 0 {
		for _, r := range reasons {
			a.say("no sheet: %s", r)
		}
		hint := "wj review " + id + "; wj treat finds a new dose"
		if judged.State == judge.VoidState {
			hint = "wj review " + id + "; take the edit back, or have it reviewed and signed anew"
		}
		return withHint(hint, "%s may not be dosed today", id)
	}
	s := brewSheet{found}
	var text string
	switch c.Format {
	case "json":
		return a.document("sheet", found)
	case "html":
		if text, err = s.html(); err != nil {
			return err
		}
	case "markdown":
		text = render.Clean(s.panel().markdown())
	default:
		out := a.out
		if c.Output != "" {
			out.Colour = false
		}
		text = render.Gate(s.panel().text(out), out.Colour)
	}
	if c.Output != "" {
		return a.replaceFile(c.Output, []byte(text))
	}
	return a.print(text)
}

// panel is the sheet for a terminal and for Markdown.
func (s brewSheet) panel() *panel {
	p := &panel{title: strings.TrimSpace(s.Brewery + " · water sheet · " + s.volume() + " for " + s.Target)}
	p.line("change", "%s", s.Change)
	p.line("digest", "sha256 %s", s.Digest)
	p.line("printed", "%s; for this brew alone, print it fresh for the next", s.Printed)
	if s.Emergency != "" {
		p.line("EMERGENCY", "%s", s.Emergency)
	} else {
		p.list("approved", s.Approval)
	}
	for _, line := range s.Headline {
		p.line("answer", "%s", line)
	}
	p.list("waters", s.Waters)
	for _, n := range s.Notes {
		p.line("note", "%s", n)
	}
	t := render.Table{Columns: []render.Column{{Head: "dose for " + s.volume(), Wrap: true, Min: 16}, {Head: "strength", Wrap: true, Min: 12}, {Head: "lot"}, {Head: "amount", Right: true}, {Head: "per hL", Right: true}, {Head: "at most", Right: true}}, Notes: []string{s.Scale}}
	for _, d := range s.Work.Prediction.Doses {
		t.Rows = append(t.Rows, []render.Cell{{Text: substanceText(d)}, {Text: shortStrength(d)}, {Text: d.Lot}, {Text: d.AmountText() + " " + d.Unit.String()}, {Text: water.Round(d.PerHectolitre(), 3) + " " + d.Unit.String()},
			{Text: floorAmount(d.Most) + " " + d.Unit.String()}})
	}
	p.table("", t)
	t = render.Table{Columns: []render.Column{{Head: "", Right: true}, {Head: "do", Wrap: true, Min: 30}, {Head: "amount", Right: true}, {Head: "weighed"}, {Head: "initials"}}}
	for i, step := range s.Steps {
		row := []render.Cell{{Text: fmt.Sprint(i + 1)}, {Text: step.Do}, {Text: step.Amount}}
		if step.Tick {
			row = append(row, render.Cell{Text: "[         ]"}, render.Cell{Text: "[    ] [    ]"})
		}
		t.Rows = append(t.Rows, row)
	}
	p.table("", t)
	p.list("expect", s.expectation())
	p.line("chlorine", "%s", s.Chlorine)
	p.line("mash pH", "%s", s.Mash)
	p.line("verify", "%s", s.Verify)
	for _, c := range plan.Handling(s.Work.Prediction) {
		p.line("care", "%s", c)
	}
	p.line("care", "the label, the safety data sheet and the local code come before this sheet; a second person reads every label")
	p.line("record", "%s", s.Record)
	return p
}

func (s brewSheet) expectation() []string {
	var out []string
	for _, v := range s.Expected {
		if !v.Known || !v.Limited() && v.ID != water.ResidualAlkalinity {
			continue
		}
		text := fmt.Sprintf("%s %s", labelOf(v.ID), strings.TrimSuffix(strings.TrimSuffix(plan.Text(v.Value), " mg/L CaCO3"), " mg/L"))
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
