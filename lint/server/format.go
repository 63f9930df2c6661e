package server

import (
	"bytes"
	"slices"
	"strings"

	"wj/journal"
	"wj/journal/evidence"
	"wj/journal/frontmatter"
	"wj/water"
)

// formatting sets the blanks of the front matter: one after a colon or comma, none inside
// brackets or at the end of a line, one line end at the end of the file. Values that stand in
// one column stay there. Comments, the order
// of keys and every value stay as they are; a text that would read otherwise is left alone.
func (s *server) formatting(p documentParams) ([]textEdit, error) {
	out := []textEdit{}
	s.lookAsItIs(p.TextDocument.URI, func(d *document) {
		doc := d.parsed()
		if !doc.OK() || doc.Failed() {
			return
		}
		edits := d.blanks(doc)
		result, err := frontmatter.Apply(d.text.src, edits)
		if err != nil || !sameFields(d.text.src, result, d.file.Kind) {
			return
		}
		for _, e := range edits {
			out = append(out, textEdit{d.text.span(e.Start, e.End), e.New})
		}
	})
	return out, nil
}

// sameFields reports whether two texts hold the same keys and values.
func sameFields(a, b []byte, kind journal.Kind) bool {
	if kind == journal.KindSettings {
		var x, y frontmatter.Document
		x.ParseYAML(a)
		y.ParseYAML(b)
		return !y.Failed() && sameTree(&x, &y, 0, 0)
	}
	return slices.EqualFunc(evidence.Fields(a), evidence.Fields(b), func(x, y evidence.Field) bool { return x.Path == y.Path && x.Text == y.Text })
}

func sameTree(x, y *frontmatter.Document, i, k int32) bool {
	m, n := x.Nodes[i], y.Nodes[k]
	if m.Kind != n.Kind || x.Key(i) != y.Key(k) || m.Kind == frontmatter.Scalar && x.Text(i) != y.Text(k) {
		return false
	}
	a, b := m.First, n.First
	for a != 0 && b != 0 {
		if !sameTree(x, y, a, b) {
			return false
		}
		a, b = x.Nodes[a].Next, y.Nodes[b].Next
	}
	return a == b
}

// blanks are the edits that set the blanks of the front matter.
func (d *document) blanks(doc *frontmatter.Document) []frontmatter.Edit {
	src := d.text.src
	var edits []frontmatter.Edit
	gap := func(start, end int, want string) {
		if 0 <= start && start <= end && end <= len(src) && len(bytes.Trim(src[start:end], " \t")) == 0 && string(src[start:end]) != want {
			edits = append(edits, frontmatter.Edit{Start: start, End: end, New: want})
		}
	}
	aligned := d.columns(doc)
	for i := range doc.Nodes {
		n := doc.Nodes[i]
		if i > 0 && !aligned[int32(i)] && n.KeyStart >= 0 && n.End > n.Start {
			if colon := bytes.IndexByte(src[n.KeyEnd:n.Start], ':'); colon >= 0 {
				after := int(n.KeyEnd) + colon + 1
				gap(int(n.KeyEnd), after-1, "")
				gap(after, int(n.Start), " ")
			}
		}
		if n.Style != frontmatter.Flow || n.First == 0 {
			continue
		}
		last := int(n.Start) + 1
		for c := n.First; c != 0; c = doc.Nodes[c].Next {
			child := doc.Nodes[c]
			start := int(child.Start)
			if child.KeyStart >= 0 {
				start = int(child.KeyStart)
			}
			if c == n.First {
				gap(last, start, "")
			} else if comma := bytes.IndexByte(src[last:max(last, start)], ','); comma >= 0 {
				gap(last, last+comma, "")
				gap(last+comma+1, start, " ")
			}
			last = int(child.End)
		}
		if int(n.End)-1 >= last {
			gap(last, int(n.End)-1, "")
		}
	}
	end := len(src)
	if d.file.Kind != journal.KindSettings {
		end = min(doc.FrontEnd, len(src))
	}
	inBlock := func(at int) bool { // the lines of a block of text are its value
		return slices.ContainsFunc(doc.Nodes, func(n frontmatter.Node) bool {
			return (n.Style == frontmatter.Literal || n.Style == frontmatter.Folded || n.Style == frontmatter.DoubleQuoted || n.Style == frontmatter.SingleQuoted) && n.Kind == frontmatter.Scalar && int(n.Start) <= at && at < int(n.End)
		})
	}
	for line := range d.text.lines {
		start, stop := d.text.bounds(line)
		if start >= end && d.file.Kind != journal.KindSettings {
			break
		}
		kept := start + len(bytes.TrimRight(src[start:stop], " \t"))
		if kept < stop && !inBlock(kept) {
			gap(kept, stop, "")
		}
	}
	if kept := len(bytes.TrimRight(src, " \t\r\n")); kept > 0 && string(src[kept:]) != doc.LineEnd() {
		edits = append(edits, frontmatter.Edit{Start: kept, End: len(src), New: doc.LineEnd()})
	}
	slices.SortStableFunc(edits, func(a, b frontmatter.Edit) int { return a.Start - b.Start })
	out := edits[:0]
	for _, e := range edits {
		if n := len(out); n == 0 || e.Start >= out[n-1].End && e != out[n-1] {
			out = append(out, e)
		}
	}
	return out
}

// columns are the values of mappings whose values begin in one column.
func (d *document) columns(doc *frontmatter.Document) map[int32]bool {
	out := map[int32]bool{}
	for i := range doc.Nodes {
		var list []int32
		column := -1
		if n := doc.Nodes[i]; n.Kind != frontmatter.Mapping || n.Style != frontmatter.Block {
			continue
		}
		for c := range doc.Children(int32(i)) {
			n := doc.Nodes[c]
			if n.KeyStart < 0 || n.Start == n.End || d.text.line(int(n.KeyStart)) != d.text.line(int(n.Start)) {
				continue // its value is on the lines below
			}
			if at := d.text.position(int(n.Start)).Character; column < 0 || at == column {
				column = at
			} else {
				list = nil
				break
			}
			list = append(list, c)
		}
		for _, c := range list {
			out[c] = len(list) > 1
		}
	}
	return out
}

// rewrites are changes that a person may want though nothing is wrong: the long form of a
// reading, with the lot in use.
func (s *server) rewrites(d *document, from, to int) []codeAction {
	if d.file.Kind != journal.KindSession {
		return nil
	}
	doc := d.parsed()
	readings, ok := doc.FindPath("readings")
	if !ok {
		return nil
	}
	var out []codeAction
	for c := range doc.Children(readings) {
		n := doc.Nodes[c]
		id, ok := water.LookupAnalyte(doc.Key(c))
		if !ok || int(n.KeyStart) > to || int(n.End) < from || n.Start == n.End {
			continue
		}
		lot := lotInUse(d.place.j, id)
		title, text := "add the lot "+lot, ""
		switch {
		case n.Kind == frontmatter.Scalar || n.Kind == frontmatter.Sequence && n.Style == frontmatter.Flow:
			value := string(doc.Source[n.Start:n.End])
			more := ""
			if lot != "" {
				more = ", lot: " + frontmatter.Quote(lot)
			} else {
				title = "write the long form"
			}
			text = "{value: " + value + more + "}"
		default:
			if _, there := doc.Child(c, "lot"); there || lot == "" {
				continue
			}
			if e, err := frontmatter.AppendKey(doc, c, "lot", frontmatter.Quote(lot)); err == nil {
				out = append(out, codeAction{Title: title, Kind: kindRewrite, Edit: s.edit(d, []frontmatter.Edit{e})})
			}
			continue
		}
		out = append(out, codeAction{Title: strings.TrimSpace(title), Kind: kindRewrite, Edit: s.edit(d, []frontmatter.Edit{{Start: int(n.Start), End: int(n.End), New: text}})})
	}
	return out
}

// lotInUse is the lot of an analyte's reagent that was opened last and not used up.
func lotInUse(j *journal.Journal, id water.ID) string {
	best := ""
	for _, lot := range j.Lots.List {
		if lot.Void == nil && lot.Recalled == nil && lot.Finished.IsZero() && slices.Contains(lot.Analytes, id) {
			old, ok := j.Lots.Get(best)
			if !ok || lot.Opened.After(old.Opened) || lot.Opened.Equal(old.Opened) && lot.ID > old.ID {
				best = lot.ID
			}
		}
	}
	return best
}
