package main

import (
	"errors"

	"wj/journal"
	"wj/journal/evidence"
	"wj/journal/history"
	"wj/journal/writer"
)

type anchorCmd struct {
	By       string `placeholder:"ID" help:"Who sets it; by default the person with your git address."`
	Key      string `placeholder:"FILE" help:"Sign with this key instead of git's user.signingkey."`
	NoCommit bool   `help:"Write the files and do not commit."`
}

func (c *anchorCmd) Run(a *app) error {
	j, root, err := a.load(journal.Options{Sessions: true})
	if err != nil {
		return err
	}
	now := a.Now().In(j.Settings.Zone)
	by := c.By
	if by == "" {
		if by, err = a.draft(j, root, journal.KindAnchor).Person(now); err != nil {
			return err
		}
	}
	w, err := a.Provenance(j, root, evidence.Options{}, false)
	if err != nil {
		return err
	}
	defer w.Close()
	if len(w.Working) > 0 {
		return withHint("git add … && git commit", "%s is not committed in its present form; an anchor marks what is in history", w.Working[0].Path)
	}
	anchor, src, err := evidence.NewAnchor(w.Line, j, by, now)
	if err != nil {
		return err
	}
	path := evidence.AnchorPath(j.FS, by, now)
	files := []writer.File{{Path: path, New: src}}
	signer, err := evidence.FindSigner(a.Context, root, c.Key)
	switch {
	case err == nil:
		signature, err := signer.Sign(a.Context, src)
		if err != nil {
			return err
		}
		files = append(files, writer.File{Path: path + signer.Ext(), New: signature, Beside: signer.Ext()})
	case (errors.Is(err, evidence.ErrNoKey) || errors.Is(err, history.ErrUntrusted)) && !w.Base.Settings.Policy.Proof:
		a.say("signer not verified: git names no key to sign with (user.signingkey)")
	default:
		return err
	}
	out, err := a.put(j, root, writer.Record{Files: files, Kept: c.NoCommit, Subject: "Anchor the journal at " + w.Line.Head().Hash.Short(),
		Trailers: []history.Trailer{{Key: "Anchors", Value: anchor.Commit}}}, false)
	if err != nil {
		return err
	}
	if err := a.print(evidence.ReceiptOf(anchor, src).String() + "\n"); err != nil {
		return err
	}
	a.saidCommit(root, out)
	a.say("keep this line outside of the repository; later: wj verify --anchor \"…\"")
	return nil
}
