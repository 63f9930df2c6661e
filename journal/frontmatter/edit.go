package frontmatter

import (
	"bytes"
	"cmp"
	"fmt"
	"regexp"
	"slices"
	"strings"
	"sync"
	"unicode/utf8"
)

// Edit replaces the bytes from Start to End (which may be equal) by New.
type Edit struct {
	Start, End int
	New        string
}

// Apply returns src with the edits made; src is left alone. Edits may come in any order.
// Insertions at one place are made in the order given. Edits that overlap, or that lie
// outside src, are an error. Whether applying twice changes nothing is the caller's care.
func Apply(src []byte, edits []Edit) ([]byte, error) {
	sorted := slices.Clone(edits)
	slices.SortStableFunc(sorted, func(a, b Edit) int {
		return cmp.Or(cmp.Compare(a.Start, b.Start), cmp.Compare(a.End, b.End))
	})
	size, at := len(src), 0
	for _, e := range sorted {
		switch {
		case e.Start < 0 || e.End < e.Start || e.End > len(src):
			return nil, fmt.Errorf("apply edit of bytes %d to %d: outside a file of %d bytes", e.Start, e.End, len(src))
		case e.Start < at:
			return nil, fmt.Errorf("apply edit of bytes %d to %d: overlaps an edit that ends at %d", e.Start, e.End, at)
		}
		at = e.End
		size += len(e.New) - (e.End - e.Start)
	}
	out, at := make([]byte, 0, size), 0
	for _, e := range sorted {
		out = append(out, src[at:e.Start]...)
		out = append(out, e.New...)
		at = e.End
	}
	return append(out, src[at:]...), nil
}

// Quote writes text as one scalar: plain where that is safe in block and in flow
// collections and where no YAML reader would take it for something other than text or a
// number, otherwise in double quotes.
func Quote(text string) string {
	if plainSafe(text) {
		return text
	}
	var b strings.Builder
	b.Grow(len(text) + 2)
	b.WriteByte('"')
	for i := 0; i < len(text); {
		r, size := utf8.DecodeRuneInString(text[i:])
		switch {
		case r == utf8.RuneError && size <= 1:
			b.WriteRune(utf8.RuneError) // YAML has no spelling for a byte that is not UTF-8
		case r == '"' || r == '\\':
			b.WriteByte('\\')
			b.WriteRune(r)
		case r == '\n':
			b.WriteString(`\n`)
		case r == '\t':
			b.WriteString(`\t`)
		case r < 0x100 && badRune(r):
			fmt.Fprintf(&b, `\x%02X`, r)
		case badRune(r):
			fmt.Fprintf(&b, `\u%04X`, r)
		default:
			b.WriteRune(r)
		}
		i += size
	}
	b.WriteByte('"')
	return b.String()
}

// numeric is what YAML may read as a number or a date: plain it is a value, and
// no key (YAML 1.1 type repository: int, float, timestamp).
var numeric = sync.OnceValue(func() *regexp.Regexp { return regexp.MustCompile(`^[-+.]?[0-9.][-+.0-9_:TtZzxXoOa-fA-F]*$`) })

// quoteKey writes text as a key.
func quoteKey(text string) string {
	if numeric().MatchString(text) {
		return `"` + text + `"`
	}
	return Quote(text)
}

// reserved are plain scalars that YAML 1.1 or 1.2 reads as a truth value or as nothing
// (YAML 1.1 type repository: bool, null, merge, value; YAML 1.2.2, section 10.3.2).
var reserved = map[string]bool{
	"y": true, "n": true, "yes": true, "no": true, "on": true, "off": true, "true": true,
	"false": true, "null": true, "~": true, "<<": true, "=": true, ".nan": true, ".inf": true,
}

// plainSafe reports whether text needs no quotes anywhere. It asks for more than YAML
// does: blanks only singly, no character that is an indicator in some context.
func plainSafe(text string) bool {
	if text == "" || len(text) > 1024 || !utf8.ValidString(text) || reserved[strings.ToLower(text)] {
		return false
	}
	first := text[0]
	if !isKeyByte(first) && first != '<' && first != '+' && first != '(' && first < 0x80 || first == '.' || first == '/' {
		return false
	}
	if first == '-' && (len(text) < 2 || text[1] < '0' || text[1] > '9') {
		return false
	}
	for i, r := range text {
		switch {
		case badRune(r) || r == '\n' || r == '\t' || r == 0xa0:
			return false
		case strings.ContainsRune("[]{},#\"'`?&*!|\\", r):
			return false
		case r == ' ' && (i == 0 || i+1 == len(text) || text[i+1] == ' '):
			return false
		case r == ':' && (i+1 == len(text) || !isKeyByte(text[i+1])):
			return false
		}
	}
	return markOf([]byte(text)) == 0
}

// SetScalar returns the edit that makes text the value of node, quoted where it must be.
// A value that is missing gets one blank before it. For a collection the whole extent is
// replaced.
func SetScalar(d *Document, node int32, text string) Edit {
	n := d.node(node)
	e := Edit{Start: int(n.Start), End: int(n.End), New: Quote(text)}
	switch {
	case n.Kind != Scalar && n.Style == Block && n.KeyStart >= 0:
		e.Start, e.New = d.afterColon(int(n.KeyEnd)), " "+e.New
	case n.Kind != Scalar || n.Start != n.End || n.Start == 0:
	case n.KeyStart >= 0 && n.Start == n.KeyEnd && bytes.IndexByte(d.Source[n.KeyStart:n.KeyEnd], '\n') >= 0:
		e.Start, e.New = int(n.KeyStart), quoteKey(d.Key(node))+": "+e.New // a key before a colon stands on one line
	case n.KeyStart >= 0 && n.Start == n.KeyEnd: // {key} without a colon
		e.New = ": " + e.New
	case d.Source[n.Start-1] == ':' || d.Source[n.Start-1] == '-':
		e.New = " " + e.New
	}
	return e
}

// AppendKey returns the edit that adds key: valueYAML at the end of a mapping, in the
// mapping's own style and indentation. valueYAML is YAML as it shall stand; in a block
// mapping it may start with a line end for a nested collection, its further lines
// indented as if the mapping stood at the margin. An error tells where the text cannot go.
func AppendKey(d *Document, mapping int32, key, valueYAML string) (Edit, error) {
	n := d.node(mapping)
	if n.Kind != Mapping {
		return Edit{}, fmt.Errorf("add key %s: %s is not a mapping", key, n.Kind)
	}
	if _, taken := d.Child(mapping, key); taken {
		return Edit{}, fmt.Errorf("add key %s: the mapping has it already", key)
	}
	pair := quoteKey(key) + ":"
	if !strings.HasPrefix(valueYAML, "\n") && valueYAML != "" {
		pair += " "
	}
	return d.appendChild(n, pair+valueYAML, "")
}

// AppendItem returns the edit that adds itemYAML at the end of a sequence.
func AppendItem(d *Document, sequence int32, itemYAML string) (Edit, error) {
	n := d.node(sequence)
	if n.Kind != Sequence {
		return Edit{}, fmt.Errorf("add an item: %s is not a list", n.Kind)
	}
	return d.appendChild(n, itemYAML, "- ")
}

func (d *Document) appendChild(n Node, text, dash string) (Edit, error) {
	if n.Style == Flow {
		if strings.Contains(text, "\n") {
			return Edit{}, fmt.Errorf("add to a collection in brackets: the text spans lines")
		}
		at := int(n.End) - 1
		if n.First == 0 {
			return Edit{Start: int(n.Start) + 1, End: at, New: text}, nil
		}
		last := n.First
		for d.Nodes[last].Next != 0 {
			last = d.Nodes[last].Next
		}
		end := int(d.Nodes[last].End)
		if comma := bytes.IndexByte(d.Source[end:at], ','); comma >= 0 && bytes.IndexByte(d.Source[end:at], '#') < 0 {
			return Edit{Start: end + comma + 1, End: end + comma + 1, New: " " + text}, nil
		}
		if d.lacksValue(d.Nodes[last]) { // key:, would be another key
			return Edit{Start: end, End: end, New: " , " + text}, nil
		}
		return Edit{Start: end, End: end, New: ", " + text}, nil
	}
	indent := strings.Repeat(" ", d.column(n))
	lines := strings.ReplaceAll(dash+text, "\r\n", "\n")
	lines = strings.ReplaceAll(strings.TrimRight(lines, "\n"), "\n", d.LineEnd()+indent)
	at, newline := d.lineAfter(int(n.End))
	if style := d.lastLeaf(n).Style; newline && (style == Literal || style == Folded) {
		at = min(d.skipBlank(at), max(d.FrontEnd, at)) // the blank lines may belong to the text
	}
	if n.First == 0 { // the root of an empty front matter
		at, newline = d.FrontEnd, d.FrontEnd == 0 || d.Source[d.FrontEnd-1] == '\n'
		if d.FrontEnd == d.bom() {
			newline = true
		}
	}
	if !newline {
		return Edit{Start: at, End: at, New: d.LineEnd() + indent + lines}, nil
	}
	return Edit{Start: at, End: at, New: indent + lines + d.LineEnd()}, nil
}

// lastLeaf is the value that n ends with.
func (d *Document) lastLeaf(n Node) Node {
	for n.First != 0 {
		at := n.First
		for d.Nodes[at].Next != 0 {
			at = d.Nodes[at].Next
		}
		n = d.Nodes[at]
	}
	return n
}

// column is how far the children of block collection n are indented, in bytes; for a
// sequence that is where its dashes stand.
func (d *Document) column(n Node) int {
	if n.First == 0 {
		return 0
	}
	return int(n.Start) - d.lineStart(int(n.Start))
}

func (d *Document) lineStart(at int) int {
	start := bytes.LastIndexByte(d.Source[:at], '\n') + 1
	if start == 0 {
		start = d.bom()
	}
	return start
}

func (d *Document) lineEnd(at int) int {
	end, _ := lineAt(d.Source, at)
	return end
}

// lineAfter returns where the line after the one that holds at starts, and whether a
// line end stands before it.
func (d *Document) lineAfter(at int) (int, bool) {
	end, next := lineAt(d.Source, at)
	if next == len(d.Source) && (next == 0 || d.Source[next-1] != '\n') {
		return end, false
	}
	return next, true
}

// RemoveNode returns the edit that takes node out: its key and value, with the comma that
// parts it from its neighbours in a flow collection, or with its whole lines (and the
// comment at their end) in a block collection. Removing the only child of a block
// collection below the root leaves {} or [], since the key alone would mean "no value".
func RemoveNode(d *Document, node int32) (Edit, error) {
	parent, before, ok := d.parent(node)
	if !ok {
		return Edit{}, fmt.Errorf("remove a value: the root cannot be removed")
	}
	n, p := d.Nodes[node], d.Nodes[parent]
	start := n.begin()
	if p.Style == Flow {
		switch {
		case before != 0:
			e := Edit{Start: int(d.Nodes[before].End), End: int(n.End)}
			if d.lacksValue(d.Nodes[before]) { // key:} would be another key
				e.New = " "
			}
			return e, nil
		case n.Next != 0:
			return Edit{Start: start, End: d.Nodes[n.Next].begin()}, nil
		}
		return Edit{Start: int(p.Start) + 1, End: int(p.End) - 1}, nil
	}
	if before == 0 && n.Next == 0 && parent != 0 {
		empty := "{}"
		if p.Kind == Sequence {
			empty = "[]"
		}
		if p.KeyStart < 0 {
			return Edit{Start: int(p.Start), End: int(p.End), New: empty}, nil
		}
		colon, end := d.afterColon(int(p.KeyEnd)), int(p.End)
		if first := d.lineStart(start); first > colon { // keep what is between
			empty += strings.TrimRight(string(d.Source[colon:first]), "\r\n")
			end = d.lineEnd(end)
		}
		return Edit{Start: colon, End: end, New: " " + empty}, nil
	}
	first := d.lineStart(start)
	lead := strings.Trim(string(d.Source[first:start]), " ")
	if lead != "" && !(p.Kind == Sequence && lead == "-") {
		// The first key behind a dash: the next key moves up into its place.
		if before == 0 && n.Next != 0 {
			next := d.Nodes[n.Next]
			return Edit{Start: start, End: next.begin()}, nil
		}
		return Edit{}, fmt.Errorf("remove a value: it shares its line with another")
	}
	end, newline := d.lineAfter(int(n.End))
	if !newline && first > 0 { // last line of a file without line end
		first = len(bytes.TrimRight(d.Source[:first], "\r\n"))
	}
	return Edit{Start: first, End: end}, nil
}

// lacksValue reports whether nothing stands behind the node's colon.
func (d *Document) lacksValue(n Node) bool {
	return n.Start == n.End && n.Start > 0 && d.Source[n.Start-1] == ':'
}

// begin is where the node starts, its key included.
func (n Node) begin() int {
	if n.KeyStart >= 0 {
		return int(n.KeyStart)
	}
	return int(n.Start)
}

// parent finds the collection that node is in and the sibling before it (0 if none).
func (d *Document) parent(node int32) (parent, before int32, ok bool) {
	if node <= 0 || int(node) >= len(d.Nodes) {
		return 0, 0, false
	}
	for i := range d.Nodes {
		before = 0
		for c := d.Nodes[i].First; c != 0; c = d.Nodes[c].Next {
			if c == node {
				return int32(i), before, true
			}
			before = c
		}
	}
	return 0, 0, false
}
