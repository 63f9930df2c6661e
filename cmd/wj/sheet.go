package main

import (
	"cmp"
	"errors"
	"slices"
	"strings"
	"time"

	"wj/journal"
	"wj/journal/judge"
	"wj/journal/plan"
	"wj/journal/source"
	"wj/lint"
	"wj/query/report"
	"wj/render"
)

type sheetCmd struct {
	ID     []string `arg:"" name:"id" help:"The approved change; several, such as those of mash and sparge, are printed one after the other."`
	Volume string   `placeholder:"QUANTITY" help:"How much liquor is treated today: \"1480 L\"; by default the volume of the change."`
	Format string   `enum:"text,markdown,html,json" default:"text" help:"${enum}; html prints on one A4 page."`
	Output string   `short:"o" placeholder:"FILE" help:"Write it to a file instead of standard output."`

	atFlag
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
	w, err := a.ProvenanceIfAny(j, root)
	if err != nil {
		return err
	}
	defer w.Close()
	if w.Line.Behind() && !a.LooksBack() {
		return withHint("git switch to the branch; --at HEAD prints the sheet as it was, not to dose from", "%s goes on after the checked-out commit, and what was decided since is not in it", w.Line.Base().Ref)
	}
	var sheets []report.Sheet
	for _, id := range c.ID {
		s, err := c.sheet(a, j, w, id)
		if err != nil {
			return err
		}
		sheets = append(sheets, s)
	}
	draw := func(o render.Output) string {
		var text strings.Builder
		for i, s := range sheets {
			if i > 0 {
				text.WriteString("\n")
			}
			if c.Format == "markdown" {
				text.WriteString(render.Clean(s.Document().Markdown()))
				continue
			}
			text.WriteString(render.Gate(o.Document(s.Document()), o.Colour))
		}
		return text.String()
	}
	switch c.Format {
	case "json":
		for _, s := range sheets {
			err = errors.Join(err, a.document("sheet", s.Sheet))
		}
		return err
	case "html":
		page, err := report.SheetPages(sheets)
		if err != nil {
			return err
		}
		draw = func(render.Output) string { return page }
	}
	if c.Output != "" {
		out := a.out
		out.Colour = false
		return a.replaceFile(c.Output, []byte(draw(out)))
	}
	if c.Format == "text" {
		return a.out.Show(draw)
	}
	return a.print(draw(a.out))
}

// sheet works one out, or says why there is none today.
func (c *sheetCmd) sheet(a *app, j *journal.Journal, w *source.Provenance, named string) (report.Sheet, error) {
	var none report.Sheet
	id, err := j.ID(named, journal.KindChange)
	if other, elsewhere := find(j, named); err != nil && elsewhere == nil {
		return none, withHint("wj ls changes lists them", "%s is a %s, not a change", other.ID, other.Kind)
	}
	if err != nil {
		return none, err
	}
	change, ok := j.Changes.Get(id)
	if !ok {
		return none, withHint("wj lint "+id, "%s cannot be read", id)
	}
	volume, _, err := plan.LitresOf(cmp.Or(c.Volume, change.Volume.String()), "--volume \"1480 L\"")
	if err != nil {
		return none, advised(err)
	}
	judged := judge.NewChanges(j, a.Facts(j, w)).Change(change)
	policy := j.Settings.Policy
	if w.Base != nil {
		policy = w.Base.Settings.Policy
	}
	found, reasons, err := plan.Open(j).Sheet(judged, policy, a.Now().In(j.Settings.Zone), volume, lint.DoseLimits(j), verifying(j))
	if err != nil {
		return none, err
	}
	if len(reasons) > 0 {
		for _, r := range reasons {
			a.say("no sheet: %s", r)
		}
		hint := "wj review " + id + "; wj treat finds a new dose"
		if judged.State == judge.VoidState {
			hint = "wj review " + id + "; take the edit back, or have it reviewed and signed anew"
		}
		return none, withHint(hint, "%s may not be dosed today", id)
	}
	if a.LooksBack() {
		found.Notes = slices.Insert(found.Notes, 0, "NOT TO DOSE FROM: this is how the sheet was "+a.Now().In(j.Settings.Zone).Format("on 2006-01-02 at 15:04"))
	}
	return report.Sheet{Sheet: found}, nil
}
