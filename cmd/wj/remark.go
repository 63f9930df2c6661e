package main

import (
	"wj/journal"
	"wj/journal/frontmatter"
)

type remarkCmd struct {
	ID       string `arg:"" help:"The record; or a remark (its id is in wj review), which this answers."`
	Text     string `arg:"" optional:"" help:"What to say; - reads it from standard input."`
	Line     string `placeholder:"KEY" help:"What it is about, such as add.gypsum."`
	Request  bool   `xor:"what" help:"Ask for changes: nothing is approved until you sign, refuse or resolve."`
	Resolve  bool   `xor:"what" help:"ID is an own remark or request: it is dealt with."`
	Signed   bool   `help:"Sign it with your key, also where the policy does not ask for it."`
	Key      string `placeholder:"FILE" help:"Sign with this key instead of git's user.signingkey."`
	By       string `placeholder:"ID" help:"Who says it; by default the person with your git address."`
	NoCommit bool   `help:"Write the file and do not commit."`
	DryRun   bool   `short:"n" help:"Print it and write nothing."`
}

func (c *remarkCmd) Run(a *app) error {
	if c.Text == "" && !c.Resolve {
		return withHint("wj remark ID \"…\"", "there is nothing to say")
	}
	s := &signCmd{ID: c.ID, Remarks: c.Text, Signed: c.Signed, Key: c.Key, By: c.By, NoCommit: c.NoCommit, DryRun: c.DryRun, remark: journal.DecidedRemarked}
	switch {
	case c.Resolve:
		s.remark, s.Withdraw = "", true
	case c.Request:
		s.remark = journal.DecidedRequested
	}
	if c.Line != "" {
		if err := c.about(a); err != nil {
			return err
		}
		s.Meaning = "on " + c.Line
	}
	return s.Run(a)
}

// about makes sure that the record has what the remark is about.
func (c *remarkCmd) about(a *app) error {
	j, _, err := a.load(journal.Options{})
	if err != nil {
		return err
	}
	f, err := find(j, c.ID)
	if err != nil {
		return err
	}
	d, _, err := j.ReadRecord(f)
	if err != nil {
		return err
	}
	if _, ok := d.Find(c.Line); !ok || d.Nodes[0].Kind != frontmatter.Mapping {
		return withHint("wj show "+f.ID, "%s has no %s", f.ID, c.Line)
	}
	return nil
}
