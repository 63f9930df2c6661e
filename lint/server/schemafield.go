package server

import (
	"strconv"

	"wj/journal"
	"wj/journal/frontmatter"
	"wj/water"
)

// schemaField is what the schema says of a place in a record.
type schemaField struct {
	field   *journal.Field
	analyte water.ID
	known   bool // analyte is what the values here are of
}

// rootField is the whole front matter of a record.
func rootField(kind journal.Kind) schemaField {
	return schemaField{field: &journal.Field{Type: journal.TypeMap, Fields: kind.Fields()}}
}

// item is the schemaField of an item of a list here.
func (s schemaField) item() (schemaField, bool) {
	switch s.field.Type {
	case journal.TypeList, journal.TypeOneOrList:
		s.field = s.field.Of
	case journal.TypeReading: // replicates
		s.field = &journal.Field{Type: journal.TypeReading, Doc: s.field.Doc}
	default:
		return s, false
	}
	return s, true
}

// mapping is the schemaField as a mapping has it: a list that may be a single item is
// that item.
func (s schemaField) mapping() schemaField {
	if s.field.Type == journal.TypeOneOrList {
		s.field = s.field.Of
	}
	return s
}

// below is the schemaField of a key here.
func (s schemaField) below(key string) (schemaField, bool) {
	s = s.mapping()
	if s.field.Type == journal.TypeDict {
		switch s.field.Keys {
		case journal.AnalyteKey, journal.ValueKey, journal.TargetKey:
			s.analyte, s.known = water.Lookup(key)
			if !s.known && s.field.Keys == journal.TargetKey && key == "mash_pH" {
				s.analyte, s.known = water.PHValue, true
			}
		}
		s.field = s.field.Of
		return s, true
	}
	for i := range s.field.Fields {
		if f := &s.field.Fields[i]; f.Key == key {
			if s.field.Type == journal.TypeReading && f.Type == journal.TypeReading {
				// The value of the long form: without the long form's own keys.
				f = &journal.Field{Key: f.Key, Type: f.Type, Doc: f.Doc}
			}
			s.field = f
			return s, true
		}
	}
	return s, false
}

// at follows keys from the root; "-" or a number is an item of a list.
func (s schemaField) at(keys []string) (schemaField, bool) {
	for _, key := range keys {
		var ok bool
		if _, err := strconv.Atoi(key); key == "-" || err == nil {
			if s, ok = s.item(); !ok {
				return s, false
			}
			continue
		}
		if s, ok = s.below(key); !ok {
			return s, false
		}
	}
	return s, true
}

// spot is the key or value at a place of a record that can be read.
type spot struct {
	schemaField
	keys       []string // that lead to it
	node       int32
	onKey      bool
	start, end int         // of the key or the value
	owner      schemaField // of the mapping that the key stands in
	text       string      // the key, or the value of a scalar
}

// spotAt finds what is at an offset; ok is false outside keys and values,
// and where the schema knows nothing.
func spotAt(d *frontmatter.Document, kind journal.Kind, offset int) (spot, bool) {
	if !d.OK() {
		return spot{}, false
	}
	at := spot{schemaField: rootField(kind)}
	for {
		n := d.Nodes[at.node]
		next := int32(0)
		index, count := 0, 0
		for c := n.First; c != 0; c = d.Nodes[c].Next {
			child := d.Nodes[c]
			from := child.Start
			if child.KeyStart >= 0 {
				from = child.KeyStart
			}
			if int(from) <= offset && offset <= int(child.End) {
				next, index = c, count
			}
			count++
		}
		if next == 0 {
			return at, false
		}
		child := d.Nodes[next]
		at.owner = at.schemaField
		var ok bool
		if n.Kind == frontmatter.Sequence {
			at.keys = append(at.keys, strconv.Itoa(index))
			at.schemaField, ok = at.item()
		} else {
			at.keys = append(at.keys, d.Key(next))
			at.schemaField, ok = at.below(d.Key(next))
		}
		at.node = next
		switch {
		case !ok:
			return at, false
		case child.KeyStart >= 0 && offset <= int(child.KeyEnd):
			at.onKey, at.start, at.end, at.text = true, int(child.KeyStart), int(child.KeyEnd), d.Key(next)
			return at, true
		case child.Kind == frontmatter.Scalar:
			at.start, at.end, at.text = int(child.Start), int(child.End), d.Text(next)
			return at, offset >= int(child.Start)
		}
	}
}
