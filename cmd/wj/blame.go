package main

import (
	"wj/journal"
	"wj/journal/evidence"
	"wj/query/report"
)

type blameCmd struct {
	ID     string `arg:"" help:"The record's id, or its path."`
	Field  string `arg:"" optional:"" help:"One field only, with all that it ever was: sulfate, readings.sulfate.lot, site."`
	Format string `enum:"text,json" default:"text" help:"${enum}."`

	atFlag
}

func (c *blameCmd) Run(a *app) error {
	j, root, err := a.load(journal.Options{})
	if err != nil {
		return err
	}
	f, err := find(j, c.ID)
	if err != nil {
		return err
	}
	h, err := a.History(root)
	if err != nil {
		return err
	}
	defer h.Close()
	versions, walked, err := evidence.Versions(a.Context, h, j, f)
	if err != nil {
		return err
	}
	a.sayWalked(walked)
	if len(versions) == 0 {
		return withHint("wj lint "+f.ID, "%s has no content that can be read", f.Path)
	}
	b, err := report.NewBlame(f, versions, c.Field)
	if err != nil {
		return err
	}
	if c.Format == "json" {
		err = a.showJSON(b)
	} else {
		err = a.out.Show(b.Text)
	}
	if silent := b.Silent(); err == nil && silent > 0 {
		a.say("%s changed in Git without an amendment in the file", journal.Count(silent, "recorded value"))
		a.say("to set it right: wj amend %s KEY VALUE --reason …, or restore the old value (wj log %s)", f.ID, f.ID)
		return errFindings
	}
	return err
}
