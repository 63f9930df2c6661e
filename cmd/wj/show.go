package main

import (
	"fmt"

	"wj/journal"
	"wj/journal/judge"
	"wj/lint"
	"wj/query/report"
)

type showCmd struct {
	ID     string `arg:"" help:"The record's id (its file name without .md), a part of it that is unique, or its path."`
	All    bool   `help:"Everything that follows from it; without it what fits on a screen."`
	Format string `enum:"text,markdown,html,json" default:"text" help:"${enum}."`

	atFlag
}

func (c *showCmd) Run(a *app) error {
	j, root, err := a.load(journal.Options{Check: true})
	if err != nil {
		return err
	}
	f, err := find(j, c.ID)
	if err != nil {
		return err
	}
	r, err := a.record(j, root, f, a.LoadAround(j, f))
	if err != nil {
		return err
	}
	if c.Format == "json" {
		return a.showJSON(r)
	}
	return a.show(r.Document(c.All || c.Format != "text"), c.Format)
}

// record is one record as show draws it.
func (a *app) record(j *journal.Journal, root string, f journal.File, around *lint.Present) (*report.Record, error) {
	q := report.RecordRequest{Now: a.Now(), Around: around}
	if judge.Approves(f.Kind) {
		w := a.ProvenanceOrNone(j, root)
		defer w.Close()
		q.Facts = a.Facts(j, w)
	}
	r, err := report.NewRecord(j, f, q)
	if err != nil {
		return nil, err
	}
	if r.Readable() {
		return r, nil
	}
	for _, finding := range r.Problems() {
		if err := a.print(a.out.Finding(toFinding(finding, f.Path))); err != nil {
			return nil, err
		}
	}
	return nil, fmt.Errorf("%s has no front matter that can be read", f.Path)
}
