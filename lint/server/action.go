package server

import (
	"slices"
	"strings"

	"wj/journal"
	"wj/journal/frontmatter"
	"wj/lint"
)

// Kinds of code action.
const (
	kindQuickFix = "quickfix"
	kindRewrite  = "refactor.rewrite"
	kindFixAll   = "source.fixAll"
)

// codeAction offers the fixes of the findings in a range, and all safe fixes of
// the file in one.
func (s *server) codeAction(p codeActionParams) ([]codeAction, error) {
	actions := []codeAction{}
	s.look(p.TextDocument.URI, func(d *document) {
		if !d.fresh() {
			return // the edits would not fit the text
		}
		from, to := d.text.offset(p.Range.Start), d.text.offset(p.Range.End)
		safe, edits := 0, []frontmatter.Edit(nil)
		for i := range d.found {
			f := &d.found[i]
			start, end := d.extent(f)
			fixes := f.Fixes
			if start <= to && end >= from {
				if silence, ok := lint.Silence(d.text.src, f.Rule, ""); ok && d.file.Kind != journal.KindSettings {
					fixes = append(slices.Clone(fixes), silence)
				}
			}
			for k, fix := range fixes {
				if !fix.Unsafe && !fix.Guess && k == 0 && !touches(edits, fix.Edits) {
					edits = append(edits, fix.Edits...)
					safe++
				}
				if start > to || end < from || !asked(p.Context.Only, kindQuickFix) {
					continue
				}
				title := f.Rule + ": " + fix.Message
				if fix.Unsafe {
					title += " (may change what the record means)"
				}
				actions = append(actions, codeAction{Title: title, Kind: kindQuickFix, IsPreferred: !fix.Unsafe && !fix.Guess,
					Diagnostics: []diagnostic{s.told(d, f)}, Edit: s.edit(d, fix.Edits)})
			}
		}
		if asked(p.Context.Only, kindRewrite) {
			actions = append(actions, s.rewrites(d, from, to)...)
		}
		if safe > 1 && asked(p.Context.Only, kindFixAll) {
			actions = append(actions, codeAction{Title: "apply all safe fixes", Kind: kindFixAll, Edit: s.edit(d, edits)})
		}
	})
	return actions, nil
}

// touches reports whether two sets of edits meet in one place.
func touches(taken, edits []frontmatter.Edit) bool {
	for _, e := range edits {
		for _, t := range taken {
			if e.Start < t.End && t.Start < e.End || e.Start == t.Start {
				return true
			}
		}
	}
	return false
}

// asked reports whether a client that wants only some kinds wants this one. A
// kind stands for all below it.
func asked(only []string, kind string) bool {
	for _, k := range only {
		if k == kind || k == "" || strings.HasPrefix(kind, k+".") {
			return true
		}
	}
	return len(only) == 0
}

// edit is a change of a file in the form that the client can read; with a
// version where it can, so that it is never made in another text.
func (s *server) edit(d *document, edits []frontmatter.Edit) workspaceEdit {
	list := make([]textEdit, len(edits))
	for i, e := range edits {
		list[i] = textEdit{d.text.span(e.Start, e.End), e.New}
	}
	if !s.documentChanges {
		return workspaceEdit{Changes: map[string][]textEdit{d.uri: list}}
	}
	return workspaceEdit{DocumentChanges: []any{documentEdit{versioned{d.uri, &d.version}, list}}}
}

// definition leads to the record that a value names.
func (s *server) definition(p positionParams) ([]location, error) {
	found := []location{}
	s.look(p.TextDocument.URI, func(d *document) {
		at, ok := spotAt(d.parsed(), d.file.Kind, d.text.offset(p.Position))
		if !ok {
			return
		}
		for _, f := range named(d.place.j, at) {
			found = append(found, location{URI: s.uri(d.place, f.Path)})
		}
	})
	return found, nil
}

// named lists the records that a value, or a key that is a path, names.
func named(j *journal.Journal, at spot) []journal.File {
	var out []journal.File
	switch {
	case at.onKey:
		owner := at.owner.mapping()
		if owner.field.Type == journal.TypeDict && owner.field.Keys == journal.PathKey {
			for _, f := range j.Files {
				if f.Path == at.text {
					out = append(out, f)
				}
			}
		}
		return out
	case at.mapping().field.Type != journal.TypeRef:
		return nil
	}
	for _, k := range at.mapping().field.To {
		for _, f := range j.Find(at.text) {
			if f.Kind == k {
				out = append(out, f)
			}
		}
	}
	return out
}

// rulesAt lists the findings that are shown at an offset.
func (d *document) rulesAt(offset int) []*lint.Diagnostic {
	var out []*lint.Diagnostic
	if !d.fresh() {
		return nil
	}
	for i := range d.found {
		if start, end := d.extent(&d.found[i]); start <= offset && offset <= end {
			out = append(out, &d.found[i])
		}
	}
	return out
}
