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
		at := slices.IndexFunc(ds[i].Fixes, func(f Fix) bool { return f.byItself(unsafe) })
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

// fixesOf are the fixes that reading the journal offers.
func fixesOf(p *journal.Problem) (out []Fix) {
	if p.Fix != nil {
		out = append(out, Fix{Message: fmt.Sprintf("write %s", p.Fix.New), Edits: []frontmatter.Edit{*p.Fix}, Unsafe: p.Unsafe})
	}
	for _, e := range p.Near {
		if p.Fix == nil || e != *p.Fix {
			out = append(out, Fix{Message: fmt.Sprintf("write %s", e.New), Edits: []frontmatter.Edit{e}, Guess: true})
		}
	}
	return out
}

// renameKey is a fix that gives a key another name.
func renameKey(name string) func(d *frontmatter.Document, node int32) (Fix, bool) {
	return func(d *frontmatter.Document, node int32) (Fix, bool) {
		n := d.Nodes[node]
		if name == "" || n.KeyStart < 0 {
			return Fix{}, false
		}
		return Fix{Message: "write " + name, Edits: []frontmatter.Edit{{Start: int(n.KeyStart), End: int(n.KeyEnd), New: name}}, Guess: true}, true
	}
}

// Silence is the fix that has a record ignore a rule, for a reason: an empty one is
// reported until somebody writes it. ok is false where the record cannot be edited or
// ignores the rule already.
func Silence(src []byte, rule, reason string) (fix Fix, ok bool) {
	var d frontmatter.Document
	if d.Parse(src); !d.OK() || FamilyOf(rule) == FamilyFormat {
		return Fix{}, false
	}
	value := frontmatter.Quote(reason)
	if reason == "" {
		value = `""`
	}
	var edit frontmatter.Edit
	var err error
	if node, there := d.Child(0, "ignore"); there {
		edit, err = frontmatter.AppendKey(&d, node, rule, value)
	} else {
		edit, err = frontmatter.AppendKey(&d, 0, "ignore", "{"+rule+": "+value+"}")
	}
	return Fix{Message: "ignore " + rule + " here, because …", Edits: []frontmatter.Edit{edit}, Guess: true}, err == nil
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
