package main

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"

	"wj/journal"
	"wj/journal/exchange"
	"wj/journal/exchange/dataset"
	"wj/journal/history"
	"wj/journal/writer"
	"wj/render"
)

// restore brings the records of a complete export back: into the journal at hand, or into an empty folder.
func (c *importCmd) restore(a *app) error {
	root, err := journal.FindRoot(a.Dir)
	if errors.Is(err, journal.ErrNoJournal) {
		if root, err = emptyFolder(a.Dir); err != nil {
			return err
		}
	}
	if err != nil {
		return err
	}
	plan, err := exchange.Restore(journal.Dir(root), c.File, c.Journal, nil)
	var several *dataset.Several
	if errors.As(err, &several) {
		err = journal.Hint("wj import "+c.File+" --journal "+several.IDs[0], "%w", err)
	}
	if err != nil {
		return fmt.Errorf("import %s: %w", c.File, err)
	}
	for _, p := range plan.Problems {
		a.say("cannot be restored: %s", render.Line(p.Error()))
	}
	for _, path := range plan.Differ {
		a.say("differs from the export and stays as it is: %s", render.Line(path))
	}
	for _, path := range plan.Edited {
		a.say("changed after the export, written from its columns: %s; sign-offs that cover it end", render.Line(path))
	}
	if !plan.Complete {
		a.say("the export is of a part of journal %s: what it lacks is not restored", plan.JournalID)
	}
	faulty := len(plan.Problems)+len(plan.Differ) > 0
	switch {
	case faulty && !c.Partial:
		return withHint("--partial takes the other "+journal.Count(plan.New, "record"), "nothing was imported")
	case c.DryRun:
		a.say("dry run: %s would be written, %d are there already", journal.Count(plan.New, "record"), plan.Same)
		return nil
	case plan.New == 0:
		a.say("nothing to do: %s are there already", journal.Count(plan.Same, "record"))
		return nil
	}
	m := a.progress("record", plan.New)
	done := 0
	_, err = exchange.Restore(journal.Dir(root), c.File, c.Journal, func(records []dataset.Record) error {
		r := writer.Record{Kept: c.NoCommit, Subject: fmt.Sprintf("Restore %s of %s from %s", journal.Count(len(records), "record"), plan.JournalID, render.Line(filepath.Base(c.File))),
			Trailers: []history.Trailer{{Key: "Restored-From", Value: plan.Commit}}}
		for _, record := range records {
			r.Files = append(r.Files, writer.File{Path: record.Path, New: record.Content})
		}
		out, err := writer.Write(a.Context, root, r)
		if err == nil {
			done += len(records)
			m.At(done)
			if done == plan.New {
				m.End()
				a.say("wrote %s", journal.Count(done, "record"))
				a.saidCommit(root, out)
			}
		}
		return err
	})
	m.End()
	if err != nil {
		return fmt.Errorf("%s written: %w", journal.Count(done, "record"), err)
	}
	if faulty {
		return errFindings
	}
	return nil
}

// emptyFolder is a folder that has nothing in it but a repository.
func emptyFolder(dir string) (string, error) {
	root, err := filepath.Abs(dir)
	if err != nil {
		return "", err
	}
	entries, err := os.ReadDir(root)
	for _, e := range entries {
		if !strings.HasPrefix(e.Name(), ".git") {
			return "", withHint("go to the journal, or to an empty folder: mkdir restored && wj -C restored import …", "%s is no journal, and not empty", dir)
		}
	}
	return root, err
}
