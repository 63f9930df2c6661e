package writer

import (
	"context"
	"fmt"
	"time"

	"wj/journal"
	"wj/journal/frontmatter"
	"wj/lint"
)

// Fix applies the fixes of findings to the files in the folder root, all files or
// none, and says how many places it fixed. A fix that would leave a record that
// cannot be right is not made; unsafe takes those too that change the meaning of
// a text.
func Fix(ctx context.Context, root string, j *journal.Journal, now time.Time, findings []lint.Diagnostic, unsafe bool) (int, error) {
	byPath := map[string][]lint.Diagnostic{}
	var order []string
	for _, d := range findings {
		if len(d.Fixes) > 0 {
			if byPath[d.Path] == nil {
				order = append(order, d.Path)
			}
			byPath[d.Path] = append(byPath[d.Path], d)
		}
	}
	total := 0
	record := Record{Kept: true}
	for _, p := range order {
		src, err := journal.Dir(root).ReadIfThere(p)
		if err != nil {
			return 0, err
		}
		out, n, err := FixText(j, p, src, now, byPath[p], unsafe)
		if err != nil {
			return 0, err
		}
		if n > 0 {
			record.Files = append(record.Files, File{Path: p, Old: src, New: out})
			total += n
		}
	}
	if total == 0 {
		return 0, nil
	}
	unreadable := func(list []lint.Diagnostic) map[string]bool {
		out := map[string]bool{}
		for _, d := range list {
			if d.Rule == "format/front-matter" {
				out[d.Path] = true
			}
		}
		return out
	}
	before := unreadable(findings)
	for p := range unreadable(Check(j, now, record.Files)) {
		if !before[p] {
			return 0, journal.Hint("fix it by hand", "nothing was fixed: %s could not be read any more", p)
		}
	}
	_, err := Write(ctx, root, record)
	return total, err
}

// FixText makes the fixes of a file's text until there are no more: one may uncover the
// next, since what is behind a value that cannot be read is not seen.
func FixText(j *journal.Journal, path string, src []byte, now time.Time, findings []lint.Diagnostic, unsafe bool) (out []byte, total int, err error) {
	const most = 100 // more than any record has lines that fixes uncover one by one
	out = src
	for range most {
		next, n, err := lint.Apply(path, out, findings, unsafe)
		if err != nil || n == 0 {
			return out, total, err
		}
		out, total = next, total+n
		findings = lint.Run(j.With(map[string][]byte{path: out}), lint.Options{Paths: []string{path}, Now: now}).Diagnostics
	}
	return out, total, nil
}

// Silence writes into the records of findings that they ignore the rules, for a reason,
// all records or none, and says of how many findings.
func Silence(ctx context.Context, root string, findings []lint.Diagnostic, reason string) (int, error) {
	record := Record{Kept: true}
	at, done := map[string]int{}, map[[2]string]bool{}
	for _, d := range findings {
		key := [2]string{d.Path, d.Rule}
		if done[key] {
			continue
		}
		done[key] = true
		i, known := at[d.Path]
		if !known {
			src, err := journal.Dir(root).ReadIfThere(d.Path)
			if err != nil {
				return 0, err
			}
			i = len(record.Files)
			at[d.Path] = i
			record.Files = append(record.Files, File{Path: d.Path, Old: src, New: src})
		}
		f := &record.Files[i]
		fix, ok := lint.Silence(f.New, d.Rule, reason)
		if !ok || d.Path == journal.SettingsFile {
			return 0, journal.Hint("fix it, or leave it out with --skip "+d.Rule, "nothing was written: %s cannot ignore %s", d.Path, d.Rule)
		}
		out, err := frontmatter.Apply(f.New, fix.Edits)
		if err != nil {
			return 0, fmt.Errorf("ignore %s in %s: %w", d.Rule, d.Path, err)
		}
		f.New = out
	}
	if len(findings) == 0 {
		return 0, nil
	}
	_, err := Write(ctx, root, record)
	return len(findings), err
}
