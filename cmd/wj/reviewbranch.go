package main

import (
	"cmp"
	"errors"
	"slices"
	"strings"
	"time"

	"wj/journal"
	"wj/journal/diff"
	"wj/journal/evidence"
	"wj/journal/history"
	"wj/journal/source"
	"wj/query/report"
)

// commentMark begins the review in Markdown, so that a workflow finds the
// comment that it wrote before.
const commentMark = "<!-- wj review -->\n"

// branch reviews a branch or a range that is not checked out.
func (c *reviewCmd) branch(a *app, root string, zone *time.Location) error {
	h, err := a.History(root)
	if err != nil {
		return err
	}
	defer h.Close()
	text, opt := c.ID, evidence.Options{}
	from, tip, ranged := strings.Cut(c.ID, "...")
	switch {
	case ranged:
		opt.Base = from
	case diff.IsRange(c.ID):
		return withHint("wj review A...B; wj diff compares two states", "%q is no branch with what it parted from", c.ID)
	default:
		base, err := evidence.FindBase(h, "", zone)
		if err != nil {
			return err
		}
		tip, text = c.ID, base.Commit.Hash.String()+"..."+c.ID
	}
	opt.Head = cmp.Or(tip, "HEAD")
	states, err := a.states(h, root, text, zone)
	if err != nil {
		return err
	}
	earlier, err := states.Earlier()
	if err != nil {
		return err
	}
	var w *source.Provenance
	opened := make(chan error, 1)
	go func() { // git walks while the records are read
		var err error
		w, err = a.Provenance(earlier, root, opt, false)
		opened <- err
	}()
	j, err := states.Load(true)
	if err := errors.Join(<-opened, err); err != nil {
		return err
	}
	// Who wrote a silence in a record that judges nothing is shown by every commit.
	if slices.ContainsFunc(states.Guards(earlier, j, "", func(string) bool { return true }), func(g evidence.GuardChange) bool { return !evidence.Judges(g.Path) }) {
		w.Close()
		if w, err = a.Provenance(j, root, opt, true); err != nil {
			return err
		}
	}
	defer w.Close()
	r, err := report.NewBranch(report.BranchRequest{Name: opt.Head, States: states, Names: stateNames(states, zone), Earlier: earlier, Later: j,
		Facts: a.Facts(j, w), Base: w.Base, BaseName: w.BaseName, Switch: localName(h, opt.Head), Digest: func(record journal.Any) string { return digestOf(j, record) }})
	switch {
	case err != nil:
		return err
	case c.Format == "json":
		return a.showJSON(r)
	case c.Format == "markdown":
		if err := a.print(commentMark); err != nil {
			return err
		}
	}
	return a.show(r.Document(c.All || c.Format == "html"), c.Format)
}

// isBranch reports whether a word that names no record names a revision.
func (a *app) isBranch(root, word string, zone *time.Location) bool {
	if diff.IsRange(word) {
		return true
	}
	h, err := a.Repository(root)
	if err != nil {
		return false
	}
	defer h.Close()
	_, err = h.Resolve(word, zone)
	return err == nil || errors.Is(err, history.ErrAmbiguous)
}

// localName is the name under which a branch is worked on here: a remote's
// without the name of the remote.
func localName(h *history.History, name string) string {
	found, err := h.Candidates(name)
	if err != nil || len(found) == 0 {
		return name
	}
	if short, ok := strings.CutPrefix(found[0].Name, "refs/remotes/"); ok {
		_, name, _ = strings.Cut(short, "/")
	}
	return name
}
