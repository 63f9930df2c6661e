package main

import (
	"strconv"
	"strings"
	"time"

	"wj/journal"
	"wj/journal/evidence"
	"wj/journal/judge"
	"wj/query/report"
)

// changes lists the water changes, each with the state that follows from the
// records and their history.
func (c *lsCmd) changes(a *app, j *journal.Journal, root string, in func(time.Time) bool) (*listing, error) {
	w, err := a.ProvenanceIfAny(j, root)
	if err != nil {
		return nil, err
	}
	defer w.Close()
	judgement := judge.NewChanges(j, a.Facts(j, w))
	l := &listing{columns: heads("id", "state", "author", "proposed", "batches#")}
	machine := c.Format != "table" // for a person the id and the state say them
	if machine {
		l.columns = append(l.columns, heads("for", "supersedes", "signer")...)
	}
	for _, r := range j.Changes.List {
		if !in(r.Proposed) {
			continue
		}
		judged := judgement.Change(r)
		state := judged.Words()
		if !machine {
			state += judged.SignerNote()
		}
		row := []string{r.ID, report.MarkText(r.Void, state), r.Author, day(r.Proposed), strconv.Itoa(len(judged.Batches))}
		if machine {
			row = append(row, r.For, r.Supersedes, strings.Trim(judged.SignerNote(), " ()"))
		}
		l.add(row...)
	}
	if len(l.rows) == 0 {
		a.say("no changes")
		return nil, errFindings
	}
	return l, nil
}

// signoffs lists the sign-offs, each with what it is worth and what shows who signed.
func (c *lsCmd) signoffs(a *app, j *journal.Journal, root string, in func(time.Time) bool) (*listing, error) {
	w, err := a.ProvenanceIfAny(j, root)
	if err != nil {
		return nil, err
	}
	defer w.Close()
	facts := a.Facts(j, w)
	machine := c.Format != "table" // for a person the id has the day and the signer
	l := &listing{columns: heads("id", "of", "decision", "signer")}
	if machine {
		l.columns = append(l.columns, heads("by", "on", "standing")...)
	}
	for _, s := range j.Signoffs.List {
		if !in(s.On) {
			continue
		}
		v := evidence.Judge(j, s, facts)
		signer := "signed by " + s.By
		if v.Claim {
			signer = "signer not verified"
		}
		switch {
		case machine:
			l.add(s.ID, s.Of, s.Decision, signer, s.By, day(s.On), v.Standing.String())
		case v.Standing == evidence.InForce:
			l.add(s.ID, s.Of, s.Decision, signer)
		default:
			l.add(s.ID, s.Of, s.Decision+", "+v.Standing.String(), signer)
		}
	}
	if len(l.rows) == 0 {
		a.say("no signoffs")
		return nil, errFindings
	}
	return l, nil
}
