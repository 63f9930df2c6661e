package main

import (
	"fmt"

	"wj/journal"
	"wj/journal/frontmatter"
	"wj/journal/history"
)

type voidCmd struct {
	ID       string `arg:"" help:"The record's id, or its path."`
	Reason   string `short:"r" placeholder:"TEXT" help:"Why the whole record is wrong."`
	By       string `placeholder:"ID" help:"Who declares it; by default the person with your git address."`
	NoCommit bool   `help:"Write the file and leave the commit to me."`
	DryRun   bool   `short:"n" help:"Print the file as it would be and write nothing."`
}

func (c *voidCmd) Help() string {
	return "A wrong record is never deleted: it stays, is marked void with who, when and why, and no longer counts. What rests on it is listed. " +
		"Record what is right anew with wj new."
}

func (c *voidCmd) Run(a *app) error {
	e, err := a.startEdit(c.ID, c.By, c.Reason, c.NoCommit || c.DryRun)
	if err != nil {
		return err
	}
	if c.Reason == "" {
		return withHint("--reason \"sampled at the wrong tap\"", "a void record needs its reason")
	}
	if _, there := e.d.Child(0, "void"); there {
		return fmt.Errorf("%s is void already", e.file.ID)
	}
	mark := fmt.Sprintf("{by: %s, on: %s, reason: %s}", frontmatter.Quote(e.by), journal.FormatTime(e.now), frontmatter.Quote(c.Reason))
	edit, err := frontmatter.AppendKey(&e.d, 0, "void", mark)
	if err != nil {
		return fmt.Errorf("edit %s: %w", e.file.Path, err)
	}
	if err := e.make(edit); err != nil {
		return err
	}
	if err := e.check([]string{"void"}); err != nil {
		return err
	}
	return e.finish(c.DryRun, c.NoCommit, shortened("Void "+e.file.ID+": "+c.Reason, 100),
		history.Trailer{Key: "Voids", Value: e.file.ID}, history.Trailer{Key: "Reason", Value: c.Reason})
}
