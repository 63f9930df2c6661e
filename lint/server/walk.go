package server

import (
	"bytes"
	"io/fs"
	"strconv"

	"wj/journal"
	"wj/journal/frontmatter"
)

// place is a key or a value of a record with what the schema says of it.
type place struct {
	schemaField
	node       int32
	keys       []string
	onKey      bool
	start, end int
	text       string
	depth      int
}

// walk visits each key and each scalar of a record, in the order of the text.
func walk(d *frontmatter.Document, kind journal.Kind, visit func(at place)) {
	if !d.OK() {
		return
	}
	var down func(node int32, at schemaField, known bool, keys []string)
	down = func(node int32, at schemaField, known bool, keys []string) {
		n := d.Nodes[node]
		index := 0
		for c := n.First; c != 0; c = d.Nodes[c].Next {
			child := d.Nodes[c]
			inner, ok := at, known
			name := strconv.Itoa(index)
			index++
			if n.Kind == frontmatter.Sequence {
				if known {
					inner, ok = at.item()
				}
			} else {
				name = d.Key(c)
				if known {
					inner, ok = at.below(name)
				}
			}
			if !ok {
				inner = schemaField{field: &journal.Field{}}
			}
			path := append(keys[:len(keys):len(keys)], name)
			if child.KeyStart >= 0 {
				owner := schemaField{field: &journal.Field{}}
				if known {
					owner = at.mapping()
				}
				visit(place{schemaField: owner, node: c, keys: path, onKey: true, start: int(child.KeyStart), end: int(child.KeyEnd), text: d.Key(c), depth: len(keys)})
			}
			if child.Kind == frontmatter.Scalar {
				if child.End > child.Start {
					visit(place{schemaField: inner, node: c, keys: path, start: int(child.Start), end: int(child.End), text: d.Text(c), depth: len(keys)})
				}
				continue
			}
			down(c, inner, ok, path)
		}
	}
	down(0, rootField(kind), true, nil)
}

// names reports whether a place names a record.
func (at *place) names(f journal.File) bool {
	if at.field == nil {
		return false
	}
	if at.onKey {
		return at.field.Type == journal.TypeDict && at.field.Keys == journal.PathKey && at.text == f.Path
	}
	field := at.mapping().field
	if field.Type != journal.TypeRef || at.text != f.ID {
		return false
	}
	for _, k := range field.To {
		if k == f.Kind {
			return true
		}
	}
	return false
}

// mention is a place of a file that names a record.
type mention struct {
	file       journal.File
	start, end int
	onKey      bool
}

// mentions finds every place of the journal that names a record.
func (s *server) mentions(p *workspace, f journal.File) []mention {
	var out []mention
	var doc frontmatter.Document
	id := []byte(f.ID)
	for _, file := range append(p.j.Files, journal.File{Kind: journal.KindSettings, Path: journal.SettingsFile}) {
		src, err := fs.ReadFile(p.j.FS, file.Path)
		if err != nil || len(src) > frontmatter.MaxFile || !bytes.Contains(src, id) {
			continue
		}
		if file.Kind == journal.KindSettings {
			doc.ParseYAML(src)
		} else {
			doc.Parse(src)
		}
		walk(&doc, file.Kind, func(at place) {
			if at.names(f) {
				out = append(out, mention{file, at.start, at.end, at.onKey})
			}
		})
	}
	return out
}

// subject is the record that a place is about: the one that it names, else the record
// that the document is.
func (d *document) subject(offset int) (f journal.File, start, end int, ok bool) {
	if at, on := spotAt(d.parsed(), d.file.Kind, offset); on {
		for _, f := range named(d.place.j, at) {
			return f, at.start, at.end, true
		}
	}
	if d.file.Kind == journal.KindSettings {
		return journal.File{}, 0, 0, false
	}
	return d.file, 0, 0, true
}
