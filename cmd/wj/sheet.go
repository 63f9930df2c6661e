package main

import (
	"slices"
	"time"

	"wj/journal"
	"wj/journal/judge"
	"wj/journal/plan"
	"wj/lint"
	"wj/query/report"
	"wj/render"
)

type sheetCmd struct {
	ID     string `arg:"" help:"The approved change."`
	Volume string `placeholder:"QUANTITY" help:"How much liquor is treated today: \"1480 L\"; by default the volume of the change."`
	Format string `enum:"text,markdown,html,json" default:"text" help:"${enum}; html prints on one A4 page."`
	Output string `short:"o" placeholder:"FILE" help:"Write it to a file instead of standard output."`

	atFlag
}

func (c *sheetCmd) Help() string {
	return "Prints the sheet to dose from: waters, weighed amounts, the order of work, cautions, boxes for what was weighed and two initials. " +
		"Only from a change whose approval is valid at this moment, recomputed with the newest session of each site; else it says why not. Print it fresh for every brew."
}

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
	if a.looksBack() {
		found.Notes = slices.Insert(found.Notes, 0, "NOT TO DOSE FROM: this is how the sheet was "+a.now().In(j.Settings.Zone).Format("on 2006-01-02 at 15:04"))
	}
	s := report.Sheet{Sheet: found}
	var text string
	switch c.Format {
	case "json":
		return a.document("sheet", found)
	case "html":
		if text, err = s.Page(); err != nil {
			return err
		}
	case "markdown":
		text = render.Clean(s.Document().Markdown())
	default:
		out := a.out
		if c.Output != "" {
			out.Colour = false
		}
		text = render.Gate(out.Document(s.Document()), out.Colour)
	}
	if c.Output != "" {
		return a.replaceFile(c.Output, []byte(text))
	}
	return a.print(text)
}
