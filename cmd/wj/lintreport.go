package main

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"strconv"
	"strings"

	"wj/journal"
	"wj/journal/safefile"
	"wj/lint"
	"wj/lint/report"
	"wj/render"
)

// readBaseline reads the baseline of the working files; nil where none is
// asked for, or where it is about to be written for the first time.
func (c *lintCmd) readBaseline(root string) (*report.Baseline, error) {
	if c.Baseline == "" || c.WriteBaseline {
		return nil, nil
	}
	if _, inside, _ := journal.Inside(root, c.Baseline); inside && c.Base != "" {
		return nil, nil // read at the base
	}
	b, err := readBaselineAt(os.DirFS(filepath.Dir(c.Baseline)), filepath.Base(c.Baseline))
	if b == nil && err == nil {
		return nil, withHint("wj lint --baseline "+c.Baseline+" --write-baseline", "there is no baseline %s", c.Baseline)
	}
	return b, err
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
	a.say("%s written to %s: commit it, and wj lint --baseline %s shows only what comes after", journal.Count(len(result.Diagnostics), "known finding"), c.Baseline, c.Baseline)
	return nil
}

func (c *lintCmd) report(a *app, result checked) error {
	if c.Format == "sarif" || c.Format == "junit" || c.Format == "github" {
		// These are read beside the repository: paths from its top.
		for i := range result.Diagnostics {
			d := &result.Diagnostics[i]
			d.Path = path.Join(result.prefix, d.Path)
			for k := range d.Related {
				d.Related[k].Path = path.Join(result.prefix, d.Related[k].Path)
			}
		}
	}
	shown := result.Result
	left := report.LeftOut{Known: result.known, Older: result.older}
	if c.Max > 0 && len(shown.Diagnostics) > c.Max {
		left.Above = len(shown.Diagnostics) - c.Max
		shown.Diagnostics = shown.Diagnostics[:c.Max]
	}
	if c.Statistics {
		shown.Diagnostics, left.Above = nil, 0
	}
	switch c.Format {
	case "json":
		d := report.NewDocument(result.Result, version(), c.Pages, left)
		d.Findings = d.Findings[:len(shown.Diagnostics)]
		return a.document("lint", d)
	case "sarif":
		return report.SARIF(a.stdout, shown, version(), c.Pages)
	case "junit":
		return report.JUnit(a.stdout, shown)
	case "github":
		return report.GitHub(a.stdout, shown)
	}
	var b strings.Builder
	for _, d := range shown.Diagnostics {
		f := toFinding(d, a.relative(result.root, d.Path))
		for _, p := range d.Related {
			f.Related = append(f.Related, render.Related{Path: a.relative(result.root, p.Path), Line: p.Line, Column: p.Column, Message: p.Message})
		}
		b.WriteString(a.out.Finding(f))
	}
	if c.Statistics && len(result.Diagnostics) > 0 {
		b.WriteString(a.out.Table(statistics(result.Diagnostics)))
	}
	if err := a.print(b.String()); err != nil {
		return err
	}
	files, what := journal.Count(result.Files, "record"), "nothing found"
	if len(result.Diagnostics) > 0 {
		what = journal.Count(result.Count(lint.Error), "error") + ", " + journal.Count(result.Count(lint.Warning), "warning") + ", " + journal.Count(result.Count(lint.Info), "note")
	}
	if left.Above > 0 {
		what += "; not shown: " + journal.Count(left.Above, "further finding") + " (--max)"
	}
	switch {
	case result.older > 0 && c.Since != "":
		what += "; not shown: " + journal.Count(result.older, "finding") + " that " + c.Since + " had too"
	case result.older > 0:
		what += "; not shown: " + journal.Count(result.older, "older finding") + " elsewhere"
	}
	if result.known > 0 {
		what += "; not shown: " + journal.Count(result.known, "known finding")
	}
	a.say("%s checked: %s", files, what)
	if result.gone > 0 {
		a.say("%s of the baseline are gone: wj lint --baseline %s --write-baseline makes it shorter", journal.Count(result.gone, "finding"), c.Baseline)
	}
	return nil
}

// statistics is the table of --statistics.
func statistics(ds []lint.Diagnostic) render.Table {
	t := render.Table{Columns: []render.Column{{Head: "findings", Right: true}, {Head: "records", Right: true}, {Head: "fixable", Right: true}, {Head: "severity"}, {Head: "rule"}}}
	for _, r := range report.Statistics(ds) {
		t.Rows = append(t.Rows, []render.Cell{{Text: strconv.Itoa(r.Findings)}, {Text: strconv.Itoa(r.Records)}, {Text: strconv.Itoa(r.Fixable)}, {Text: r.Severity}, {Text: r.Rule}})
	}
	return t
}
