package main

import (
	"fmt"
	"io"
	"os"
	"path/filepath"

	"wj/journal"
	"wj/journal/frontmatter"
	"wj/journal/writer"
	"wj/lint"
	"wj/lint/look"
)

type lintCmd struct {
	Paths         []string `arg:"" optional:"" help:"Files, folders or record ids; the whole journal if none."`
	Format        string   `enum:"text,json,sarif,junit,github" default:"text" help:"${enum}."`
	FailOn        string   `enum:"error,warning,info" default:"error" help:"The lowest severity that makes the exit status 1: ${enum}."`
	Fix           bool     `help:"Apply the safe fixes; a reading's value is never touched."`
	Unsafe        bool     `help:"With --fix, also change the meaning of a text, such as the name of an analyte."`
	Only          []string `placeholder:"RULE" help:"Run these rules only: names, or families such as cause."`
	Skip          []string `placeholder:"RULE" help:"Leave these rules or families out."`
	Baseline      string   `placeholder:"FILE" help:"Leave out the findings that this file knows."`
	WriteBaseline bool     `help:"Write the findings to the --baseline file instead of showing them."`
	Since         string   `placeholder:"REV" help:"Show only findings that were not there at this revision."`
	Base          string   `placeholder:"REV" help:"Judge by the settings (and the baseline) of this revision, the branch to merge into, and report what this one changes of them."`
	Staged        bool     `help:"Judge what git is about to commit instead of the files: for a pre-commit hook."`
	Statistics    bool     `help:"Count the findings of each rule instead of showing them."`
	Max           int      `placeholder:"N" help:"Show at most N findings; the counts and the exit status are of all."`
	IgnoreBecause string   `placeholder:"TEXT" help:"Write into each record shown that it ignores the rule, for this reason. Choose with --only and paths."`
	Stdin         bool     `help:"Read one record from standard input: an editor's unsaved text. With --fix, print it corrected."`
	StdinPath     string   `placeholder:"FILE" help:"Where in the journal the text of --stdin belongs."`
	Watch         bool     `help:"Look again whenever a file of the journal changes, until interrupted."`
	Pages         string   `env:"WJ_PAGES" placeholder:"URL" help:"Where the pages of wj explain --site are: rules in json and sarif lead there."`
	History       bool     `negatable:"" default:"true" help:"Ask Git who recorded, changed and deleted what, where a rule wants to know."`

	asOf

	text []byte // of --stdin
}

func (c *lintCmd) looksAt() (string, bool) {
	return c.At, !c.Fix && !c.Staged && !c.Stdin && !c.Watch && c.IgnoreBecause == ""
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

// checked is what came of one look at the journal.
type checked struct {
	look.Found
	root string
}

// check lints the journal and leaves out what is known or not new.
func (c *lintCmd) check(a *app) (checked, error) {
	root, err := a.root()
	if err != nil {
		return checked{}, err
	}
	a.collect(keeping)
	g := look.Ground{Source: &a.Source, Root: root, Loaded: func(j *journal.Journal) error {
		a.collectFor(j)
		a.waits.At("checking " + journal.Count(len(j.Files), "record"))
		return c.set(a, j.Settings.Zone)
	}}
	found, err := g.Look(look.Question{
		Only: c.Only, Skip: c.Skip, Base: c.Base, Since: c.Since, Staged: c.Staged, Stdin: c.Stdin, StdinPath: c.StdinPath, Text: c.text,
		History: c.History, Baseline: c.Baseline, Write: c.WriteBaseline, Paths: func(j *journal.Journal) ([]string, error) { return c.paths(j, root) },
	})
	return checked{found, root}, err
}

func (c *lintCmd) Run(a *app) error {
	if len(c.Paths) == 1 && a.Dir == "." {
		// wj lint some/journal: the folder named is the journal.
		if info, err := os.Stat(c.Paths[0]); err == nil && info.IsDir() {
			if _, err := os.Lstat(filepath.Join(c.Paths[0], journal.SettingsFile)); err == nil {
				a.Dir, c.Paths = c.Paths[0], nil
			}
		}
	}
	if err := c.fits(); err != nil {
		return err
	}
	switch {
	case c.Watch:
		return c.watch(a)
	case c.Stdin:
		text, err := io.ReadAll(io.LimitReader(a.stdin, frontmatter.MaxFile+1))
		if err != nil {
			return fmt.Errorf("read the record: %w", err)
		}
		c.text = text
	}
	return c.once(a)
}

// fits refuses flags that contradict each other.
func (c *lintCmd) fits() error {
	switch {
	case c.At != "" && (c.Fix || c.Staged || c.Stdin || c.Watch || c.IgnoreBecause != ""):
		return withHint("leave out one of them", "--at looks at a revision that is over; --fix and --ignore-because change files, --staged, --stdin and --watch look at what is about to be")
	case c.Staged && (c.Fix || c.IgnoreBecause != ""):
		return withHint("wj lint --fix, then git add", "--fix changes files, and --staged looks at none")
	case c.Staged && c.Since != "":
		return withHint("leave out one of them", "--staged compares with the last commit, and --since with %s", c.Since)
	case c.WriteBaseline && c.Baseline == "":
		return withHint("wj lint --baseline lint-baseline.json --write-baseline", "--write-baseline needs to know which file")
	case c.Stdin != (c.StdinPath != ""):
		return withHint("wj lint --stdin --stdin-path sessions/2026/2026-03-04-tap.md", "--stdin and --stdin-path go together: what a record is depends on its folder and name")
	case c.Stdin && (c.Staged || c.Watch || c.Since != "" || c.IgnoreBecause != "" || len(c.Paths) > 0):
		return withHint("leave out one of them", "--stdin looks at one text, and at no file")
	case c.Watch && (c.Staged || c.Fix || c.WriteBaseline || c.IgnoreBecause != ""):
		return withHint("leave out one of them", "--watch looks, and changes nothing")
	case c.Max < 0:
		return withHint("--max 20", "--max is the number of findings to show")
	}
	return nil
}

// once looks at the journal, fixes what it should and reports.
func (c *lintCmd) once(a *app) error {
	result, err := c.check(a)
	if err != nil {
		return err
	}
	switch {
	case c.Fix && c.Stdin:
		text, _, err := writer.FixText(result.Journal, result.Path, c.text, a.Now(), result.Diagnostics, c.Unsafe)
		if err != nil {
			return err
		}
		_, err = a.stdout.Write(text)
		return err
	case c.IgnoreBecause != "":
		n, err := writer.Silence(a.Context, result.root, result.Diagnostics, c.IgnoreBecause)
		if err == nil {
			a.say("%s ignored: %s", journal.Count(n, "finding"), c.IgnoreBecause)
		}
		return err
	case c.Fix:
		fixed, err := writer.Fix(a.Context, result.root, result.Journal, a.Now(), result.Diagnostics, c.Unsafe)
		if err != nil {
			return err
		}
		if fixed > 0 {
			if result, err = c.check(a); err != nil {
				return err
			}
		}
		said := journal.Count(fixed, "place") + " corrected"
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
		case c.Staged && !d.Bars: // what was measured, recalled or corrected is recorded regardless of what follows from it
			followers++
		case c.Staged:
			a.say("the commit is not made: correct it, git add it and commit again")
			return errFindings
		default:
			return errFindings
		}
	}
	if followers > 0 {
		a.say("the commit goes on: %s of the water or of what follows, none of a record that cannot be right", journal.Count(followers, "error"))
	}
	return nil
}
