package main

import (
	"bytes"
	"errors"
	"fmt"
	"path"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"wj/journal"
	"wj/journal/evidence"
	"wj/journal/history"
	"wj/journal/portion"
	"wj/journal/safefile"
	"wj/journal/source"
	"wj/journal/start"
	"wj/query/report"
	"wj/render"
)

type bundleCmd struct {
	Out   string `arg:"" help:"The archive to write, such as audit-2026.zip; it must not exist."`
	Base  string `placeholder:"REF" help:"The branch that judges; see wj verify."`
	Owner string `placeholder:"ID" help:"Only the records of this owner's sites and what they depend on."`
	Key   string `placeholder:"FILE" help:"Sign the report of an owner's bundle with this key instead of git's user.signingkey."`

	atFlag
}

func (c *bundleCmd) Run(a *app) error {
	if !strings.HasSuffix(strings.ToLower(c.Out), ".zip") {
		return withHint("wj bundle "+c.Out+".zip", "the archive's name must end in .zip")
	}
	if err := journal.Outside(c.Out); err != nil {
		return err
	}
	today := a.Now()
	j, root, err := a.load(journal.Options{Sessions: true})
	if err != nil {
		return err
	}
	keep := func(journal.File) bool { return true }
	if err := resolve(j, &c.Owner, journal.KindOwner); err != nil {
		return err
	}
	var own *portion.Portion
	if c.Owner != "" {
		if own, err = portion.New(j, c.Owner); err != nil {
			return withHint("owners: "+strings.Join(evidence.OwnersIn(j), ", "), "%w", err)
		}
		keep = own.Keeps
	}
	// What is judged is what is packed: every file is read once, before either.
	payload, err := evidence.Payload(j, keep)
	if err != nil {
		return err
	}
	more, err := c.report(a, j, root, today, keep, payload)
	if err != nil {
		return err
	}
	bag, err := evidence.Bag(payload, more.tags, more.info)
	if err != nil {
		return err
	}
	if more.signer != nil {
		listed := bag[slices.IndexFunc(bag, func(f evidence.BagFile) bool { return f.Name == evidence.TagManifest })]
		signature, err := more.signer.Sign(a.Context, listed.Content)
		if err != nil {
			return err
		}
		bag = append(bag, evidence.BagFile{Name: evidence.TagManifest + more.signer.Ext(), Content: signature})
	}
	folder := start.Slug(strings.TrimSuffix(filepath.Base(c.Out), filepath.Ext(c.Out)), "bundle")
	var archive bytes.Buffer
	if err := evidence.Zip(&archive, folder, bag, more.when); err != nil {
		return err
	}
	if err := journal.Outside(c.Out); err != nil {
		return withHint("choose another name", "%w", err)
	}
	if err := safefile.Write(c.Out, nil, archive.Bytes()); err != nil {
		return withHint("choose another name", "%w", err)
	}
	if err := a.print(filepath.ToSlash(c.Out) + "\n"); err != nil {
		return err
	}
	a.say("%s, %d bytes; to check it: unzip %s && cd %s && sha256sum -c manifest-sha256.txt", journal.Count(len(payload), "file"), archive.Len(), path.Base(filepath.ToSlash(c.Out)), folder)
	if c.Owner != "" {
		for _, p := range own.LeftOut {
			a.say("left out, since it concerns other owners too: %s", p)
		}
		for _, f := range payload {
			if who := own.Names(f); who != "" {
				a.say("look at %s before you hand this out: it names %s", f.Name, who)
			}
		}
	} else if owners := evidence.OwnersIn(j); len(owners) > 1 {
		a.say("it holds the water of %s", strings.Join(owners, ", "))
	}
	if more.wrong != "" {
		a.say("the report in it says: %s", more.wrong)
	}
	return nil
}

// beside is what lies beside the payload of a bundle.
type beside struct {
	tags   []evidence.BagFile
	info   []evidence.Info
	when   time.Time
	wrong  string           // what the report finds, "" for nothing
	signer *evidence.Signer // who signs the whole; nil where nobody does
}

// report gathers what lies beside the payload: the report on these bytes, the
// signers, the history, and a page that says what proves what.
func (c *bundleCmd) report(a *app, j *journal.Journal, root string, today time.Time, keep func(journal.File) bool, payload []evidence.BagFile) (b beside, err error) {
	records := 0
	for _, f := range j.Files {
		if keep(f) {
			records++
		}
	}
	b.info = []evidence.Info{{Label: "Source-Organization", Value: j.Settings.Name}, {Label: "Bagging-Date", Value: journal.FormatDate(today.In(j.Settings.Zone))},
		{Label: "Bag-Software-Agent", Value: version()}, {Label: "External-Description", Value: fmt.Sprintf("Water journal: %s", journal.Count(records, "record"))}}
	if c.Owner != "" {
		b.info = append(b.info, evidence.Info{Label: "External-Identifier", Value: "extract: the water of " + c.Owner})
	}
	b.when = journal.Day(today)
	opt := evidence.Options{Base: c.Base}
	w, err := a.Provenance(j, root, opt, false)
	switch {
	case err == nil:
		defer w.Close()
		commit := w.Line.Head()
		state := commit.Hash.String()
		if len(w.Working) > 0 {
			state += fmt.Sprintf(" and %s not committed", journal.Count(len(w.Working), "file"))
		}
		b.when = commit.Committer.When
		b.info = append(b.info, evidence.Info{Label: "Internal-Sender-Identifier", Value: "commit " + state})
	case errors.Is(err, history.ErrNoRepository), source.Unreadable(err):
		a.say("the history is not in it: %s", err)
		w = &source.Provenance{}
	default:
		return b, err
	}
	carries := false
	if c.Owner == "" && w.Line != nil && c.At == "" {
		bundle, err := evidence.BundleHistory(a.Context, root, w.Line)
		switch {
		case err == nil:
			carries = true
			b.tags = append(b.tags, evidence.BagFile{Name: evidence.HistoryBundle, Content: bundle}, evidence.BagFile{Name: evidence.HistoryNote, Content: evidence.HistoryText(w.Line)})
		case errors.Is(err, history.ErrNoGit), errors.Is(err, history.ErrUntrusted):
			a.say("the history is not in it: %s", err)
		default:
			return b, err
		}
	}
	people := j
	if w.Base != nil {
		people = w.Base
	}
	b.tags = append(b.tags, evidence.BagFile{Name: "signers", Content: evidence.SignersFile(people)})
	packed := j.On(evidence.Overlaid(j, payload))
	found, err := a.Verify(packed, root, opt)
	if err != nil {
		return b, err
	}
	if c.Owner != "" {
		found.Only(func(p string) bool { f, ok := journal.FileOf(p); return ok && keep(f) }, "An extract: only the records of "+c.Owner+" and what they depend on; the rest of the journal and its history is not shown.")
	}
	if found.Outcome() != evidence.Proven {
		b.wrong = report.VerdictLine(found)
	}
	text, err := render.Encode(report.NewVerification(found))
	if err != nil {
		return b, err
	}
	answer := []byte(text + "\n")
	b.tags = append(b.tags, evidence.BagFile{Name: "verification.txt", Content: []byte(render.Clean(report.VerificationText(found, render.Output{Width: 100}, true)))}, evidence.BagFile{Name: "verification.json", Content: answer})
	maker := ""
	if c.Owner != "" {
		b.signer, err = evidence.FindSigner(a.Context, root, c.Key)
		switch {
		case err == nil:
			maker = b.signer.Of(a.Context, people)
		case errors.Is(err, evidence.ErrNoKey) && c.Key == "":
			a.say("it is not signed: git names no key (user.signingkey)")
		default:
			return b, err
		}
	}
	b.tags = append(b.tags, evidence.BagFile{Name: "README.txt", Content: evidence.BagReadme(payload, found, carries, c.Owner, maker, b.signer)})
	return b, nil
}
