package main

import (
	"wj/journal"
	"wj/journal/judge"
	"wj/lint"
	"wj/query/report"
)

// waiting lists what waits for a decision, of one person or of all.
func (c *reviewCmd) waiting(a *app) error {
	if c.ID != "" {
		return withHint("wj review --waiting", "--waiting lists all records")
	}
	if c.Format != "text" && c.Format != "json" {
		return withHint("--format text or json", "--waiting has no %s", c.Format)
	}
	j, root, err := a.load(journal.Options{Check: true, Sessions: true})
	if err != nil {
		return err
	}
	if err := c.set(a, j.Settings.Zone); err != nil {
		return err
	}
	if err := resolve(j, &c.Person, journal.KindPerson); err != nil {
		return err
	}
	w, err := a.ProvenanceIfAny(j, root)
	if err != nil {
		return err
	}
	defer w.Close()
	var base *journal.Journal
	if w.Base != nil {
		if base, err = journal.Load(w.Base.FS, journal.Options{}); err != nil {
			return err
		}
	}
	list, err := judge.Waiting(j, judge.NewChanges(j, a.Facts(j, w)), base, w.BaseName, c.Person, lint.IsErrorIn)
	if err != nil {
		return err
	}
	r := report.NewWaiting(j, list, c.Person, a.Now())
	if c.Format == "json" {
		return a.showJSON(r)
	}
	return a.screen(r.Document())
}
