package writer

import (
	"context"
	"time"

	"wj/journal"
	"wj/lint"
)

// Fix applies the fixes of findings to the files in the folder root, all files or
// none, and says how many places it mended. A fix that would leave a record that
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
		out, n, err := lint.Apply(p, src, byPath[p], unsafe)
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
	for _, d := range Check(j, now, record.Files) {
		if d.Bars {
			return 0, Hint("fix it by hand", "nothing was fixed: %s would be left with %s: %s", d.Path, d.Rule, d.Message)
		}
	}
	_, err := Write(ctx, root, record)
	return total, err
}
