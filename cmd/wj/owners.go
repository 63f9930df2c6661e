package main

import (
	"strings"
	"time"

	"wj/journal"
	"wj/journal/evidence"
	"wj/journal/portion"
	"wj/journal/writer"
)

type splitCmd struct {
	Dir   string `arg:"" help:"The folder of the new journal; it must not exist."`
	Owner string `required:"" placeholder:"ID" help:"Whose water goes along."`
}

func (c *splitCmd) Run(a *app) error {
	j, root, err := a.load(journal.Options{})
	if err != nil {
		return err
	}
	if err := resolve(j, &c.Owner, journal.KindOwner); err != nil {
		return withHint("owners: "+strings.Join(evidence.OwnersIn(j), ", "), "%w", err)
	}
	if err := journal.Outside(c.Dir); err != nil {
		return err
	}
	by, err := a.draft(j, root, journal.KindSession).Person(a.Now())
	if err != nil {
		return err
	}
	h, err := a.History(root)
	if err != nil {
		return err
	}
	defer h.Close()
	made, err := portion.Split(a.Context, h, c.Owner, c.Dir, by, a.Now().In(j.Settings.Zone))
	if err != nil {
		return err
	}
	if err := a.print(c.Dir + "\n"); err != nil {
		return err
	}
	for _, line := range made.Said() {
		a.say("%s", line)
	}
	if dirty, err := h.Dirty(nil); err == nil && len(dirty) > 0 {
		a.say("not in it: %s that %s not committed", journal.Count(len(dirty), "file"), map[bool]string{true: "is", false: "are"}[len(dirty) == 1])
	}
	a.say("look at it: wj -C %s verify; wj -C %s status", c.Dir, c.Dir)
	return nil
}

type joinCmd struct {
	Dir    string `arg:"" help:"The journal to bring in; it stays as it is."`
	Prefix string `required:"" placeholder:"PREFIX" help:"What stands before the names of its records here, such as mill."`
}

func (c *joinCmd) Run(a *app) error {
	j, root, err := a.load(journal.Options{Sessions: true})
	if err != nil {
		return err
	}
	by, err := a.draft(j, root, journal.KindSession).Person(a.Now())
	if err != nil {
		return err
	}
	h, err := a.History(root)
	if err != nil {
		return err
	}
	defer h.Close()
	made, err := portion.Join(a.Context, root, h, j, c.Dir, c.Prefix, by, a.Now().In(j.Settings.Zone))
	if err != nil {
		return err
	}
	if err := a.print(made.Commit + "\n"); err != nil {
		return err
	}
	for _, line := range made.Said() {
		a.say("%s", line)
	}
	return nil
}

type transferCmd struct {
	Site     string `arg:"" help:"The site that changes hands."`
	To       string `required:"" placeholder:"OWNER" help:"Whose water it is then."`
	From     string `required:"" placeholder:"DATE" help:"From which day on."`
	NoCommit bool   `help:"Write the record, do not commit."`
	DryRun   bool   `short:"n" help:"Print it and write nothing."`
}

func (c *transferCmd) Run(a *app) error {
	j, root, err := a.load(journal.Options{Sessions: true})
	if err != nil {
		return err
	}
	if err := resolve(j, &c.Site, journal.KindSite); err != nil {
		return err
	}
	if err := resolve(j, &c.To, journal.KindOwner); err != nil {
		return err
	}
	from, err := time.ParseInLocation(time.DateOnly, c.From, time.UTC)
	if err != nil {
		return withHint("such as --from 2026-07-01", "%q is no day", c.From)
	}
	site, _ := j.Sites.Get(c.Site)
	was, moved := site.Owner, portion.Moved(j, c.Site, from)
	content, err := portion.Transfer(j, site, c.To, from)
	if err != nil {
		return err
	}
	old, err := journal.Dir(root).ReadIfThere(site.Path)
	if err != nil {
		return err
	}
	if _, err := a.write(j, root, writer.Record{Files: []writer.File{{Path: site.Path, Old: old, New: content}}, Subject: "Transfer " + c.Site + " to " + c.To + " from " + c.From, Kept: c.NoCommit}, c.DryRun); err != nil || c.DryRun {
		return err
	}
	a.say("%s is %s's from %s on; what was sampled before stays %s's", c.Site, c.To, c.From, was)
	if j, err = a.Load(root, journal.Options{}); err != nil {
		return err
	}
	w, err := a.ProvenanceIfAny(j, root)
	if err != nil {
		return err
	}
	defer w.Close()
	if waits, err := portion.Waits(j, site, a.Facts(j, w)); err != nil {
		return err
	} else if waits {
		a.say("who decides over %s changes once others sign that: wj review %s, then wj sign %s", c.Site, c.Site, c.Site)
	}
	if moved > 0 {
		a.say("%s sampled since then %s the new owner's now", journal.Count(moved, "session"), map[bool]string{true: "is", false: "are"}[moved == 1])
	}
	return nil
}
