package main

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"strings"

	"wj/journal"
	"wj/journal/safefile"
	"wj/lint"
	"wj/lint/report"
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
