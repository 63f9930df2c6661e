package main

import (
	"cmp"
	"errors"
	"slices"
	"strings"
	"time"

	"wj/journal"
	"wj/journal/diff"
	"wj/journal/history"
	"wj/query/report"
	"wj/render"
)

type diffCmd struct {
	Range  string `arg:"" optional:"" default:"HEAD" help:"A...B: what B brings since it parted from A (main...pia/mild). A..B: two revisions or dates. A alone compares with the working files."`
	Format string `enum:"text,markdown,json" default:"text" help:"${enum}; markdown is for a pull request."`
	Fields bool   `help:"All fields of new and deleted records too, not only readings."`
}

func (c *diffCmd) looksAt() (string, bool) { return "", true } // it names its own

func (c *diffCmd) Run(a *app) error {
	root, err := a.root()
	if err != nil {
		return err
	}
	h, err := a.History(root)
	if err != nil {
		return err
	}
	defer h.Close()
	settings, err := a.Settings(root, h)
	if err != nil {
		return err
	}
	states, err := a.states(h, root, c.Range, settings.Zone)
	if err != nil {
		return err
	}
	d := report.Diff{Commits: states.Commits(), Names: stateNames(states, settings.Zone), Fields: c.Fields}
	if d.Changes, d.After, err = states.Compare(); err != nil {
		return err
	}
	if slices.ContainsFunc(d.Changes, func(r diff.RecordChange) bool { return r.Kind == journal.KindSignoff }) {
		w := a.ProvenanceAt(d.After, root, states.To)
		defer w.Close()
		d.JudgeSigners(a.Facts(d.After, w))
	}
	switch c.Format {
	case "json":
		err = a.showJSON(d.JSON())
	case "markdown":
		err = a.print(render.Clean(d.Markdown()))
	default:
		err = a.out.Show(d.Text)
	}
	if err == nil && len(d.Changes) == 0 {
		return errFindings
	}
	return err
}

// states finds the two states that a range names, and says where a range of two
// points shows more than a branch brought.
func (a *app) states(h *history.History, root, text string, zone *time.Location) (*diff.States, error) {
	states, err := diff.Open(a.Context, h, root, text, zone)
	if errors.Is(err, diff.ErrRange) {
		return nil, withHint("wj diff A..B compares two states; A...B what B brings since it parted from A", "%w", err)
	}
	if err == nil && states.Parted {
		from, to, _ := strings.Cut(text, "..")
		a.say("note: %s has commits that %s has not, and what they brought looks taken out here; %s...%s shows what %[2]s brings alone", cmp.Or(from, "HEAD"), cmp.Or(to, "HEAD"), from, to)
	}
	return states, err
}

func stateNames(s *diff.States, zone *time.Location) [2]string {
	names := [2]string{s.From.Named(zone), "the working files"}
	if !s.To.Hash.IsZero() {
		names[1] = s.To.Named(zone)
	}
	return names
}
