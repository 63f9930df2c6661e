package main

import (
	"errors"
	"fmt"
	"slices"
	"strings"

	"wj/journal"
	"wj/journal/history"
	"wj/journal/trace"
	"wj/journal/writer"
)

type amendCmd struct {
	ID       string   `arg:"" help:"The record's id, or its path."`
	Changes  []string `arg:"" optional:"" name:"key value" help:"A field and its right value, as often as needed: sulfate \"84 mg/L\" sulfate.lot SU-2511 sampled 08:15. A list of replicates is [21 mg/L, 22 mg/L]."`
	Remove   []string `placeholder:"KEY" help:"Take this field out."`
	Reason   string   `short:"r" placeholder:"TEXT" help:"Why: what was wrong, and how it is known."`
	By       string   `placeholder:"ID" help:"Who corrects it; by default the person with your git address."`
	NoCommit bool     `help:"Write the file, do not commit."`
	DryRun   bool     `short:"n" help:"Show findings and the file as it would be, write nothing."`
}

func (c *amendCmd) Run(a *app) error {
	if len(c.Changes)%2 != 0 || len(c.Changes)+len(c.Remove) == 0 {
		return withHint("wj amend "+c.ID+" sulfate \"84 mg/L\" sulfate.lot SU-2511 --reason …, or --remove KEY", "give each field with its right value")
	}
	var list []writer.Amendment
	for pair := range slices.Chunk(c.Changes, 2) {
		list = append(list, writer.Amendment{Key: pair[0], Value: pair[1]})
	}
	for _, key := range c.Remove {
		list = append(list, writer.Amendment{Key: key, Remove: true})
	}
	e, root, err := a.startEdit(c.ID, c.By, c.Reason, c.NoCommit || c.DryRun)
	if err != nil {
		return err
	}
	done, err := e.Amend(list...)
	if err != nil {
		return err
	}
	r := writer.Record{Kept: c.NoCommit}
	var words []string
	for _, d := range done {
		words = append(words, fmt.Sprintf("%s %s → %s", writer.ShortPath(d.Path), d.Was, d.Is))
		r.Trailers = append(r.Trailers, history.Trailer{Key: "Amends", Value: e.File.ID + " " + d.Path})
	}
	r.Subject = "Amend " + e.File.ID + ": " + strings.Join(words, ", ")
	r.Trailers = append(r.Trailers, history.Trailer{Key: "Reason", Value: c.Reason})
	return a.finishEdit(e, root, r, c.DryRun)
}

type voidCmd struct {
	ID       string `arg:"" help:"The record's id, or its path."`
	Reason   string `short:"r" placeholder:"TEXT" help:"Why the whole record is wrong."`
	By       string `placeholder:"ID" help:"Who declares it; by default the person with your git address."`
	NoCommit bool   `help:"Write the file, do not commit."`
	DryRun   bool   `short:"n" help:"Show the file as it would be, write nothing."`
}

func (c *voidCmd) Run(a *app) error {
	e, root, err := a.startEdit(c.ID, c.By, c.Reason, c.NoCommit || c.DryRun)
	if err != nil {
		return err
	}
	if c.Reason == "" {
		return withHint("--reason \"sampled at the wrong tap\"", "a void record needs its reason")
	}
	if err := a.voidsNothing(e.Journal, root, e.File, e.By); err != nil {
		return err
	}
	if err := e.Void(); err != nil {
		return err
	}
	return a.finishEdit(e, root, writer.Record{Subject: "Void " + e.File.ID + ": " + c.Reason, Kept: c.NoCommit,
		Trailers: []history.Trailer{{Key: "Voids", Value: e.File.ID}, {Key: "Reason", Value: c.Reason}}}, c.DryRun)
}

// startEdit finds the record and asks what must be known before it may be corrected: who does
// it, why, and that nothing else in the file waits to be committed.
func (a *app) startEdit(id, by, reason string, uncommitted bool) (*writer.Edit, string, error) {
	j, root, err := a.load(journal.Options{Sessions: true})
	if err != nil {
		return nil, "", err
	}
	f, err := find(j, id)
	if err != nil {
		return nil, "", err
	}
	if strings.TrimSpace(reason) == "" && j.Settings.Policy.ReasonRequired {
		return nil, "", withHint("--reason \"meter shows as CaCO3; basis typed wrong\"", "the policy asks for a reason")
	}
	d := a.draft(j, root, f.Kind)
	if by != "" {
		d.By = by
	}
	e := &writer.Edit{Journal: j, File: f, Reason: reason, Now: d.Now}
	if e.By, err = d.Person(d.Now); err != nil {
		return nil, "", err
	}
	if e.Source, err = journal.Dir(root).ReadIfThere(f.Path); err != nil || uncommitted {
		return e, root, err
	}
	dirty, err := history.Dirty(root, nil)
	if err != nil && !errors.Is(err, history.ErrNoRepository) && !errors.Is(err, history.ErrUnsupported) {
		return nil, "", err
	}
	for _, change := range dirty {
		if change.Path == f.Path && change.Kind == history.Modified {
			return nil, "", withHint("commit or undo them first, or use --no-commit", "%s has changes that are not committed, and they would go into the same commit", f.Path)
		}
	}
	return e, root, nil
}

// finishEdit writes the file, commits it and lists what depends on it.
func (a *app) finishEdit(e *writer.Edit, root string, r writer.Record, dry bool) error {
	r.Files = []writer.File{e.Result()}
	if _, err := a.write(e.Journal, root, r, dry); err != nil || dry {
		return err
	}
	return a.restingOn(e.Journal, e.File)
}

// restingOn lists what depends on a record whose content has just changed.
func (a *app) restingOn(j *journal.Journal, f journal.File) error {
	tree := trace.NewGraph(j).Walk(f, true)
	reached := tree.Reached()
	if len(reached) == 0 {
		a.say("nothing else depends on it")
		return nil
	}
	why := map[string]string{}
	var note func(t trace.Tree)
	note = func(t trace.Tree) {
		for _, b := range t.Below {
			if k := b.File.Kind.String() + " " + b.File.ID; why[k] == "" {
				why[k] = b.Why
			}
			note(b)
		}
	}
	note(tree)
	a.say("depends on it:")
	for _, r := range reached {
		line := "  " + r.Kind.String() + " " + r.ID + ": " + why[r.Kind.String()+" "+r.ID]
		if next := consequence(r.Kind); next != "" {
			line += "; " + next
		}
		a.say("%s", line)
	}
	return nil
}

// consequence says what a correction means for a record that depends on it.
func consequence(k journal.Kind) string {
	switch k {
	case journal.KindSignoff:
		return "void: sign again"
	case journal.KindChange:
		return "compute and review again"
	case journal.KindReport:
		return "its reader holds the old value"
	case journal.KindBatch:
		return "compare its liquor with the target"
	case journal.KindSession:
		return "look at it again"
	}
	return ""
}
