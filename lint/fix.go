package lint

import (
	"bytes"
	"fmt"
	"slices"

	"wj/journal"
	"wj/journal/frontmatter"
)

// Apply makes the fixes of a file's diagnostics: the first fix of each, unsafe
// ones only where asked for. Diagnostics of other files are passed over. A fix
// that would overlap one already taken is left for the next time; out is src
// where nothing was done. An error means that an edit does not fit the text:
// the file has changed since it was judged.
func Apply(path string, src []byte, ds []Diagnostic, unsafe bool) (out []byte, applied int, err error) {
	var edits []frontmatter.Edit
	for i := range ds {
		if ds[i].Path != path {
			continue
		}
		at := slices.IndexFunc(ds[i].Fixes, func(f Fix) bool { return unsafe || !f.Unsafe })
		if at < 0 {
			continue
		}
		fix := ds[i].Fixes[at]
		if slices.ContainsFunc(fix.Edits, func(e frontmatter.Edit) bool { return overlaps(e, edits) }) {
			continue
		}
		edits = append(edits, fix.Edits...)
		applied++
	}
	if applied == 0 {
		return src, 0, nil
	}
	out, err = frontmatter.Apply(src, edits)
	if err != nil {
		return src, 0, fmt.Errorf("fix %s: %w", path, err)
	}
	return out, applied, nil
}

// overlaps reports whether the edit touches a place that another one changes.
func overlaps(e frontmatter.Edit, taken []frontmatter.Edit) bool {
	return slices.ContainsFunc(taken, func(t frontmatter.Edit) bool {
		return e.Start < t.End && t.Start < e.End || e.Start == t.Start
	})
}

// fixOf is the fix that reading the journal offers.
func fixOf(p *journal.Problem) Fix {
	return Fix{Message: fmt.Sprintf("write %s", p.Fix.New), Edits: []frontmatter.Edit{*p.Fix}, Unsafe: p.Unsafe}
}

// mendEncoding takes out byte-order marks at the start and the CR of CR LF line
// ends, however often a program has put them there. Everything else of an
// encoding needs a person.
func mendEncoding(d *frontmatter.Document, _ int32) (Fix, bool) {
	var edits []frontmatter.Edit
	rest := d.Source
	for bytes.HasPrefix(rest, []byte("\xef\xbb\xbf")) {
		rest = rest[3:]
	}
	if marks := len(d.Source) - len(rest); marks > 0 {
		edits = append(edits, frontmatter.Edit{Start: 0, End: marks})
	}
	at := len(d.Source) - len(rest)
	for line := range bytes.Lines(rest) {
		text := bytes.TrimRight(line, "\r\n")
		if end := len(line) - 1; line[end] == '\n' && len(text) < end {
			edits = append(edits, frontmatter.Edit{Start: at + len(text), End: at + end})
		}
		at += len(line)
	}
	return Fix{Message: "save as UTF-8 with LF line ends", Edits: edits}, len(edits) > 0
}
