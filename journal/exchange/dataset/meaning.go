package dataset

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"

	"wj/journal"
	"wj/journal/frontmatter"
)

// A meaning is what a record says, apart from how it is laid out: mappings, lists and
// texts as typed, short forms written out (a reading is always a mapping with its
// value), and what may be one or a list always a list. It is what columns hold.
type meaning = map[string]any

// reader takes the meaning of a document.
type reader struct {
	d     *frontmatter.Document
	whole bool // everything in the document is in the meaning
}

// meaningOf is what a record's front matter says, and whether the columns can hold all
// of it. Not held: keys that the schema does not have, values of another kind than it
// says, dates that are none, what is there but empty.
func meaningOf(d *frontmatter.Document, kind journal.Kind) (meaning, bool) {
	r := reader{d: d, whole: len(d.Problems) == 0}
	if !d.OK() {
		return meaning{}, false
	}
	m := r.mapping(0, kind.Fields())
	return m, r.whole
}

func (r *reader) mapping(i int32, fields []journal.Field) meaning {
	m := meaning{}
	for c := range r.d.Children(i) {
		key := r.d.Key(c)
		at := slices.IndexFunc(fields, func(f journal.Field) bool { return f.Key == key })
		if _, twice := m[key]; at < 0 || twice {
			r.whole = false
			continue
		}
		if v := r.value(c, &fields[at]); v != nil {
			m[key] = v
		} else {
			r.whole = false
		}
	}
	return m
}

// value is the meaning of a node, nil where the columns cannot hold it.
func (r *reader) value(i int32, f *journal.Field) any {
	kind := r.d.Nodes[i].Kind
	switch {
	case f.Type == journal.TypeDict:
		if kind != frontmatter.Mapping {
			return nil
		}
		m := meaning{}
		for c := range r.d.Children(i) {
			key := r.d.Key(c)
			_, twice := m[key]
			if v := r.value(c, f.Of); v != nil && !twice && holdable(key) {
				m[key] = v
			} else {
				r.whole = false
			}
		}
		return orNil(m)
	case f.Type == journal.TypeList, f.Type == journal.TypeOneOrList:
		list := r.list(i, f.Of)
		if f.Type == journal.TypeList && f.Of.Type == journal.TypeReading && len(list) != 2 || len(list) == 0 {
			return nil
		}
		return list
	case f.Type == journal.TypeMap:
		if kind != frontmatter.Mapping {
			return nil
		}
		return orNil(r.mapping(i, f.Fields))
	case f.Fields != nil && kind == frontmatter.Mapping:
		return orNil(r.mapping(i, f.Fields))
	case f.Fields != nil:
		main := &f.Fields[mainField(f.Fields)]
		if v := r.value(i, main); v != nil {
			return meaning{main.Key: v}
		}
		return nil
	case f.Type == journal.TypeReading && f.Key == "value": // a list is replicates
		if list := r.list(i, &journal.Field{Type: journal.TypeReading}); len(list) > 0 {
			return list
		}
		return nil
	case f.Type == journal.TypePlace:
		if list := r.list(i, &journal.Field{Type: journal.TypeNumber}); len(list) == 2 {
			return list
		}
		return nil
	}
	if kind != frontmatter.Scalar {
		return nil
	}
	text := r.d.Text(i)
	if !holdable(text) || !fits(text, f) {
		return nil
	}
	return text
}

// list is the entries of a list, or the one value that stands for a list of one.
func (r *reader) list(i int32, of *journal.Field) []any {
	var list []any
	if r.d.Nodes[i].Kind != frontmatter.Sequence {
		if v := r.value(i, of); v != nil {
			list = append(list, v)
		}
		return list
	}
	for c := range r.d.Children(i) {
		v := r.value(c, of)
		if v == nil {
			r.whole = false
			continue
		}
		list = append(list, v)
	}
	return list
}

func orNil(m meaning) any {
	if len(m) == 0 {
		return nil
	}
	return m
}

// holdable reports whether a text comes back from every format: an empty one is not
// distinguished from none in CSV, and some readers end a text at a zero byte.
func holdable(text string) bool {
	return text != "" && !strings.ContainsAny(text, "\x00\r") && utf8.ValidString(text)
}

// fits reports whether a typed column can hold the text. Columns that keep the text as
// typed beside its value take anything.
func fits(text string, f *journal.Field) bool {
	switch f.Type {
	case journal.TypeDate:
		_, err := journal.ParseDate(text)
		return err == nil
	case journal.TypeChoice:
		return len(f.Choices) == 0 || slices.Contains(f.Choices, text)
	case journal.TypeInteger:
		n, err := strconv.ParseInt(text, 10, 64)
		return err == nil && strconv.FormatInt(n, 10) == text
	case journal.TypeFlag:
		return text == "true" || text == "false"
	case journal.TypePlace, journal.TypeNumber:
		return !strings.Contains(text, ", ")
	}
	return true
}

// settingsMeaning is what wj.yaml says: every key, whether the schema has it or not.
func settingsMeaning(d *frontmatter.Document) (meaning, bool) {
	r := reader{d: d, whole: len(d.Problems) == 0}
	if !d.OK() {
		return meaning{}, false
	}
	m, _ := r.anything(0).(meaning)
	if m == nil {
		m = meaning{}
	}
	return m, r.whole
}

func (r *reader) anything(i int32) any {
	switch r.d.Nodes[i].Kind {
	case frontmatter.Mapping:
		m := meaning{}
		for c := range r.d.Children(i) {
			key := r.d.Key(c)
			if v := r.anything(c); v != nil && holdable(key) {
				m[key] = v
			} else {
				r.whole = false
			}
		}
		return orNil(m)
	case frontmatter.Sequence:
		var list []any
		for c := range r.d.Children(i) {
			if v := r.anything(c); v != nil {
				list = append(list, v)
			} else {
				r.whole = false
			}
		}
		if len(list) > 0 {
			return list
		}
		return nil
	}
	if text := r.d.Text(i); holdable(text) {
		return text
	}
	return nil
}

// digest is the SHA-256 of a meaning with its body, as JSON with sorted keys.
func digest(kind journal.Kind, id string, m meaning, body string) string {
	var b bytes.Buffer
	e := json.NewEncoder(&b)
	e.SetEscapeHTML(false)
	_ = e.Encode(map[string]any{"kind": kind.Folder(), "id": id, "fields": m, "body": body}) // texts, lists and mappings alone
	sum := sha256.Sum256(bytes.TrimRight(b.Bytes(), "\n"))
	return hex.EncodeToString(sum[:])
}
