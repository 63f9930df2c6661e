package journal

import (
	"path"
	"regexp"
	"slices"
	"strings"
	"sync"

	"wj/journal/frontmatter"
)

// Joined is another journal that was brought into one: its records have a prefix
// before their names, behind the day where a name begins with one.
type Joined struct {
	Prefix, Commit string // the last commit of its history, as that was brought in
	By             string
}

// Has reports whether a record of this id came from the other journal, or is named as
// if it had.
func (p Joined) Has(id string) bool { return strings.HasPrefix(id[afterDay(id):], p.Prefix+"-") }

// ID is the id of a record of the other journal here: 2026-03-02-spring becomes
// 2026-03-02-mill-spring, SU-2511 becomes mill-SU-2511.
func (p Joined) ID(id string) string {
	at := afterDay(id)
	return id[:at] + p.Prefix + "-" + id[at:]
}

// Path is a file of the other journal here, a record or what lies beside one.
func (p Joined) Path(file string) string { return path.Join(path.Dir(file), p.ID(path.Base(file))) }

var dayBefore = sync.OnceValue(func() *regexp.Regexp { return regexp.MustCompile(`^\d{4}-\d\d-\d\d-`) })

// afterDay is where an id goes on behind the day that it begins with.
func afterDay(id string) int { return len(dayBefore().FindString(id)) }

// Bring gives a record of the other journal the names that it and others have here:
// only references change, and [Joined.Original] takes that back byte for byte. beers
// are the targets that a batch may name as its beer.
func (p Joined) Bring(kind Kind, content []byte, beers func(id string) bool) []byte {
	return p.rewrite(kind, content, func(text string, at int, beer bool) frontmatter.Edit {
		if text == SettingsFile || beer && !beers(text) {
			return frontmatter.Edit{}
		}
		at += afterDay(text)
		return frontmatter.Edit{Start: at, End: at, New: p.Prefix + "-"}
	})
}

// Original is what a record that was brought in was in the other journal.
func (p Joined) Original(kind Kind, content []byte) []byte {
	return p.rewrite(kind, content, func(text string, at int, beer bool) frontmatter.Edit {
		if text == SettingsFile || !p.Has(text) {
			return frontmatter.Edit{}
		}
		at += afterDay(text)
		return frontmatter.Edit{Start: at, End: at + len(p.Prefix) + 1}
	})
}

// rewrite applies an edit to every reference of a record: edit is given its text and
// where that starts.
func (p Joined) rewrite(kind Kind, content []byte, edit func(text string, at int, beer bool) frontmatter.Edit) []byte {
	var d frontmatter.Document
	d.Parse(content)
	if !d.OK() {
		return content
	}
	var edits []frontmatter.Edit
	add := func(text string, start, end int32, beer bool) {
		if start < end && (content[start] == '"' || content[start] == '\'') {
			start, end = start+1, end-1
		}
		if text == "" || start >= end || string(content[start:end]) != text {
			return // written in an unusual way: it stays as it is, in both directions
		}
		if e := edit(text, int(start), beer); e.Start != e.End || e.New != "" {
			edits = append(edits, e)
		}
	}
	references(&d, 0, Field{Type: TypeMap, Fields: kind.Fields()}, func(n int32, beer bool) {
		add(d.Text(n), d.Nodes[n].Start, d.Nodes[n].End, beer)
	}, func(n int32) {
		key, start, end := d.Key(n), d.Nodes[n].KeyStart, d.Nodes[n].KeyEnd
		if content[start] == '"' || content[start] == '\'' {
			start, end = start+1, end-1
		}
		if base := path.Base(key); path.Dir(key) != "." && start < end && string(content[start:end]) == key {
			add(base, end-int32(len(base)), end, false)
		}
	})
	slices.SortFunc(edits, func(a, b frontmatter.Edit) int { return a.Start - b.Start })
	if out, err := frontmatter.Apply(content, edits); err == nil {
		return out
	}
	return content
}

// references visits the ids of other records in a value, and the keys that are paths
// of records.
func references(d *frontmatter.Document, n int32, f Field, id func(n int32, beer bool), file func(n int32)) {
	node := d.Nodes[n]
	switch {
	case node.Kind == frontmatter.Scalar && (f.Type == TypeRef || f.Type == TypeOneOrList && f.Of.Type == TypeRef):
		id(n, false)
	case node.Kind == frontmatter.Scalar && f.Key == "beer":
		id(n, true)
	case node.Kind == frontmatter.Sequence && f.Of != nil:
		for c := range d.Children(n) {
			references(d, c, *f.Of, id, file)
		}
	case node.Kind == frontmatter.Mapping && f.Type == TypeDict:
		for c := range d.Children(n) {
			if f.Keys == PathKey && f.Key != "attachments" {
				file(c)
			}
			references(d, c, *f.Of, id, file)
		}
	case node.Kind == frontmatter.Mapping:
		fields := f.Fields
		if fields == nil && f.Of != nil {
			fields = f.Of.Fields
		}
		for c := range d.Children(n) {
			key := d.Key(c)
			if i := slices.IndexFunc(fields, func(f Field) bool { return f.Key == key }); i >= 0 {
				references(d, c, fields[i], id, file)
			}
		}
	}
}
