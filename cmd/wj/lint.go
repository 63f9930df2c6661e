package main

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"

	"wj/journal"
	"wj/journal/safefile"
	"wj/lint"
	"wj/lint/report"
)

type lintCmd struct {
	Paths  []string `arg:"" optional:"" help:"Files, folders or record ids; the whole journal if none."`
	Format string   `enum:"text,json,sarif,junit,github" default:"text" help:"${enum}."`
	FailOn string   `enum:"error,warning,info" default:"error" help:"The least severity that makes the exit status 1: ${enum}."`
	Fix    bool     `help:"Mend what has one safe way to be mended; a reading's value is never touched."`
	Unsafe bool     `help:"With --fix, mend also what changes the meaning of a text, such as the name of an analyte."`
	Only   []string `placeholder:"RULE" help:"Run these rules only."`
	Skip   []string `placeholder:"RULE" help:"Leave these rules out."`
	Now    string   `placeholder:"DATE" help:"Judge as of this day instead of today."`
	At     string   `placeholder:"REV" help:"Check the journal as it was then: a commit, a branch or a date."`
}

// paths brings what a person named to paths of the journal.
func (c *lintCmd) paths(a *app, j *journal.Journal, root string) ([]string, error) {
	var out []string
	for _, p := range c.Paths {
		full, err := filepath.Abs(p)
		if err != nil {
			return nil, err
		}
		if info, err := os.Lstat(full); err == nil {
			if resolved, err := filepath.EvalSymlinks(full); err == nil {
				full = resolved
			}
			base := root
			if resolved, err := filepath.EvalSymlinks(root); err == nil {
				base = resolved
			}
			rel, err := filepath.Rel(base, full)
			if err != nil || strings.HasPrefix(rel, "..") {
				return nil, withHint("name files of the journal, or its folder with -C", "%s is not in the journal %s", p, root)
			}
			if rel == "." {
				return nil, nil
			}
			_ = info
			out = append(out, filepath.ToSlash(rel))
			continue
		}
		f, err := find(j, p)
		if err != nil {
			return nil, err
		}
		out = append(out, f.Path)
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
	result, root, err := c.check(a)
	if err != nil {
		return err
	}
	if c.Fix {
		fixed, err := c.mend(a, root, result)
		if err != nil {
			return err
		}
		if fixed > 0 {
			if result, root, err = c.check(a); err != nil {
				return err
			}
		}
		a.say("%s mended", count(fixed, "place"))
	}
	if err := c.report(a, root, result); err != nil {
		return err
	}
	least := map[string]lint.Severity{"error": lint.Error, "warning": lint.Warning, "info": lint.Info}[c.FailOn]
	for _, d := range result.Diagnostics {
		if d.Severity >= least {
			return errFindings
		}
	}
	return nil
}

func (c *lintCmd) check(a *app) (lint.Result, string, error) {
	if c.At != "" && c.Fix {
		return lint.Result{}, "", withHint("leave --at or --fix out", "what was is not mended")
	}
	j, root, err := a.loadAt(c.At, journal.Options{Check: true, Sessions: true})
	if err != nil {
		return lint.Result{}, "", err
	}
	opt := lint.Options{Now: a.now(), Only: c.Only, Skip: c.Skip}
	for _, name := range append(append([]string(nil), c.Only...), c.Skip...) {
		if _, ok := lint.Find(name); !ok {
			return lint.Result{}, "", withHint("wj explain lists the rules", "there is no rule %q", name)
		}
	}
	if c.Now != "" {
		_, to, err := period("", c.Now, j.Settings.Zone)
		if err != nil {
			return lint.Result{}, "", err
		}
		opt.Now = to
	}
	if opt.Paths, err = c.paths(a, j, root); err != nil {
		return lint.Result{}, "", err
	}
	return lint.Run(j, opt), root, nil
}

func (c *lintCmd) report(a *app, root string, result lint.Result) error {
	switch c.Format {
	case "json":
		return report.JSON(a.stdout, result)
	case "sarif":
		return report.SARIF(a.stdout, result)
	case "junit":
		return report.JUnit(a.stdout, result)
	case "github":
		return report.GitHub(a.stdout, result)
	}
	var b strings.Builder
	for _, d := range result.Diagnostics {
		b.WriteString(a.out.Finding(toFinding(d, a.relative(root, d.Path))))
	}
	if err := a.print(b.String()); err != nil {
		return err
	}
	files := count(result.Files, "record")
	if len(result.Diagnostics) == 0 {
		a.say("%s checked: nothing found", files)
		return nil
	}
	a.say("%s checked: %s, %s, %s", files, count(result.Count(lint.Error), "error"), count(result.Count(lint.Warning), "warning"), count(result.Count(lint.Info), "note"))
	return nil
}

// mend applies the fixes file by file; each file is written whole or not at
// all.
func (c *lintCmd) mend(a *app, root string, result lint.Result) (int, error) {
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
	for _, p := range order {
		full := filepath.Join(root, filepath.FromSlash(p))
		src, err := os.ReadFile(full)
		if err != nil {
			return total, fmt.Errorf("read %s: %w", p, err)
		}
		out, n, err := lint.Apply(p, src, byPath[p], c.Unsafe)
		if err != nil {
			return total, err
		}
		if n == 0 {
			continue
		}
		if err := safefile.Write(full, src, out); err != nil {
			return total, fmt.Errorf("write %s: %w", p, err)
		}
		total += n
	}
	return total, nil
}
