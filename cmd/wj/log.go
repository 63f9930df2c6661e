package main

import (
	"errors"
	"strings"

	"wj/journal"
	"wj/journal/evidence"
	"wj/journal/history"
	"wj/query/report"
	"wj/render"
)

type logCmd struct {
	ID     string `arg:"" help:"A record's id, or a site: everything that was recorded there."`
	Format string `enum:"text,json" default:"text" help:"${enum}."`
	Limit  int    `short:"n" placeholder:"N" help:"At most N entries."`
	Record bool   `help:"Of a site only its own record, not what was recorded there."`
}

func (c *logCmd) Help() string {
	return "Names and times are what commits claim. A commit that is signed with a key from people/ says so; wj verify judges all of them."
}

func (c *logCmd) Run(a *app) error {
	j, root, err := a.load(journal.Options{})
	if err != nil {
		return err
	}
	h, err := a.openHistory(root)
	if err != nil {
		return err
	}
	defer h.Close()
	f, err := find(j, c.ID)
	if err != nil || f.ID != strings.TrimSuffix(c.ID, ".md") && f.Path != strings.TrimPrefix(c.ID, "./") {
		// A part of an id stands behind a record of that id that is gone.
		if gone, ok := evidence.FindGone(a.ctx, h, c.ID); ok {
			f, err = gone, nil
		}
	}
	if err != nil {
		return err
	}
	var entries []evidence.LogEntry
	var walked history.Walked
	if f.Kind == journal.KindSite && !c.Record {
		if j, _, err = a.load(journal.Options{Sessions: true}); err != nil {
			return err
		}
		entries, walked, err = evidence.SiteLog(a.ctx, h, j, f, c.Limit)
	} else {
		entries, walked, err = evidence.RecordLog(a.ctx, h, keyring(j), root, f, c.Limit)
	}
	if err != nil {
		return err
	}
	a.sayWalked(walked)
	if len(entries) == 0 {
		a.say("no commit has %s", f.Path)
		return errFindings
	}
	if c.Format == "json" {
		items := []any{}
		for _, e := range entries {
			items = append(items, report.LogJSON(e))
		}
		text, err := render.JSON(items)
		if err != nil {
			return err
		}
		return a.print(text + "\n")
	}
	var b strings.Builder
	for _, e := range entries {
		report.LogText(&b, a.out, e, f.Kind == journal.KindSite && !c.Record)
	}
	return a.out.Print(b.String())
}

// openHistory opens the repository of the journal; its absence is said with
// the next step.
func (a *app) openHistory(root string) (*history.History, error) {
	h, err := history.Open(root)
	if errors.Is(err, history.ErrNoRepository) {
		return nil, withHint("git init && git add . && git commit -m \"Start the water journal\"", "there is no history: the journal is in no Git repository")
	}
	return h, err
}

// untrustedFlag is --untrusted of every command.
type untrustedFlag bool

// AfterApply lets no program be started from now on.
func (f untrustedFlag) AfterApply() error {
	if f {
		history.TrustNothing()
	}
	return nil
}

func (a *app) sayWalked(w history.Walked) {
	if w.Stopped != "" {
		a.say("%s", w.Stopped)
	}
	if w.Shallow {
		a.say("this copy is shallow: older history is not in it (git fetch --unshallow)")
	}
}

// keyring is the keys of people/ that hold now.
func keyring(j *journal.Journal) *history.Keyring { return evidence.Keyring(j) }
