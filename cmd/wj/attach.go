package main

import (
	"path/filepath"

	"wj/journal"
	"wj/journal/history"
	"wj/journal/writer"
)

type attachCmd struct {
	ID       string   `arg:"" help:"The record: a session, a lot, an instrument, or any other."`
	Files    []string `arg:"" name:"file" help:"Photos, certificates, slips."`
	By       string   `placeholder:"ID" help:"Who attaches it; by default the person with your git address."`
	Anyway   bool     `help:"Also to a record that a sign-off covers: it must be signed again then."`
	NoCommit bool     `help:"Write the files, do not commit."`
	DryRun   bool     `short:"n" help:"Show the record as it would be, write nothing."`
}

func (c *attachCmd) Run(a *app) error {
	e, root, err := a.startEdit(c.ID, c.By, "attached", c.NoCommit || c.DryRun)
	if err != nil {
		return err
	}
	if s := e.SignedBy(); s != "" && !c.Anyway {
		return withHint("attach it to a session or an event about it; or --anyway, and have it signed again", "the sign-off %s covers %s as it is, and would no longer hold", s, e.File.ID)
	}
	r := writer.Record{Kept: c.NoCommit, Subject: "Attach to " + e.File.ID + ":"}
	for _, name := range c.Files {
		content, err := readLimited(name, journal.MaxAttachment)
		if err != nil {
			return err
		}
		f, err := e.Attach(filepath.Base(name), content)
		if err != nil {
			return err
		}
		r.Files, r.Subject = append(r.Files, f), r.Subject+" "+filepath.Base(f.Path)
		r.Trailers = append(r.Trailers, history.Trailer{Key: "Attaches", Value: f.Path})
	}
	r.Files = append(r.Files, e.Result())
	_, err = a.write(e.Journal, root, r, c.DryRun)
	return err
}
