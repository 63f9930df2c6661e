package main

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"slices"

	"wj/journal"
	"wj/journal/evidence"
	"wj/journal/history"
	"wj/journal/overlay"
	"wj/journal/writer"
	"wj/lint"
	"wj/lint/githistory"
	"wj/lint/report"
)

type lintCmd struct {
	Paths         []string `arg:"" optional:"" help:"Files, folders or record ids; the whole journal if none."`
	Format        string   `enum:"text,json,sarif,junit,github" default:"text" help:"${enum}."`
	FailOn        string   `enum:"error,warning,info" default:"error" help:"The least severity that makes the exit status 1: ${enum}."`
	Fix           bool     `help:"Mend what has one safe way to be mended; a reading's value is never touched."`
	Unsafe        bool     `help:"With --fix, mend also what changes the meaning of a text, such as the name of an analyte."`
	Only          []string `placeholder:"RULE" help:"Run these rules only: names, or families such as cause."`
	Skip          []string `placeholder:"RULE" help:"Leave these rules or families out."`
	Baseline      string   `placeholder:"FILE" help:"Tell no findings that this file knows."`
	WriteBaseline bool     `help:"Write the findings to the --baseline file instead of telling them."`
	Since         string   `placeholder:"REV" help:"Tell only findings that were not there at this revision."`
	Base          string   `placeholder:"REV" help:"Judge by the settings (and the baseline) of this revision, the branch to merge into, and tell what this one changes of them."`
	Staged        bool     `help:"Judge what git is about to commit instead of the files: for a pre-commit hook."`
	History       bool     `negatable:"" default:"true" help:"Ask Git who recorded, changed and deleted what, where a rule wants to know."`

	asOf
}

func (c *lintCmd) looksAt() (string, bool) { return c.At, !c.Fix && !c.Staged }

func (c *lintCmd) Help() string {
	return "Exit status: 0 nothing as severe as --fail-on, 1 findings, 2 could not look.\n\n" +
		"With --staged all findings of staged records are told, and of others those that were not there at the last commit; a commit is stopped only by a record that cannot be right as a record, and by one that is taken away. What was measured is always recorded, however bad the water, and so are a recall and a correction."
}

// paths brings what a person named to paths of the journal.
func (c *lintCmd) paths(j *journal.Journal, root string) ([]string, error) {
	var out []string
	for _, p := range c.Paths {
		if _, err := os.Lstat(p); err != nil {
			f, err := find(j, p)
			if err != nil {
				return nil, err
			}
			out = append(out, f.Path)
			continue
		}
		rel, inside, err := journal.Inside(root, p)
		switch {
		case err != nil:
			return nil, err
		case !inside:
			return nil, withHint("name files of the journal, or its folder with -C", "%s is not in the journal %s", p, root)
		case rel == ".":
			return nil, nil
		}
		out = append(out, rel)
	}
	return out, nil
}

func (c *lintCmd) Run(a *app) error {
	if len(c.Paths) == 1 && a.dir == "." {
		// wj lint some/journal: the folder named is the journal.
		if info, err := os.Stat(c.Paths[0]); err == nil && info.IsDir() {
			if _, err := os.Lstat(filepath.Join(c.Paths[0], journal.SettingsFile)); err == nil {
				a.dir, c.Paths = c.Paths[0], nil
			}
		}
	}
	switch {
	case c.At != "" && (c.Fix || c.Staged):
		return withHint("leave out one of them", "--at looks at a revision that is over; --fix mends files, and --staged looks at what is about to be committed")
	case c.Staged && c.Fix:
		return withHint("wj lint --fix, then git add", "--fix mends files, and --staged looks at none")
	case c.Staged && c.Since != "":
		return withHint("leave out one of them", "--staged compares with the last commit, and --since with %s", c.Since)
	case c.WriteBaseline && c.Baseline == "":
		return withHint("wj lint --baseline lint-baseline.json --write-baseline", "--write-baseline needs to know which file")
	}
	result, err := c.check(a)
	if err != nil {
		return err
	}
	if c.Fix {
		fixed, err := writer.Fix(a.ctx, result.root, result.journal, a.now(), result.Diagnostics, c.Unsafe)
		if err != nil {
			return err
		}
		if fixed > 0 {
			if result, err = c.check(a); err != nil {
				return err
			}
		}
		said := count(fixed, "place") + " mended"
		if n := result.UnsafeOnly(); n > 0 && !c.Unsafe {
			said += fmt.Sprintf("; %d more with --unsafe, which renames: look at the difference afterwards", n)
		}
		a.say("%s", said)
	}
	if c.WriteBaseline {
		return c.writeBaseline(a, result)
	}
	if err := c.report(a, result); err != nil {
		return err
	}
	least := map[string]lint.Severity{"error": lint.Error, "warning": lint.Warning, "info": lint.Info}[c.FailOn]
	followers := 0
	for _, d := range result.Diagnostics {
		switch {
		case d.Severity < least:
		case c.Staged && !d.Bars: // what was measured, recalled or corrected is recorded whatever follows from it
			followers++
		case c.Staged:
			a.say("the commit is not made: mend it, git add it and commit again")
			return errFindings
		default:
			return errFindings
		}
	}
	if followers > 0 {
		a.say("the commit goes on: %s of the water or of what follows, none of a record that cannot be right", count(followers, "error"))
	}
	return nil
}

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
		fsys, out.staged = overlay.New(nil, staged.Files), staged.Changed
	}
	a.collect(keeping)
	load := journal.Options{Check: true, Sessions: true}
	if g.committed() && !c.Staged && a.past == nil {
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
	// What only tells of new findings need not look at older history.
	var since history.Hash
	switch {
	case c.Since != "":
		rev, err := g.h.Resolve(c.Since, j.Settings.Zone)
		if err != nil {
			return out, err
		}
		since = rev.Hash
	case c.Staged && g.committed():
		since = g.head.Hash
	}
	facts := g.facts(j, since, staged.Changed, c.Staged)
	if facts != nil {
		opt.History = facts
	}
	out.Result = lint.Run(j, opt)
	if facts != nil && facts.Err() != nil {
		a.say("history was not looked at to its end: %s", facts.Err())
	}
	switch {
	case c.Since != "":
		old, err := g.lint(c.Since, j, opt)
		if err != nil {
			return out, err
		}
		out.Result, out.older = report.Fresh(out.Result, old, nil)
	case c.Staged && g.committed():
		if !slices.ContainsFunc(out.Diagnostics, func(d lint.Diagnostic) bool { return d.Bars || !slices.Contains(staged.Changed, d.Path) }) {
			break
		}
		old, err := g.lint("HEAD", j, opt)
		if errors.Is(err, errNotThere) {
			break
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
