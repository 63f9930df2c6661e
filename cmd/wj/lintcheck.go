package main

import (
	"errors"
	"io/fs"
	"path"
	"slices"

	"wj/journal"
	"wj/journal/evidence"
	"wj/journal/frontmatter"
	"wj/journal/history"
	"wj/journal/overlay"
	"wj/lint"
	"wj/lint/githistory"
	"wj/lint/report"
)

// checked is what came of one look at the journal.
type checked struct {
	lint.Result
	root    string
	journal *journal.Journal
	prefix  string   // of the journal in its repository
	known   int      // findings that the baseline knows
	gone    int      // findings that only the baseline knows
	older   int      // findings that are not new
	staged  []string // with --staged: the files about to be committed
}

// check lints the journal and leaves out what is known or not new.
func (c *lintCmd) check(a *app) (checked, error) {
	out := checked{}
	var err error
	if out.root, err = a.root(); err != nil {
		return out, err
	}
	var fsys fs.FS
	if !c.Staged {
		if fsys, err = a.files(out.root); err != nil {
			return out, err
		}
	}
	if a.absent > 0 {
		return out, errAbsent(a.absent)
	}
	g, err := c.git(a, out.root)
	if err != nil {
		return out, err
	}
	defer g.close()
	if g.h != nil {
		out.prefix = g.h.Place().Prefix
	}
	var staged history.Staged
	if c.Staged {
		if staged, err = history.ReadStaged(a.ctx, out.root); err != nil {
			return out, err
		}
		defer staged.Close()
		fsys, out.staged = staged, staged.Changed
	}
	if c.Stdin {
		rel, inside, err := journal.Inside(out.root, c.StdinPath)
		if err != nil {
			return out, err
		}
		if _, record := journal.FileOf(rel); !inside || !record && rel != journal.SettingsFile {
			return out, withHint("name a record, such as sessions/2026/2026-03-04-tap.md", "%s is no record of the journal %s", c.StdinPath, out.root)
		}
		if len(c.text) > frontmatter.MaxFile {
			return out, withHint("keep what is large in a file beside it, named under attachments", "the text is larger than a record may be")
		}
		c.StdinPath, fsys = rel, overlay.New(fsys, map[string][]byte{rel: c.text})
	}
	a.collect(keeping)
	load := journal.Options{Check: true, Sessions: true}
	n, err := c.newer(g, fsys, staged)
	if err != nil {
		return out, err
	}
	if n != nil {
		load.Only = n.holds
	} else if g.committed() && !c.Staged && a.past == nil {
		g.seen = history.NewContents(out.root)
		load.Saw = g.seen.Saw
	}
	j, err := journal.Load(fsys, load)
	switch {
	case c.Staged && errors.Is(err, journal.ErrNoJournal):
		return out, withHint("git add "+path.Join(out.prefix, journal.SettingsFile), "%s is not staged and not committed", journal.SettingsFile)
	case err != nil:
		return out, err
	case j.Settings.Format > journal.Format:
		return out, withHint("use a newer wj", "this journal has format %d, and this program reads format %d", j.Settings.Format, journal.Format)
	}
	a.collectFor(j)
	out.journal = j
	if g.committed() && a.past == nil {
		githistory.AsCheckedOut(j, g.h, g.head.Hash)
	}
	if err := c.set(a, j.Settings.Zone); err != nil {
		return out, err
	}
	for _, name := range append(slices.Clone(c.Only), c.Skip...) {
		if !lint.Known(j, name) {
			return out, withHint("wj explain lists the rules", "there is no rule or family %q", name)
		}
	}
	opt := lint.Options{Now: a.now(), Only: c.Only, Skip: c.Skip}
	if opt.Paths, err = c.paths(j, out.root); err != nil {
		return out, err
	}
	baseline, err := c.readBaseline(out.root)
	if err != nil {
		return out, err
	}
	if c.Base != "" {
		base, err := g.journal(c.Base, j.Settings.Zone, journal.Options{})
		if err != nil {
			return out, err
		}
		opt.Base = &lint.Base{Name: c.Base, Journal: base, Signed: a.guardSigned(j, out.root, c.Base)}
		if rel, inside, err := journal.Inside(out.root, c.Baseline); err == nil && inside && c.Baseline != "" {
			// A branch cannot make its own findings known ones.
			opt.Base.Files = []string{rel}
			if baseline, err = readBaselineAt(base.FS, rel); err != nil {
				return out, err
			}
		}
	}
	g.judges(j, evidence.Options{Base: c.Base}, &opt)
	var since history.Hash // what only tells of new findings need not look at older history
	if n != nil {
		since, opt.Part = n.since, n.part
	}
	facts := g.facts(j, since, staged.Changed, c.Staged)
	if facts != nil {
		opt.History = facts
	}
	out.Result = lint.Run(j, opt)
	if facts != nil && facts.Err() != nil {
		a.say("history was not looked at to its end: %s", facts.Err())
	}
	if n != nil && (!c.Staged || slices.ContainsFunc(out.Diagnostics, func(d lint.Diagnostic) bool { return d.Bars || !slices.Contains(staged.Changed, d.Path) })) {
		old, err := n.lint(j, opt)
		if errors.Is(err, errNotThere) {
			err = nil // the journal begins after it
		}
		if err != nil {
			return out, err
		}
		out.Result, out.older = report.Fresh(out.Result, old, staged.Changed)
	}
	if baseline != nil && !c.WriteBaseline {
		before := len(out.Diagnostics)
		out.Result, out.gone = baseline.Filter(out.Result)
		out.known = before - len(out.Diagnostics)
		if len(opt.Paths)+len(c.Only)+len(c.Skip) > 0 || c.Since != "" || c.Staged {
			out.gone = 0 // only a whole look can tell
		}
	}
	return out, nil
}
