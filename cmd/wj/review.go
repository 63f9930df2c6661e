package main

import (
	"wj/journal"
	"wj/journal/diff"
	"wj/journal/evidence"
	"wj/journal/history"
	"wj/journal/judge"
	"wj/journal/source"
	"wj/query/report"
)

type reviewCmd struct {
	ID      string `arg:"" optional:"" help:"The record to look at before signing it; or a branch, or A...B, that need not be checked out."`
	Waiting bool   `help:"What waits for a decision, and for whom: changes, requests, rivals, rules, records that policy wants signed."`
	Person  string `placeholder:"ID" help:"With --waiting: what waits for this person alone."`
	All     bool   `help:"Nothing shortened."`
	Format  string `enum:"text,markdown,html,json" default:"text" help:"${enum}."`

	asOf
}

func (c *reviewCmd) Run(a *app) error {
	switch {
	case c.Waiting:
		return c.waiting(a)
	case c.ID == "":
		return withHint("wj review ID; or wj review --waiting", "no record is named")
	case c.Person != "":
		return withHint("wj review --waiting --person "+c.Person, "--person goes with --waiting")
	}
	root, err := a.root()
	if err != nil {
		return err
	}
	files, err := a.Files(root)
	if err != nil {
		return err
	}
	settings, err := journal.ReadSettings(files)
	if err != nil {
		return err
	}
	if err := c.set(a, settings.Zone); err != nil {
		return err
	}
	if diff.IsRange(c.ID) {
		return c.branch(a, root, settings.Zone)
	}
	if c.ID == journal.SettingsFile {
		j, root, err := a.load(journal.Options{Check: true, Sessions: true})
		if err != nil {
			return err
		}
		return c.settings(a, j, root)
	}
	j, root, f, err := a.loadAround(c.ID)
	if err != nil && a.isBranch(root, c.ID, settings.Zone) {
		return c.branch(a, root, settings.Zone)
	}
	if err != nil {
		return err
	}
	_, record, err := j.ReadRecord(f)
	if err != nil {
		return err
	}
	if record == nil {
		return withHint("wj lint "+f.ID, "%s has no front matter that can be read", f.Path)
	}
	w, err := a.Provenance(j, root, evidence.Options{}, false)
	if err != nil {
		a.say("history is not known here: %s", history.Reason(err))
		w = a.ProvenanceOrNone(j, root)
	}
	defer w.Close()
	q := report.ReviewRequest{Now: a.Now(), Changes: judge.NewChanges(j, a.Facts(j, w)), Base: w.Base, BaseName: w.BaseName, Digest: digestOf(j, record)}
	if _, change := record.(*journal.Change); !change && w.History != nil {
		if q.History, q.Older, err = a.historyLines(w, j, f); err != nil {
			return err
		}
	}
	r, err := report.NewReview(j, f, q)
	if err != nil {
		return err
	}
	if c.Format == "json" {
		return a.showJSON(r)
	}
	return a.show(r.Document(c.All || c.Format != "text"), c.Format)
}

// settings is the review of wj.yaml, by which everything else is judged.
func (c *reviewCmd) settings(a *app, j *journal.Journal, root string) error {
	w, err := a.ProvenanceIfAny(j, root)
	if err != nil {
		return err
	}
	defer w.Close()
	statement, err := evidence.Prepare(j, journal.File{Kind: journal.KindSettings, ID: journal.SettingsFile, Path: journal.SettingsFile}, nil, nil)
	if err != nil {
		return err
	}
	r := report.NewSettingsReview(j, report.ReviewRequest{Now: a.Now(), Changes: judge.NewChanges(j, a.Facts(j, w)), Base: w.Base, BaseName: w.BaseName, Digest: statement.Short()})
	if c.Format == "json" {
		return a.showJSON(r)
	}
	return a.show(r.Document(c.All || c.Format != "text"), c.Format)
}

// historyLines is the record's history, the newest first, one line a commit.
func (a *app) historyLines(w *source.Provenance, j *journal.Journal, f journal.File) (lines []string, older int, err error) {
	entries, walked, err := evidence.RecordLog(a.Context, w.History, j, f)
	if err != nil {
		return nil, 0, err
	}
	a.sayWalked(walked)
	lines, older = report.NewLog(entries, 0, false).Lines(8)
	return lines, older, nil
}

// digestOf is the short digest of all that a sign-off of the record covers.
func digestOf(j *journal.Journal, record journal.Any) string {
	r := record.Base()
	statement, err := evidence.Prepare(j, journal.File{Kind: r.Kind, ID: r.ID, Path: r.Path}, record, nil)
	if err != nil {
		return "…"
	}
	return statement.Short()
}
