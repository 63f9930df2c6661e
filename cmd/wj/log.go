package main

import (
	"cmp"
	"wj/journal"
	"wj/journal/evidence"
	"wj/journal/history"
	"wj/query/report"
)

type logCmd struct {
	ID     string `arg:"" help:"A record's id, or a site: everything that was recorded there."`
	Format string `enum:"text,json" default:"text" help:"${enum}."`
	Limit  int    `short:"n" placeholder:"N" help:"At most N entries."`
	Record bool   `help:"Of a site only its own record, not what was recorded there."`

	atFlag
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
	f, err := evidence.FindEver(a.ctx, h, j, c.ID)
	if err != nil {
		return err
	}
	var entries []evidence.Entry
	var walked history.Walked
	place := f.Kind == journal.KindSite && !c.Record
	if place {
		if j, _, err = a.load(journal.Options{Sessions: true}); err != nil {
			return err
		}
		entries, walked, err = evidence.SiteLog(a.ctx, h, j, f, c.Limit)
	} else {
		entries, walked, err = evidence.RecordLog(a.ctx, h, j, f)
	}
	if err != nil {
		return err
	}
	a.sayWalked(walked)
	if len(entries) == 0 {
		a.say("no commit has %s", f.Path)
		return errFindings
	}
	if s, ok := j.Signoffs.Get(f.ID); ok && f.Kind == journal.KindSignoff {
		w := a.provenanceOrNone(j, root)
		defer w.close()
		if v := evidence.Judge(j, s, a.facts(j, w)); v.Claim {
			for i := range entries {
				entries[i].Proof = cmp.Or(entries[i].Proof, "signer not verified")
			}
		}
	}
	l := report.NewLog(entries, c.Limit, place)
	if c.Format == "json" {
		return a.showJSON(l)
	}
	return a.out.Print(l.Text(a.out))
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
