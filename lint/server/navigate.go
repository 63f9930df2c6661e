package server

import (
	"path"
	"path/filepath"
	"slices"
	"strings"

	"wj/journal"
	"wj/journal/frontmatter"
)

// references lists the places that name the record under the cursor, or the record
// that is open.
func (s *server) references(p referenceParams) ([]location, error) {
	found := []location{}
	s.look(p.TextDocument.URI, func(d *document) {
		f, _, _, ok := d.subject(d.text.offset(p.Position))
		if !ok {
			return
		}
		if p.Context.IncludeDeclaration {
			found = append(found, location{URI: s.uri(d.place, f.Path)})
		}
		found = append(found, s.locations(d.place, s.mentions(d.place, f))...)
	})
	return found, nil
}

func (s *server) locations(p *workspace, list []mention) []location {
	out := make([]location, len(list))
	for i, m := range list {
		out[i] = location{s.uri(p, m.file.Path), s.textAt(p, m.file.Path).span(m.start, m.end)}
	}
	return out
}

// prepareRename says which word would be renamed.
func (s *server) prepareRename(p positionParams) (*renamePlace, error) {
	var out *renamePlace
	var failed error
	s.look(p.TextDocument.URI, func(d *document) {
		f, start, end, ok := d.subject(d.text.offset(p.Position))
		if !ok || end == 0 {
			return // an editor shows that there is nothing to rename here
		}
		if failed = s.mayRename(d.place, f); failed == nil {
			out = &renamePlace{d.text.span(start, end), f.ID}
		}
	})
	return out, failed
}

// mayRename refuses to rename what signed statements name: they would have to be changed too,
// and then prove nothing.
func (s *server) mayRename(p *workspace, f journal.File) error {
	if f.Kind == journal.KindSession || f.Kind == journal.KindSignoff || f.Kind == journal.KindAnchor {
		return failure(codeRequestFailed, "the name of a %s is its date and what it is of: it is not renamed", f.Kind)
	}
	for _, m := range s.mentions(p, f) {
		switch m.file.Kind {
		case journal.KindSignoff, journal.KindAnchor, journal.KindReport:
			return failure(codeRequestFailed, "%s names %s, and what was signed or sent is not rewritten: write a new record beside it", m.file.Path, f.ID)
		}
	}
	return nil
}

// rename gives a record another id: in its file's name and wherever it is named.
func (s *server) rename(p renameParams) (*workspaceEdit, error) {
	var out *workspaceEdit
	var failed error
	s.look(p.TextDocument.URI, func(d *document) { out, failed = s.renamed(d, p) })
	return out, failed
}

func (s *server) renamed(d *document, p renameParams) (*workspaceEdit, error) {
	f, _, _, ok := d.subject(d.text.offset(p.Position))
	if !ok {
		return nil, failure(codeRequestFailed, "there is no record here to rename")
	}
	if err := s.mayRename(d.place, f); err != nil {
		return nil, err
	}
	switch {
	case !journal.ValidID(p.NewName, f.Kind):
		return nil, failure(codeRequestFailed, "%q is no record id: lower-case letters, digits and hyphens", p.NewName)
	case p.NewName != f.ID && d.place.j.Exists(f.Kind, p.NewName):
		return nil, failure(codeRequestFailed, "there is a %s %s already", f.Kind, p.NewName)
	case !s.renames || !s.documentChanges:
		return nil, failure(codeRequestFailed, "this editor cannot rename files: git mv %s, and correct what wj lint then names", f.Path)
	}
	target := path.Join(path.Dir(f.Path), p.NewName+path.Ext(f.Path))
	edits := map[string][]textEdit{}
	var files []string
	for _, m := range s.mentions(d.place, f) {
		text := frontmatter.Quote(p.NewName)
		if m.onKey {
			text = target
		}
		if edits[m.file.Path] == nil {
			files = append(files, m.file.Path)
		}
		edits[m.file.Path] = append(edits[m.file.Path], textEdit{s.textAt(d.place, m.file.Path).span(m.start, m.end), text})
	}
	out := &workspaceEdit{}
	for _, name := range files {
		e := documentEdit{versioned{URI: s.uri(d.place, name)}, edits[name]}
		for _, open := range s.docs {
			if open.place == d.place && open.file.Path == name {
				e.TextDocument.Version = &open.version
			}
		}
		out.DocumentChanges = append(out.DocumentChanges, e)
	}
	out.DocumentChanges = append(out.DocumentChanges, renameFile{"rename", s.uri(d.place, f.Path), uriOf(filepath.Join(d.place.root, filepath.FromSlash(target)))})
	covered := 0
	for _, signoff := range d.place.j.Signoffs.List {
		if signoff.Void == nil && slices.ContainsFunc(files, func(name string) bool { return signoff.Covers[name] != "" }) {
			covered++
		}
	}
	if covered > 0 {
		s.wire.notify("window/showMessage", map[string]any{"type": severityWarning, "message": journal.Count(covered, "sign-off") + " cover records that this changes: they have to be signed again"})
	}
	return out, nil
}

// workspaceSymbols finds records by their id or name.
func (s *server) workspaceSymbols(p workspaceSymbolParams) ([]workspaceSymbol, error) {
	const most = 200
	out := []workspaceSymbol{}
	s.mu.Lock()
	wait := false
	for _, place := range s.places {
		wait = wait || place.j == nil
	}
	s.mu.Unlock()
	if wait {
		s.judge()
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	want := strings.ToLower(p.Query)
	for _, place := range s.places {
		if place.j == nil {
			continue
		}
		for i := len(place.j.Files) - 1; i >= 0 && len(out) < most; i-- { // the newest sessions first
			f := place.j.Files[i]
			about := briefly(place.j, f.Kind, f.ID)
			if !strings.Contains(strings.ToLower(f.ID), want) && !strings.Contains(strings.ToLower(about), want) {
				continue
			}
			out = append(out, workspaceSymbol{Name: f.ID, Kind: symbolFile, Location: location{URI: s.uri(place, f.Path)}, ContainerName: about})
		}
	}
	return out, nil
}
