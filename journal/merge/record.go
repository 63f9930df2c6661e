// Package merge unites two versions of a record that were edited apart. It
// takes both sides' amendments, list items and readings, and invents no value:
// what it cannot decide stays a conflict that a person can read.
//
//	merged, conflicts := merge.Record(path, base, ours, theirs)
package merge

import (
	"bytes"
	"slices"
	"strings"

	"wj/journal"
	"wj/journal/evidence"
	"wj/journal/frontmatter"
)

// Labels of the two sides at conflicts; the names of branches are not known
// to a merge driver.
const (
	oursMark   = "<<<<<<< ours"
	baseMark   = "||||||| before"
	middleMark = "======="
	theirsMark = ">>>>>>> theirs"
)

// together are the keys of a change that are one computation: two people's
// edits of them make a dose that nobody worked out.
var together = []string{"for", "basis", "volume", "tank", "add", "expect"}

// merging is a record while it is merged.
type merging struct {
	kind      journal.Kind
	conflicts []string // keys that both sides changed
	coupled   map[string]bool
}

// Record merges two versions of a record, or of the settings. base is what
// both began with, nil where both made the file. conflicts are the keys that
// could not be decided; they stand in merged between the marks that git uses.
// A fact of either side is in merged, or in a conflict.
func Record(path string, base, ours, theirs []byte) (merged []byte, conflicts []string) {
	switch {
	case bytes.Equal(ours, theirs), bytes.Equal(base, theirs):
		return ours, nil
	case bytes.Equal(base, ours):
		return theirs, nil
	}
	f, _ := fileOf(path)
	m := &merging{kind: f.Kind, coupled: map[string]bool{}}
	whole := func() ([]byte, []string) {
		return []byte(conflict(string(ours), string(base), string(theirs), base != nil)), []string{"the whole file"}
	}
	if base == nil && Apart(path, ours, theirs) {
		out, _ := whole()
		return out, []string{"two sessions of one site and day"}
	}
	crlf := bytes.Contains(ours, []byte("\r\n"))
	b, o, t := unix(base), unix(ours), unix(theirs)
	var heads, bodies [3]string
	for i, src := range []string{b, o, t} {
		if i == 0 && base == nil {
			continue
		}
		var d frontmatter.Document
		if f.Kind == journal.KindSettings {
			d.ParseYAML([]byte(src))
			heads[i] = src
		} else {
			d.Parse([]byte(src))
			if d.OK() {
				heads[i], bodies[i] = part(src)
			}
		}
		if !d.OK() || d.Failed() || len(d.Problems) > 0 {
			return whole()
		}
	}
	out := m.chunks(parts(heads[0], &f), parts(heads[1], &f), parts(heads[2], &f), "")
	body := m.body(bodies[0], bodies[1], bodies[2], base != nil)
	text := out
	if f.Kind != journal.KindSettings {
		text = "---\n" + out + "---\n" + body
	}
	merged = []byte(text)
	if len(m.conflicts) == 0 && !holds(f, base, ours, theirs, merged) {
		return whole()
	}
	if crlf {
		merged = bytes.ReplaceAll(merged, []byte("\n"), []byte("\r\n"))
	}
	return merged, m.conflicts
}

// Apart reports whether two files of one name are two sessions: two samples of
// one site and day, that two people recorded apart.
func Apart(path string, ours, theirs []byte) bool {
	f, ok := fileOf(path)
	if !ok || f.Kind != journal.KindSession {
		return false
	}
	_, a := evidence.Read(f, ours)
	_, b := evidence.Read(f, theirs)
	x, okX := a.(*journal.Session)
	y, okY := b.(*journal.Session)
	return okX && okY && (!x.Sampled.Equal(y.Sampled) || x.By != y.By)
}

// fileOf finds the record in a path that may begin outside of the journal.
func fileOf(path string) (journal.File, bool) {
	for rest := path; ; {
		if f, ok := journal.FileOf(rest); ok {
			return f, true
		}
		if rest == journal.SettingsFile {
			return journal.File{Kind: journal.KindSettings, ID: rest, Path: rest}, true
		}
		_, after, ok := strings.Cut(rest, "/")
		if !ok {
			return journal.File{}, false
		}
		rest = after
	}
}

func unix(src []byte) string {
	return strings.ReplaceAll(strings.TrimPrefix(string(src), "\ufeff"), "\r\n", "\n")
}

// part cuts a record into its front matter and what is below.
func part(src string) (head, body string) {
	head, body, _ = strings.Cut(strings.TrimPrefix(src, "---\n"), "\n---\n")
	if rest, ok := strings.CutSuffix(head, "\n---"); ok {
		head = rest
	}
	return head + "\n", body
}

// parts is the front matter in chunks, its amendments each on its line.
func parts(head string, f *journal.File) []*chunk {
	if head == "" {
		return nil
	}
	chunks := parse(strings.Split(strings.TrimSuffix(head, "\n"), "\n"))
	c := find(chunks, "amended")
	if c == nil || len(c.children) > 0 || f.Kind == journal.KindSettings {
		return chunks
	}
	src := []byte("---\n" + c.text() + "---\n")
	var d frontmatter.Document
	d.Parse(src)
	list, ok := d.FindPath("amended")
	if !ok || d.Nodes[list].Kind != frontmatter.Sequence {
		return chunks
	}
	before := 0
	for before < len(c.lines) && isComment(c.lines[before]) {
		before++
	}
	c.lines, c.list = append(slices.Clone(c.lines[:before]), "amended:"), true
	for item := range d.Children(list) {
		n := d.Nodes[item]
		text := "- " + strings.Join(strings.Fields(string(src[n.Start:n.End])), " ")
		c.children = append(c.children, &chunk{key: text, lines: []string{"  " + text}})
	}
	return chunks
}

// chunks merges the keys of a mapping, in the order of ours; what theirs added
// stands after what it stood after there.
func (m *merging) chunks(base, ours, theirs []*chunk, at string) string {
	if m.kind == journal.KindChange && at == "" {
		m.couple(base, ours, theirs)
	}
	var b strings.Builder
	added := map[string][]*chunk{} // by the key of theirs before them
	last := ""
	for _, t := range theirs {
		if find(ours, t.key) == nil {
			added[last] = append(added[last], t)
			continue
		}
		last = t.key
	}
	follow := func(key string) {
		for _, t := range added[key] {
			switch was := find(base, t.key); {
			case was == nil:
				t.write(&b)
			case was.text() != t.text():
				b.WriteString(m.clash(at, nil, was, t))
			}
		}
	}
	follow("")
	for _, o := range ours {
		was, t := find(base, o.key), find(theirs, o.key)
		switch {
		case t == nil && was == nil:
			o.write(&b)
		case t == nil:
			if was.text() != o.text() {
				b.WriteString(m.clash(at, o, was, nil))
			}
		default:
			b.WriteString(m.one(was, o, t, at))
		}
		follow(o.key)
	}
	return b.String()
}

// couple finds whether both sides changed the computation of a change.
func (m *merging) couple(base, ours, theirs []*chunk) {
	text := func(list []*chunk) string {
		var b strings.Builder
		for _, key := range together {
			if c := find(list, key); c != nil {
				c.write(&b)
			}
		}
		return b.String()
	}
	was, is, there := text(base), text(ours), text(theirs)
	if is == there || is == was || there == was {
		return
	}
	for _, key := range together {
		m.coupled[key] = true
	}
}

// one merges a key that both sides have.
func (m *merging) one(was, o, t *chunk, at string) string {
	before := ""
	if was != nil {
		before = was.text()
	}
	path := strings.TrimPrefix(at+"."+o.key, ".")
	switch {
	case o.text() == t.text():
		return o.text()
	case m.coupled[path]:
		return m.clash(at, o, was, t)
	case was != nil && t.text() == before && path != "amended":
		return o.text()
	case was != nil && o.text() == before && path != "amended":
		return t.text()
	case len(o.children) == 0 || len(t.children) == 0 || o.list != t.list:
		return m.clash(at, o, was, t)
	}
	head, ok := pick(was, o, t)
	if !ok {
		return m.clash(at, o, was, t)
	}
	var below []*chunk
	if was != nil && was.list == o.list {
		below = was.children
	}
	if !o.list {
		return head + m.chunks(below, o.children, t.children, path)
	}
	items, ok := m.items(below, o.children, t.children, path == "amended")
	if !ok {
		return m.clash(at, o, was, t)
	}
	return head + items
}

// pick is the line of a key with the comments before it.
func pick(was, o, t *chunk) (string, bool) {
	text := func(c *chunk) string { return strings.Join(c.lines, "\n") + "\n" }
	switch {
	case text(o) == text(t), was != nil && text(was) == text(t):
		return text(o), true
	case was != nil && text(was) == text(o):
		return text(t), true
	}
	return "", false
}

// items unites two lists. Amendments are only ever added. Elsewhere two
// versions of one item, or an item that one side took out and the other
// edited, cannot be decided.
func (m *merging) items(base, ours, theirs []*chunk, events bool) (string, bool) {
	missing := func(from, in []*chunk) []*chunk {
		var out []*chunk
		for _, c := range from {
			if find(in, c.key) == nil {
				out = append(out, c)
			}
		}
		return out
	}
	var b strings.Builder
	if events {
		all := slices.Clone(base)
		all = append(all, missing(ours, all)...)
		fresh := missing(theirs, all)
		all = append(all, fresh...)
		slices.SortStableFunc(all[len(base):], func(x, y *chunk) int { return strings.Compare(dated(x.key), dated(y.key)) })
		for _, c := range all {
			b.WriteString(indented(c, ours))
		}
		return b.String(), true
	}
	outO, outT := missing(base, ours), missing(base, theirs)
	inO, inT := missing(ours, base), missing(theirs, base)
	ids := func(lists ...[]*chunk) map[string]bool {
		set := map[string]bool{}
		for _, list := range lists {
			for _, c := range list {
				set[identity(c.key)] = true
			}
		}
		return set
	}
	changedO := ids(outO, inO)
	for id := range ids(outT, inT) {
		if !changedO[id] {
			continue
		}
		for _, c := range inT { // the same item added by both is one
			if identity(c.key) == id && find(inO, c.key) == nil {
				return "", false
			}
		}
		for _, c := range inO {
			if identity(c.key) == id && find(inT, c.key) == nil {
				return "", false
			}
		}
	}
	for _, c := range ours {
		if find(outT, c.key) == nil {
			c.write(&b)
		}
	}
	for _, c := range missing(inT, ours) {
		b.WriteString(indented(c, ours))
	}
	return b.String(), true
}

// dated is when an amendment was made, as it is typed.
func dated(item string) string {
	_, on, _ := strings.Cut(item, "on:")
	return strings.TrimSpace(on)
}

// indented is an item, indented as the list that it comes into.
func indented(c *chunk, list []*chunk) string {
	if len(list) == 0 {
		return c.text()
	}
	want := strings.Repeat(" ", indentOf(list[0].lines[len(list[0].lines)-1]))
	have := strings.Repeat(" ", indentOf(c.lines[0]))
	if find(list, c.key) != nil || len(c.lines) > 1 && want != have {
		return c.text()
	}
	return want + strings.TrimPrefix(c.text(), have)
}

// listed are the items of a list of plain values.
func listed(text string) []string { return strings.Split(strings.Trim(text, "[]"), ", ") }

// body merges what is written below the fields: where both only added, both
// additions stay.
func (m *merging) body(base, ours, theirs string, had bool) string {
	switch {
	case ours == theirs, had && theirs == base:
		return ours
	case had && ours == base:
		return theirs
	case strings.TrimSpace(ours) == "":
		return theirs
	case strings.TrimSpace(theirs) == "":
		return ours
	case had && strings.HasPrefix(ours, base) && strings.HasPrefix(theirs, base):
		return strings.TrimSuffix(ours, "\n") + "\n\n" + strings.TrimLeft(theirs[len(base):], "\n")
	}
	m.conflicts = append(m.conflicts, "the notes")
	return conflict(ours, base, theirs, had)
}

// clash writes what both sides have for one key, and remembers it.
func (m *merging) clash(at string, o, was, t *chunk) string {
	text, key := [3]string{}, ""
	for i, c := range []*chunk{o, was, t} {
		if c != nil {
			text[i], key = c.text(), c.key
		}
	}
	m.conflicts = append(m.conflicts, strings.TrimPrefix(at+"."+key, "."))
	return conflict(text[0], text[1], text[2], was != nil)
}

func conflict(ours, base, theirs string, had bool) string {
	line := func(s string) string {
		if s != "" && !strings.HasSuffix(s, "\n") {
			s += "\n"
		}
		return s
	}
	out := oursMark + "\n" + line(ours)
	if had {
		out += baseMark + "\n" + line(base)
	}
	return out + middleMark + "\n" + line(theirs) + theirsMark + "\n"
}

// holds reports whether a merge without conflicts is what three-way merging of
// its facts gives: each value is one that a side gave it, and no amendment of
// either side is lost.
func holds(f journal.File, base, ours, theirs, merged []byte) bool {
	fields := func(src []byte) map[string]string {
		if f.Kind != journal.KindSettings {
			return evidence.ByPath(evidence.Fields(src))
		}
		var d frontmatter.Document
		d.ParseYAML(src)
		return evidence.ByPath(evidence.FieldsOf(&d))
	}
	var d frontmatter.Document
	if f.Kind == journal.KindSettings {
		d.ParseYAML(merged)
	} else {
		d.Parse(merged)
	}
	if !d.OK() || d.Failed() {
		return false
	}
	b, o, t, is := fields(base), fields(ours), fields(theirs), fields(merged)
	paths := map[string]bool{}
	for _, set := range []map[string]string{b, o, t, is} {
		for p := range set {
			paths[p] = true
		}
	}
	for p := range paths {
		was, hadB := b[p]
		x, hadO := o[p]
		y, hadT := t[p]
		want, has := x, hadO
		switch {
		case hadO == hadT && x == y:
		case hadB == hadO && was == x:
			want, has = y, hadT
		case hadB == hadT && was == y:
		default:
			// A list of plain values is one field: both sides' items are in it.
			if !hadO || !hadT || !strings.HasPrefix(x, "[") || !strings.HasPrefix(y, "[") {
				return false
			}
			items := listed(is[p])
			for _, side := range [][]string{listed(x), listed(y)} {
				for _, item := range side {
					if !slices.Contains(items, item) && !slices.Contains(listed(was), item) {
						return false
					}
				}
			}
			continue
		}
		if got, there := is[p]; got != want || there != has {
			return false
		}
	}
	count := map[string]int{}
	for _, a := range evidence.Amendments(f.Kind, merged) {
		count[a.Key+"\x00"+a.Was+"\x00"+a.By]++
	}
	for _, side := range [][]byte{ours, theirs} {
		seen := map[string]int{}
		for _, a := range evidence.Amendments(f.Kind, side) {
			k := a.Key + "\x00" + a.Was + "\x00" + a.By
			if seen[k]++; seen[k] > count[k] {
				return false
			}
		}
	}
	return true
}
