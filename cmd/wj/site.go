package main

import (
	"errors"
	"path/filepath"

	"wj/journal"
	"wj/journal/evidence"
	"wj/journal/history"
	"wj/lint/look"
	"wj/query/report/website"
	"wj/render/site"
)

type siteCmd struct {
	Output   string `short:"o" required:"" placeholder:"DIR" help:"The folder; made if it is missing. Only pages that wj wrote are replaced or removed in it."`
	Owner    string `placeholder:"ID" help:"The water of this owner alone. Nothing of other owners is in the folder."`
	Contacts bool   `help:"Show e-mail addresses. Public keys are never shown."`
	Wall     bool   `help:"Also wall.html: large type for a screen on the wall, which reads itself again every minute. Run wj site again to renew it."`

	asOf
}

func (c *siteCmd) Run(a *app) error {
	j, root, err := a.load(journal.Options{Check: true, Sessions: true})
	if err != nil {
		return err
	}
	if err := errors.Join(resolve(j, &c.Owner, journal.KindOwner), c.set(a, j.Settings.Zone)); err != nil {
		return err
	}
	var extract *website.Extract
	whole := j
	if c.Owner != "" {
		if j, extract, err = website.OneOwner(j, c.Owner); err != nil {
			return err
		}
	}
	if err := siteFolder(c.Output, extract.Of()); err != nil {
		return err
	}
	w := a.ProvenanceOrNone(whole, root)
	defer w.Close()
	q := website.Request{Now: a.Now(), Base: w.Base, BaseName: w.BaseName, Contacts: c.Contacts, Wall: c.Wall, Extract: extract}
	if w.History != nil {
		var walked history.Walked
		if q.History, walked, err = evidence.AllLog(a.Context, w.History); err != nil {
			return err
		}
		a.sayWalked(walked)
	}
	if extract == nil { // of an extract only what its records show
		if q.Tasks, err = a.toDos(j, root); err != nil {
			return err
		}
		if w.Line != nil {
			q.Lint.History = (&look.Ground{Source: &a.Source, Root: root}).Facts(w.History, w.Line.Head(), j, w.Working)
		}
	}
	q.Lint.Facts = a.Facts(j, w)
	meter := a.progress("page", len(j.Files))
	q.Progress = meter.At
	files, err := website.Pages(j, q)
	meter.End()
	if err != nil {
		return err
	}
	return a.writeSite(c.Output, extract.Of(), files)
}

// siteFolder refuses a folder that pages must not go to.
func siteFolder(dir, of string) error {
	err := site.Check(dir, of)
	for _, name := range []string{"", journal.SettingsFile, "index.md"} {
		err = errors.Join(journal.Outside(filepath.Join(dir, name)), err)
	}
	if err != nil {
		return withHint("name another folder", "%w", err)
	}
	return nil
}

// writeSite brings a folder to its pages, and says what came of it.
func (a *app) writeSite(dir, of string, files map[string]string) error {
	if err := siteFolder(dir, of); err != nil {
		return err
	}
	done, err := site.Write(dir, of, files)
	if errors.Is(err, site.ErrForeign) {
		return withHint("name a new folder, or move what is in the way", "%w", err)
	}
	if err != nil {
		return err
	}
	return a.print(filepath.ToSlash(filepath.Join(dir, "index.html")) + ": " + done.Report() + "\n")
}
