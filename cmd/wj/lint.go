package main

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"slices"
	"strings"

	"wj/journal"
	"wj/journal/history"
	"wj/journal/overlay"
	"wj/journal/safefile"
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
	Only          []string `placeholder:"RULE" help:"Run these rules only."`
	Skip          []string `placeholder:"RULE" help:"Leave these rules out."`
	Baseline      string   `placeholder:"FILE" help:"Tell no findings that this file knows."`
	WriteBaseline bool     `help:"Write the findings to the --baseline file instead of telling them."`
	Since         string   `placeholder:"REV" help:"Tell only findings that were not there at this revision."`
	Base          string   `placeholder:"REV" help:"Judge by the settings (and the baseline) of this revision, the branch to merge into, and tell what this one changes of them."`
	At            string   `placeholder:"REV" help:"Judge the journal as it was at this revision or date, with what was known then and as of that moment."`
	Staged        bool     `help:"Judge what git is about to commit instead of the files: for a pre-commit hook."`
	History       bool     `negatable:"" default:"true" help:"Ask Git who recorded, changed and deleted what, where a rule wants to know."`

	asOf
}

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
		rel, inside, err := insideJournal(root, p)
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

// insideJournal is a file's path from the journal's root, symbolic links
// resolved on both sides.
func insideJournal(root, name string) (rel string, inside bool, err error) {
	full, err := filepath.Abs(name)
	if err != nil {
		return "", false, err
	}
	for _, p := range []*string{&full, &root} {
		if resolved, err := filepath.EvalSymlinks(*p); err == nil {
			*p = resolved
		} else if folder, err := filepath.EvalSymlinks(filepath.Dir(*p)); err == nil {
			*p = filepath.Join(folder, filepath.Base(*p)) // a file that is not there yet
		}
	}
	rel, err = filepath.Rel(root, full)
	if err != nil || rel == ".." || strings.HasPrefix(rel, ".."+string(filepath.Separator)) {
		return "", false, nil
	}
	return filepath.ToSlash(rel), true, nil
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
	for _, name := range append(append([]string(nil), c.Only...), c.Skip...) {
		if _, ok := lint.Find(name); !ok {
			return withHint("wj explain lists the rules", "there is no rule %q", name)
		}
	}
	result, err := c.check(a)
	if err != nil {
		return err
	}
	if c.Fix {
		fixed, err := c.mend(a, result)
		if err != nil {
			return err
		}
		if fixed > 0 {
			if result, err = c.check(a); err != nil {
				return err
			}
		}
		said := count(fixed, "place") + " mended"
		if n := unsafeFixes(result); n > 0 && !c.Unsafe {
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
	g, err := c.git(a, out.root)
	if err != nil {
		return out, err
	}
	defer g.close()
	if g.h != nil {
		out.prefix = g.h.Place().Prefix
	}
	var fsys fs.FS = journal.Dir(out.root)
	var staged history.Staged
	if c.Staged {
		if staged, err = history.ReadStaged(a.ctx, out.root); err != nil {
			return out, err
		}
		fsys, out.staged = overlay.New(nil, staged.Files), staged.Changed
	}
	a.collect(keeping)
	load := journal.Options{Check: true, Sessions: true}
	if g.committed() && !c.Staged && c.At == "" {
		g.seen = history.NewContents(out.root)
		load.Saw = g.seen.Saw
	}
	var j *journal.Journal
	if c.At == "" {
		j, err = journal.Load(fsys, load)
	} else {
		j, err = g.at(c.At, load)
	}
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
	if g.committed() && c.At == "" {
		githistory.AsCheckedOut(j, g.h, g.head.Hash)
	}
	if err := c.set(a, j.Settings.Zone); err != nil {
		return out, err
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
		if rel, inside, err := insideJournal(out.root, c.Baseline); err == nil && inside && c.Baseline != "" {
			// A branch cannot make its own findings known ones.
			opt.Base.Files = []string{rel}
			if baseline, err = readBaselineAt(base.FS, rel); err != nil {
				return out, err
			}
		}
	}
	if j.Settings.Policy.Proof && len(j.Signoffs.List) > 0 && g.committed() && c.At == "" {
		// Where policy asks for proof of who signed, history is asked, as wj verify does; else the
		// records are judged as they are, in a repository or not.
		if w, err := a.witness(j, out.root, c.Base); err == nil {
			defer w.close()
			opt.Line = w.line
		} else {
			opt.Unreadable = reasonOf(err)
		}
	}
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
		out.keep(old, nil)
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
		out.keep(old, staged.Changed)
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

// keep leaves the findings that old does not have, and those in some files.
func (c *checked) keep(old lint.Result, files []string) {
	fresh, _ := report.NewBaseline(old.Diagnostics).Filter(c.Result)
	left := fresh.Diagnostics
	all := c.Diagnostics
	c.Diagnostics = nil
	for _, d := range all {
		isFresh := len(left) > 0 && d.Path == left[0].Path && d.Rule == left[0].Rule && d.Start == left[0].Start && d.Message == left[0].Message
		if isFresh {
			left = left[1:]
		}
		if isFresh || slices.Contains(files, d.Path) {
			d.Bars = d.Bars && isFresh // an old error does not keep a record from being corrected
			c.Diagnostics = append(c.Diagnostics, d)
		} else {
			c.older++
		}
	}
}

// readBaseline reads the baseline of the working files; nil where none is
// asked for, or where it is about to be written for the first time.
func (c *lintCmd) readBaseline(root string) (*report.Baseline, error) {
	if c.Baseline == "" || c.WriteBaseline {
		return nil, nil
	}
	if _, inside, _ := insideJournal(root, c.Baseline); inside && c.Base != "" {
		return nil, nil // read at the base
	}
	src, err := os.ReadFile(c.Baseline)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, withHint("wj lint --baseline "+c.Baseline+" --write-baseline", "there is no baseline %s", c.Baseline)
	}
	if err != nil {
		return nil, fmt.Errorf("read the baseline: %w", err)
	}
	b, err := report.ReadBaseline(src)
	return &b, err
}

// readBaselineAt reads the baseline of a revision; one that is not there knows
// nothing.
func readBaselineAt(fsys fs.FS, name string) (*report.Baseline, error) {
	src, err := fs.ReadFile(fsys, name)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	if err != nil {
		return nil, fmt.Errorf("read the baseline: %w", err)
	}
	b, err := report.ReadBaseline(src)
	return &b, err
}

// writeBaseline makes the present findings known ones.
func (c *lintCmd) writeBaseline(a *app, result checked) error {
	var b strings.Builder
	if err := report.NewBaseline(result.Diagnostics).Write(&b); err != nil {
		return err
	}
	if err := journal.Outside(c.Baseline); err != nil {
		return withHint("choose another name", "%w", err)
	}
	old, err := os.ReadFile(c.Baseline)
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return fmt.Errorf("read the baseline: %w", err)
	}
	if err := safefile.Write(c.Baseline, old, []byte(b.String())); err != nil {
		return fmt.Errorf("write the baseline: %w", err)
	}
	a.say("%s written to %s: commit it, and wj lint --baseline %s tells only what comes after", count(len(result.Diagnostics), "known finding"), c.Baseline, c.Baseline)
	return nil
}

func (c *lintCmd) report(a *app, result checked) error {
	if c.Format == "sarif" || c.Format == "junit" || c.Format == "github" {
		// These are read beside the repository: paths from its top.
		for i := range result.Diagnostics {
			result.Diagnostics[i].Path = path.Join(result.prefix, result.Diagnostics[i].Path)
		}
	}
	switch c.Format {
	case "json":
		return report.JSON(a.stdout, result.Result)
	case "sarif":
		return report.SARIF(a.stdout, result.Result)
	case "junit":
		return report.JUnit(a.stdout, result.Result)
	case "github":
		return report.GitHub(a.stdout, result.Result)
	}
	var b strings.Builder
	for _, d := range result.Diagnostics {
		b.WriteString(a.out.Finding(toFinding(d, a.relative(result.root, d.Path))))
	}
	if err := a.print(b.String()); err != nil {
		return err
	}
	files, what := count(result.Files, "record"), "nothing found"
	if len(result.Diagnostics) > 0 {
		what = count(result.Count(lint.Error), "error") + ", " + count(result.Count(lint.Warning), "warning") + ", " + count(result.Count(lint.Info), "note")
	}
	switch {
	case result.older > 0 && c.Since != "":
		what += "; not told: " + count(result.older, "finding") + " that " + c.Since + " had too"
	case result.older > 0:
		what += "; not told: " + count(result.older, "older finding") + " elsewhere"
	}
	if result.known > 0 {
		what += "; not told: " + count(result.known, "known finding")
	}
	a.say("%s checked: %s", files, what)
	if result.gone > 0 {
		a.say("%s of the baseline are gone: wj lint --baseline %s --write-baseline makes it shorter", count(result.gone, "finding"), c.Baseline)
	}
	return nil
}

// unsafeFixes counts the findings that only --unsafe mends.
func unsafeFixes(result checked) int {
	n := 0
	for _, d := range result.Diagnostics {
		if len(d.Fixes) > 0 && !slices.ContainsFunc(d.Fixes, func(f lint.Fix) bool { return !f.Unsafe }) {
			n++
		}
	}
	return n
}

// mend applies the fixes, all files or none. A fix that would leave a record that
// cannot be right is not made.
func (c *lintCmd) mend(a *app, result checked) (int, error) {
	byPath := map[string][]lint.Diagnostic{}
	var order []string
	for _, d := range result.Diagnostics {
		if len(d.Fixes) > 0 {
			if byPath[d.Path] == nil {
				order = append(order, d.Path)
			}
			byPath[d.Path] = append(byPath[d.Path], d)
		}
	}
	total := 0
	record := writer.Record{Kept: true}
	for _, p := range order {
		src, err := journal.Dir(result.root).ReadIfThere(p)
		if err != nil {
			return 0, err
		}
		out, n, err := lint.Apply(p, src, byPath[p], c.Unsafe)
		if err != nil {
			return 0, err
		}
		if n > 0 {
			record.Files = append(record.Files, writer.File{Path: p, Old: src, New: out})
			total += n
		}
	}
	if total == 0 {
		return 0, nil
	}
	for _, d := range writer.Check(result.journal, a.now(), record.Files) {
		if d.Bars {
			return 0, withHint("fix it by hand", "nothing was fixed: %s would be left with %s: %s", d.Path, d.Rule, d.Message)
		}
	}
	_, err := writer.Write(a.ctx, result.root, record)
	return total, err
}
