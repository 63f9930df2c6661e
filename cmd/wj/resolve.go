package main

import (
	"errors"
	"fmt"
	"os"
	"strings"

	"wj/journal"
	"wj/journal/merge"
	"wj/journal/writer"
)

type mergeDriverCmd struct {
	Base   string `arg:"" help:"What both began with (%O)."`
	Ours   string `arg:"" help:"The file that is merged into (%A)."`
	Theirs string `arg:"" help:"The other version (%B)."`
	Path   string `arg:"" help:"The file's name in the repository (%P)."`
}

func (c *mergeDriverCmd) Run(a *app) error {
	var content [3][]byte
	for i, name := range []string{c.Base, c.Ours, c.Theirs} {
		var err error
		if content[i], err = os.ReadFile(name); err != nil {
			return fmt.Errorf("merge %s: %w", c.Path, err)
		}
	}
	if len(content[0]) == 0 { // git gives an empty file where both added it
		content[0] = nil
	}
	merged, conflicts := merge.Record(c.Path, content[0], content[1], content[2])
	if err := os.WriteFile(c.Ours, merged, 0o666); err != nil {
		return fmt.Errorf("merge %s: %w", c.Path, err)
	}
	if len(conflicts) == 0 {
		return nil
	}
	a.say("%s: both sides have their own %s; wj resolve", c.Path, strings.Join(conflicts, ", "))
	return errFindings
}

type resolveCmd struct{}

func (c *resolveCmd) Run(a *app) error {
	root, err := a.root()
	if err != nil && !errors.Is(err, journal.ErrNoJournal) {
		return err
	}
	left, found, err := writer.Resolve(a.Context, root, a.print, a.say)
	switch {
	case err != nil:
		return err
	case !found:
		a.say("nothing has conflicts")
	case left > 0:
		a.say("%s left: edit the lines between the marks, then git add", journal.Count(left, "conflict"))
		return errFindings
	default:
		a.say("next: wj lint, then git commit (or git rebase --continue)")
	}
	return nil
}
