package main

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"wj/journal"
	"wj/journal/history"
	"wj/journal/merge"
	"wj/journal/safefile"
)

type mergeDriverCmd struct {
	Base   string `arg:"" help:"What both began with (%O)."`
	Ours   string `arg:"" help:"The file that is merged into (%A)."`
	Theirs string `arg:"" help:"The other version (%B)."`
	Path   string `arg:"" help:"The file's name in the repository (%P)."`
}

func (c *mergeDriverCmd) Help() string {
	return "Git calls this where two branches edited one record; wj hook install sets it. It takes both sides' amendments, readings and list items. What it cannot decide stays a conflict, told by exit status 1; wj resolve helps on."
}

func (c *mergeDriverCmd) Run(a *app) error {
	var content [3][]byte
	for i, name := range []string{c.Base, c.Ours, c.Theirs} {
		var err error
		if content[i], err = os.ReadFile(name); err != nil {
			return fmt.Errorf("merge %s: %w", c.Path, err)
		}
	}
	if len(content[0]) == 0 { // git gives an empty file where both added it
		content[0] = nil
	}
	merged, conflicts := merge.Record(c.Path, content[0], content[1], content[2])
	if err := os.WriteFile(c.Ours, merged, 0o666); err != nil {
		return fmt.Errorf("merge %s: %w", c.Path, err)
	}
	if len(conflicts) == 0 {
		return nil
	}
	a.say("%s: both sides have their own %s; wj resolve", c.Path, strings.Join(conflicts, ", "))
	return errFindings
}

type resolveCmd struct{}

func (c *resolveCmd) Help() string {
	return "During a merge, rebase or cherry-pick: unites what can be united, keeps two sessions of one site and day as two records, the later one as -2, with the references to it repaired, and says what is left to decide. Then: git commit, or git rebase --continue."
}

func (c *resolveCmd) Run(a *app) error {
	root, err := a.root()
	if err != nil && !errors.Is(err, journal.ErrNoJournal) {
		return err
	}
	list, err := history.ReadUnmerged(a.ctx, root)
	if err != nil {
		return err
	}
	if len(list) == 0 {
		a.say("nothing has conflicts")
		return nil
	}
	r := resolving{a: a, root: root}
	for _, u := range list {
		if err := r.one(u); err != nil {
			return err
		}
	}
	if err := history.MarkResolved(a.ctx, root, r.done); err != nil {
		return err
	}
	if r.left > 0 {
		a.say("%s left: edit the lines between the marks, then git add", count(r.left, "conflict"))
		return errFindings
	}
	a.say("next: wj lint, then git commit (or git rebase --continue)")
	return nil
}

// resolving is a merge that is being finished.
type resolving struct {
	a    *app
	root string
	done []string
	left int
}

func (r *resolving) one(u history.Unmerged) error {
	if u.Ours == nil || u.Theirs == nil {
		r.left++
		return r.a.print(u.Path + ": one side took it out and the other edited it; a record is voided, not deleted\n")
	}
	if u.Base == nil {
		if two, ok := merge.Part(u.Path, u.Ours, u.Theirs, r.taken); ok {
			return r.keepBoth(two)
		}
	}
	merged, conflicts := merge.Record(u.Path, u.Base, u.Ours, u.Theirs)
	if err := r.write(u.Path, merged); err != nil {
		return err
	}
	if len(conflicts) > 0 {
		r.left++
		return r.a.print(fmt.Sprintf("%s: both sides have their own %s\n", u.Path, strings.Join(conflicts, ", ")))
	}
	r.done = append(r.done, u.Path)
	return r.a.print(u.Path + ": united\n")
}

func (r *resolving) taken(p string) bool {
	_, err := os.Lstat(filepath.Join(r.root, filepath.FromSlash(p)))
	return !errors.Is(err, fs.ErrNotExist)
}

// keepBoth writes two sessions and leads what refers to the later one to its
// new name: the files that its own side brought.
func (r *resolving) keepBoth(two merge.Two) error {
	if err := errors.Join(r.write(two.Path, two.Earlier), r.write(two.Other, two.Later)); err != nil {
		return err
	}
	r.done = append(r.done, two.Path, two.Other)
	if err := r.a.print(fmt.Sprintf("%s: two samples; the later one is %s now\n", two.Path, two.OtherID)); err != nil {
		return err
	}
	brought, err := history.Brought(r.a.ctx, r.root, two.LaterIsTheirs)
	if err != nil {
		return err
	}
	other, err := history.Brought(r.a.ctx, r.root, !two.LaterIsTheirs)
	if err != nil {
		return err
	}
	for _, p := range brought {
		src, err := os.ReadFile(filepath.Join(r.root, filepath.FromSlash(p)))
		if err != nil || p == two.Path {
			continue
		}
		if f, ok := journal.FileOf(p); ok && f.Kind == journal.KindSignoff {
			if merge.Names(src, two.ID) {
				r.a.say("%s signed it under its old name: sign again (wj review)", p)
			}
			continue
		}
		repaired, changed := merge.Repair(p, src, two.ID, two.OtherID)
		switch {
		case !changed:
			continue
		case slices.Contains(other, p):
			r.a.say("%s refers to %s, and both sides edited it: look which of the two is meant", p, two.ID)
			continue
		}
		if err := r.write(p, repaired); err != nil {
			return err
		}
		r.done = append(r.done, p)
		if err := r.a.print(fmt.Sprintf("%s: refers to %s now\n", p, two.OtherID)); err != nil {
			return err
		}
	}
	return nil
}

func (r *resolving) write(p string, content []byte) error {
	full := filepath.Join(r.root, filepath.FromSlash(p))
	old, err := os.ReadFile(full)
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return err
	}
	if err != nil {
		old = nil
	}
	return safefile.Write(full, old, content)
}
