// Package frontmatter turns the bytes of a record into a tree in which every key and
// value knows its place, and turns edits of that tree back into bytes.
//
// A record is YAML between two --- lines, then Markdown. Of YAML it takes the part that a
// person writes by hand: mappings with text keys, sequences, scalars, comments. Anchors,
// aliases, tags, merge keys, directives and further documents are refused with their
// place. No scalar is ever interpreted here: 012 stays "012", no stays "no".
//
// Canonical files go through a strict reader of our own that allocates nothing; whatever
// that reader finds unusual goes through the YAML library. FuzzDiff holds the two equal.
//
//	var d frontmatter.Document
//	d.Parse(src)
//	if node, ok := d.Find("readings.sulfate"); ok {
//		line, column := d.Position(int(d.Nodes[node].Start)) // counted from 1
//		fmt.Println(line, column, d.Text(node))
//		src, err = frontmatter.Apply(src, []frontmatter.Edit{frontmatter.SetScalar(&d, node, "86 mg/L")})
//	}
package frontmatter

import (
	"bytes"
	"iter"
	"strconv"
	"strings"
	"unicode/utf8"
)

// Caps on what is handed to a parser. The largest record of a journal is a few KiB; the
// caps keep a hostile or mistaken file from costing memory and time.
const (
	MaxFile  = 256 << 10 // bytes of a whole file
	MaxFront = 64 << 10  // bytes of front matter, or of a YAML file
	MaxLine  = 4 << 10   // bytes of one line of front matter
	MaxDepth = 16        // nesting of collections, the root counted
)

// Rules that a [Problem] can name.
const (
	RuleFrontMatter  = "format/front-matter"
	RuleDuplicateKey = "format/duplicate-key"
	RuleEncoding     = "format/encoding"
	RuleDecimalComma = "format/decimal-comma"
)

// Kind is what a node is. The zero value is no node at all.
type Kind uint8

// Kinds of node.
const (
	None Kind = iota
	Scalar
	Mapping
	Sequence
)

// String returns the kind as messages name it.
func (k Kind) String() string {
	switch k {
	case Scalar:
		return "a value"
	case Mapping:
		return "a mapping"
	case Sequence:
		return "a list"
	}
	return "nothing"
}

// Style is how a node is written. Flow and Block are for collections, the others for
// scalars.
type Style uint8

// Styles of writing.
const (
	Plain Style = iota
	SingleQuoted
	DoubleQuoted
	Literal
	Folded
	Flow
	Block
)

// Node is one value with its key. All offsets are bytes in [Document.Source].
type Node struct {
	Kind  Kind
	Style Style

	// KeyStart and KeyEnd bound the key, quotes included; -1 for the root and for items
	// of a sequence.
	KeyStart, KeyEnd int32
	// Start and End bound the value, quotes and brackets included, a trailing comment
	// and blanks excluded. A value that is missing (key: and nothing after it) has
	// Start == End, just after the colon or the dash.
	Start, End int32
	// First is the index of the first child, Next of the next sibling; 0 is none.
	First, Next int32

	// text and key are indexes into Document.texts where the decoded text differs from
	// the bytes; 0 where it does not. Indexes rather than strings keep the node free of
	// pointers, so that the collector skips the slice.
	text, key int32
}

// Problem is something wrong with the bytes or the YAML of a file.
type Problem struct {
	Rule       string // one of the Rule constants
	Start, End int    // bytes in Source
	Message    string // what is wrong, lower case, no full stop
	Help       string // the next step; may be empty
	Warning    bool   // the file can still be used as it is
	Fix        *Edit  // the one way to fix it, where there is one
}

// Document is a parsed file. The zero value is ready for use, and parsing again reuses
// its memory: nothing taken from it (but strings) outlives the next Parse.
type Document struct {
	Source   []byte
	Nodes    []Node    // Nodes[0] is the root; its Kind is None where there is no tree
	Front    int       // offset of the first byte after the opening --- line
	FrontEnd int       // offset of the closing --- line
	Body     int       // offset where the Markdown body starts
	Problems []Problem // in order of place

	texts []string
	lines []int32
	crlf  bool
}

// Parse reads front matter and body from src, which must not change while d is in use.
// Everything wrong is in d.Problems. Parse never panics.
func (d *Document) Parse(src []byte) {
	d.reset(src)
	if d.fast(true) {
		return
	}
	d.slow(true)
}

// ParseYAML reads a whole YAML file without --- fences, by the same rules.
func (d *Document) ParseYAML(src []byte) {
	d.reset(src)
	if d.fast(false) {
		return
	}
	d.slow(false)
}

func (d *Document) reset(src []byte) {
	d.Source = src
	d.Nodes = append(d.Nodes[:0], Node{KeyStart: -1, KeyEnd: -1})
	d.Front, d.FrontEnd, d.Body = 0, 0, 0
	d.Problems = d.Problems[:0]
	d.texts = append(d.texts[:0], "")
	d.crlf = false
}

// OK reports whether there is a root mapping. There may be problems beside it.
func (d *Document) OK() bool { return len(d.Nodes) > 0 && d.Nodes[0].Kind == Mapping }

// Failed reports whether any problem is more than a warning.
func (d *Document) Failed() bool {
	for i := range d.Problems {
		if !d.Problems[i].Warning {
			return true
		}
	}
	return false
}

// LineEnd is the line ending that the file uses, "\n" or "\r\n".
func (d *Document) LineEnd() string {
	if d.crlf {
		return "\r\n"
	}
	return "\n"
}

func (d *Document) node(i int32) Node {
	if i < 0 || int(i) >= len(d.Nodes) {
		return Node{KeyStart: -1, KeyEnd: -1}
	}
	return d.Nodes[i]
}

// Key returns the decoded key of node i, "" for the root and for items of a sequence.
func (d *Document) Key(i int32) string {
	n := d.node(i)
	if n.key != 0 {
		return d.texts[n.key]
	}
	return string(d.KeyBytes(i))
}

// KeyBytes returns the key of node i as it is in the source, without its quotes. It
// differs from [Document.Key] only in a quoted key with escapes.
func (d *Document) KeyBytes(i int32) []byte {
	n := d.node(i)
	if n.KeyStart < 0 {
		return nil
	}
	key := d.Source[n.KeyStart:n.KeyEnd]
	if len(key) >= 2 && (key[0] == '"' || key[0] == '\'') {
		key = key[1 : len(key)-1]
	}
	return key
}

// Text returns the decoded text of scalar i, "" for a collection or a missing value.
func (d *Document) Text(i int32) string {
	n := d.node(i)
	if n.text != 0 {
		return d.texts[n.text]
	}
	return string(d.raw(n))
}

// Bytes is [Document.Text] as bytes; it allocates only where the text is escaped, folded
// or spread over lines. The caller must not change them.
func (d *Document) Bytes(i int32) []byte {
	n := d.node(i)
	if n.text != 0 {
		return []byte(d.texts[n.text])
	}
	return d.raw(n)
}

// raw returns the bytes of a scalar whose text needs no decoding.
func (d *Document) raw(n Node) []byte {
	if n.Kind != Scalar {
		return nil
	}
	if (n.Style == DoubleQuoted || n.Style == SingleQuoted) && n.End-n.Start >= 2 {
		return d.Source[n.Start+1 : n.End-1]
	}
	return d.Source[n.Start:n.End]
}

// Children yields the indexes of the children of collection i, in order.
func (d *Document) Children(i int32) iter.Seq[int32] {
	return func(yield func(int32) bool) {
		for c := d.node(i).First; c != 0; c = d.Nodes[c].Next {
			if !yield(c) {
				return
			}
		}
	}
}

// Child returns the child of mapping i that has the key; of several, the first.
func (d *Document) Child(i int32, key string) (int32, bool) {
	if d.node(i).Kind != Mapping {
		return 0, false
	}
	for c := d.Nodes[i].First; c != 0; c = d.Nodes[c].Next {
		if d.keyIs(c, key) {
			return c, true
		}
	}
	return 0, false
}

func (d *Document) keyIs(i int32, key string) bool {
	if k := d.Nodes[i].key; k != 0 {
		return d.texts[k] == key
	}
	return string(d.KeyBytes(i)) == key // compiled without a copy
}

// FindPath follows the keys from the root, one step each; a step into a sequence is its
// index, counted from 0.
func (d *Document) FindPath(keys ...string) (int32, bool) {
	if !d.OK() {
		return 0, false
	}
	at := int32(0)
	for _, key := range keys {
		next, ok := d.step(at, key)
		if !ok {
			return 0, false
		}
		at = next
	}
	return at, true
}

func (d *Document) step(i int32, key string) (int32, bool) {
	if d.node(i).Kind != Sequence {
		return d.Child(i, key)
	}
	want, err := strconv.Atoi(key)
	if err != nil || want < 0 {
		return 0, false
	}
	for c := d.Nodes[i].First; c != 0; c = d.Nodes[c].Next {
		if want == 0 {
			return c, true
		}
		want--
	}
	return 0, false
}

// Find follows a dotted path such as readings.sulfate.value or basis.0.session from the
// root. A key may hold dots itself (covers.changes/x.md): at each step the longest key
// that leads on wins. Where a key could be misread, use [Document.FindPath].
func (d *Document) Find(path string) (int32, bool) {
	if !d.OK() {
		return 0, false
	}
	if path == "" {
		return 0, true
	}
	return d.find(0, path)
}

func (d *Document) find(i int32, path string) (int32, bool) {
	if n := d.node(i); n.Kind == Sequence {
		head, rest, more := strings.Cut(path, ".")
		at, ok := d.step(i, head)
		if !ok || !more {
			return at, ok
		}
		return d.find(at, rest)
	} else if n.Kind != Mapping {
		return 0, false
	}
	best, bestLen, found := int32(0), -1, false
	for c := d.Nodes[i].First; c != 0; c = d.Nodes[c].Next {
		key := d.Key(c)
		rest, ok := strings.CutPrefix(path, key)
		if !ok || len(key) <= bestLen {
			continue
		}
		at := c
		if rest != "" {
			if rest, ok = strings.CutPrefix(rest, "."); !ok {
				continue
			}
			if at, ok = d.find(c, rest); !ok {
				continue
			}
		}
		best, bestLen, found = at, len(key), true
	}
	return best, found
}

// Position returns the line and column of a byte offset, both from 1; the column counts
// Unicode code points, a byte-order mark not among them. An offset outside the file gives
// the nearest place inside it.
func (d *Document) Position(offset int) (line, column int) {
	offset = max(0, min(offset, len(d.Source)))
	before := d.Source[:offset]
	line = 1 + bytes.Count(before, []byte{'\n'})
	start := bytes.LastIndexByte(before, '\n') + 1
	if start == 0 {
		start = min(d.bom(), offset)
	}
	return line, 1 + utf8.RuneCount(before[start:])
}

// byteOrderMark is U+FEFF in UTF-8.
const byteOrderMark = "\xef\xbb\xbf"

// bom is the length of the byte-order mark that Source starts with, or 0.
func (d *Document) bom() int {
	if bytes.HasPrefix(d.Source, []byte(byteOrderMark)) {
		return len(byteOrderMark)
	}
	return 0
}

func (d *Document) problem(rule string, start, end int, message, help string) {
	d.Problems = append(d.Problems, Problem{Rule: rule, Start: start, End: end, Message: message, Help: help})
}
