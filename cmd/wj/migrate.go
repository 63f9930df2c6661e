package main

import (
	"errors"
	"fmt"
	"os"
	"strings"

	"wj/journal"
	"wj/journal/exchange"
	"wj/journal/history"
	"wj/journal/migrate"
	"wj/journal/writer"
)

type migrateCmd struct {
	NoCommit bool `help:"Write the files, do not commit."`
	DryRun   bool `short:"n" help:"Say what would become different, write nothing."`
}

func (c *migrateCmd) Run(a *app) error {
	root, err := a.root()
	if err != nil {
		return err
	}
	id, err := c.id(a, root)
	if err != nil {
		return err
	}
	p, err := migrate.New(os.DirFS(root), migrate.Steps, journal.Format, id)
	if err != nil {
		return err
	}
	if len(p.Files) == 0 {
		a.say("format %d is the newest, and the journal has its id: nothing to do", p.To)
		return nil
	}
	for _, line := range p.Says {
		a.say("%s", line)
	}
	r := writer.Record{Kept: c.NoCommit, Subject: fmt.Sprintf("Migrate the journal to format %d", p.To)}
	if p.From == p.To {
		r.Subject = "Write the journal's id into " + journal.SettingsFile
	}
	for _, f := range p.Files {
		r.Files = append(r.Files, writer.File{Path: f.Path, Old: f.Old, New: f.New})
	}
	if len(p.Signed) > 0 {
		a.say("%s no longer hold and must be signed again: %s", journal.Count(len(p.Signed), "sign-off"), strings.Join(p.Signed, ", "))
	}
	j, err := journal.Load(os.DirFS(root), journal.Options{Sessions: true, Check: true})
	if err != nil {
		return err
	}
	_, err = a.write(j, root, r, c.DryRun)
	return err
}

// id is the one by which exports of a journal were known that has none in wj.yaml.
func (c *migrateCmd) id(a *app, root string) (string, error) {
	settings, err := journal.ReadSettings(os.DirFS(root))
	if err != nil {
		return "", err
	}
	h, err := a.Repository(root)
	if err == nil {
		defer h.Close()
		if dirty, err := h.Dirty(nil); err != nil || len(dirty) > 0 {
			return "", errors.Join(err, withHint("commit, or git stash", "%s not committed", journal.Count(len(dirty), "file")))
		}
		if settings.Journal == "" && h.Shallow() {
			return "", withHint("git fetch --unshallow", "this copy does not reach back to the journal's first commit, from which its id comes")
		}
	} else if !errors.Is(err, history.ErrNoRepository) {
		return "", err
	}
	o, _, err := exchange.OriginOf(a.Context, func() (*history.History, error) { return a.Repository(root) }, &journal.Journal{FS: os.DirFS(root), Settings: settings}, "", nil)
	if o.JournalID == "unborn" {
		o.JournalID = journal.NewJournalID(settings.Name)
	}
	return o.JournalID, err
}
