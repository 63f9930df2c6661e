package main

import (
	"strconv"
	"time"

	"wj/journal"
	"wj/journal/judge"
	"wj/query/report"
)

// changes lists the water changes, each with the state that follows from the
// records and their history.
func (c *lsCmd) changes(a *app, j *journal.Journal, root string, in func(time.Time) bool) error {
	w, err := a.provenanceIfAny(j, root)
	if err != nil {
		return err
	}
	defer w.close()
	judgement := judge.NewChanges(j, a.facts(j, w))
	l := &listing{columns: heads("id", "state", "author", "proposed", "batches#")}
	machine := c.Format != "table" // for a person the id and the state say them
	if machine {
		l.columns = append(l.columns, heads("for", "supersedes")...)
	}
	for _, r := range j.Changes.List {
		if !in(r.Proposed) {
			continue
		}
		judged := judgement.Change(r)
		row := []string{r.ID, report.MarkText(r.Void, judged.State.String()), r.Author, day(r.Proposed), strconv.Itoa(len(judged.Batches))}
		if machine {
			row = append(row, r.For, r.Supersedes)
		}
		l.add(row...)
	}
	if len(l.rows) == 0 {
		a.say("no changes")
		return errFindings
	}
	return l.print(a, c.Format)
}
