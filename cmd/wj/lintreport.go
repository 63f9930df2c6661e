package main

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path"
	"strconv"
	"strings"

	"wj/journal"
	"wj/journal/safefile"
	"wj/lint"
	"wj/lint/report"
	"wj/render"
)

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
			d.Path = path.Join(result.Prefix, d.Path)
			for k := range d.Related {
				d.Related[k].Path = path.Join(result.Prefix, d.Related[k].Path)
			}
		}
	}
	shown := result.Result
	left := report.LeftOut{Known: result.Known, Older: result.Older}
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
	files, what := journal.Count(result.Files, "record"), "nothing found"
	if len(result.Diagnostics) > 0 {
		what = journal.Count(result.Count(lint.Error), "error") + ", " + journal.Count(result.Count(lint.Warning), "warning") + ", " + journal.Count(result.Count(lint.Info), "note")
	}
	if left.Above > 0 {
		what += "; not shown: " + journal.Count(left.Above, "further finding") + " (--max)"
	}
	switch {
	case result.Older > 0 && c.Since != "":
		what += "; not shown: " + journal.Count(result.Older, "finding") + " that " + c.Since + " had too"
	case result.Older > 0:
		what += "; not shown: " + journal.Count(result.Older, "older finding") + " elsewhere"
	}
	if result.Known > 0 {
		what += "; not shown: " + journal.Count(result.Known, "known finding")
	}
	a.say("%s checked: %s", files, what)
	err := a.out.Show(func(o render.Output) string {
		var b strings.Builder
		for _, d := range shown.Diagnostics {
			f := toFinding(d, a.relative(result.root, d.Path))
			for _, p := range d.Related {
				f.Related = append(f.Related, render.Related{Path: a.relative(result.root, p.Path), Line: p.Line, Column: p.Column, Message: p.Message})
			}
			b.WriteString(o.Finding(f))
		}
		if c.Statistics && len(result.Diagnostics) > 0 {
			b.WriteString(o.Table(statistics(result.Diagnostics)))
		}
		return b.String()
	})
	if result.Gone > 0 {
		a.say("%s of the baseline are gone: wj lint --baseline %s --write-baseline makes it shorter", journal.Count(result.Gone, "finding"), c.Baseline)
	}
	return err
}

// statistics is the table of --statistics.
func statistics(ds []lint.Diagnostic) render.Table {
	t := render.Table{Columns: []render.Column{{Head: "findings", Right: true}, {Head: "records", Right: true}, {Head: "fixable", Right: true}, {Head: "severity"}, {Head: "rule"}}}
	for _, r := range report.Statistics(ds) {
		t.Rows = append(t.Rows, []render.Cell{{Text: strconv.Itoa(r.Findings)}, {Text: strconv.Itoa(r.Records)}, {Text: strconv.Itoa(r.Fixable)}, {Text: r.Severity}, {Text: r.Rule}})
	}
	return t
}
