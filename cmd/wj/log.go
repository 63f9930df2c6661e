package main

import (
	"cmp"
	"errors"

	"wj/journal"
	"wj/journal/evidence"
	"wj/journal/history"
	"wj/query/report"
)

type logCmd struct {
	ID     string `arg:"" optional:"" help:"A record's id, or a site: everything that was recorded there. Without it: every record."`
	Owner  string `placeholder:"ID" help:"What is about this owner's water."`
	Since  string `placeholder:"REV|DATE" help:"Not what was there at a commit, or from a day on."`
	Until  string `placeholder:"REV|DATE" help:"Up to a commit, or to the end of a day."`
	Format string `enum:"text,json" default:"text" help:"${enum}."`
	Limit  int    `short:"n" placeholder:"N" help:"At most N entries."`
	Record bool   `help:"Of a site only its own record, not what was recorded there."`

	atFlag
}

func (c *logCmd) Run(a *app) error {
	j, root, err := a.load(journal.Options{})
	if err != nil {
		return err
	}
	h, err := a.History(root)
	if err != nil {
		return err
	}
	defer h.Close()
	chosen := evidence.Chosen{Limit: c.Limit}
	if err := errors.Join(chosen.Bound(h, c.Since, j.Settings.Zone, false), chosen.Bound(h, c.Until, j.Settings.Zone, true), resolve(j, &c.Owner, journal.KindOwner)); err != nil {
		return err
	}
	chosen.Owner = c.Owner
	var f journal.File
	if c.ID != "" {
		if c.Owner != "" {
			return withHint("wj log --owner "+c.Owner, "a record's log is of one record: --owner goes without it")
		}
		if f, err = evidence.FindEver(a.Context, h, j, c.ID); err != nil {
			return err
		}
	}
	var entries []evidence.Entry
	var walked history.Walked
	several := c.ID == "" || f.Kind == journal.KindSite && !c.Record
	if several {
		if j, _, err = a.load(journal.Options{Sessions: true}); err != nil {
			return err
		}
		chosen.Site = f
		entries, walked, err = evidence.JournalLog(a.Context, h, j, chosen)
	} else if entries, walked, err = evidence.RecordLog(a.Context, h, j, f); err == nil {
		entries, err = chosen.Keep(a.Context, h, entries)
	}
	if err != nil {
		return err
	}
	a.sayWalked(walked)
	if len(entries) == 0 {
		if c.Since+c.Until+c.Owner != "" {
			a.say("nothing was recorded of %s then", cmp.Or(f.ID, c.Owner, "the journal"))
			return errFindings
		}
		a.say("no commit has %s", cmp.Or(f.Path, "a record"))
		return errFindings
	}
	if s, ok := j.Signoffs.Get(f.ID); ok && f.Kind == journal.KindSignoff {
		w := a.ProvenanceOrNone(j, root)
		defer w.Close()
		if v := evidence.Judge(j, s, a.Facts(j, w)); v.Claim {
			for i := range entries {
				entries[i].Proof = cmp.Or(entries[i].Proof, "signer not verified")
			}
		}
	}
	l := report.NewLog(entries, c.Limit, several)
	if c.Format == "json" {
		return a.showJSON(l)
	}
	return a.out.Show(l.Text)
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
