package frontmatter

import (
	"bytes"
	"encoding/binary"
	"unicode/utf8"
)

// The strict reader takes the form that this program writes: block mappings indented by
// two blanks, "- " items two blanks below their key, brackets on one line, plain scalars,
// double-quoted scalars without escapes, comments. Anything else it leaves to the library
// (about twenty times slower), so that being strict costs time and never correctness.

// Classes of bytes, one bit each.
const (
	classBad  = 1 << iota // control characters, carriage returns among them
	classHigh             // part of a character outside ASCII
	classTab
	classKey   // letters, digits and _ - . / of keys
	classAlpha // letters and _: what a key may start with
	classFirst // what a plain scalar may start with
	classStop  // bytes inside a plain scalar that need a look
)

var classes = func() (table [256]uint8) {
	for i := range table {
		c := byte(i)
		letter := c >= 'a' && c <= 'z' || c >= 'A' && c <= 'Z' || c == '_'
		digit := c >= '0' && c <= '9'
		switch {
		case c == '\t':
			table[i] |= classTab
		case c == '\n':
		case c < ' ' || c == 0x7f:
			table[i] |= classBad
		case c >= 0x80:
			table[i] |= classHigh | classFirst
		}
		if letter {
			table[i] |= classAlpha | classKey | classFirst
		}
		if digit {
			table[i] |= classKey | classFirst
		}
		switch c {
		case '-', '.', '/':
			table[i] |= classKey
		case '<', '+', '(':
			table[i] |= classFirst
		case '\n', ':', '#', ',', '[', ']', '{', '}', '?':
			table[i] |= classStop
		}
	}
	return table
}()

// isKeyByte reports the bytes of which the keys of a record are made.
func isKeyByte(c byte) bool { return classes[c]&classKey != 0 }

// level is an open block collection.
type level struct {
	node, last int32
	indent     int
	sequence   bool
}

// Limits of the strict reader; what goes beyond is for the library.
const (
	fastDepth    = 8
	fastSiblings = 64
	fastKey      = 128
)

// fast reads the canonical form into d; false means that the library must read it, and
// that d is as it was.
func (d *Document) fast(fenced bool) bool {
	if d.read(fenced) {
		return true
	}
	d.Nodes = append(d.Nodes[:0], Node{KeyStart: -1, KeyEnd: -1})
	d.Front, d.FrontEnd, d.Body = 0, 0, 0
	return false
}

func (d *Document) read(fenced bool) bool {
	src := d.Source
	if len(src) > MaxFile || len(src) == 0 {
		return false
	}
	var seen uint8
	for _, c := range src[plainText(src):] {
		seen |= classes[c]
	}
	if seen&classBad != 0 || seen&classHigh != 0 && !cleanRunes(src) {
		return false
	}
	pos := 0
	if fenced {
		if !bytes.HasPrefix(src, []byte("---\n")) {
			return false
		}
		pos = 4
	} else if src[len(src)-1] != '\n' {
		return false
	}
	d.Front = pos
	end, ok := d.blocks(pos, fenced)
	if !ok || end-d.Front > MaxFront || d.Nodes[0].First == 0 {
		return false
	}
	d.FrontEnd, d.Body = end, len(src)
	if fenced {
		d.Body = min(end+4, len(src))
		body := src[d.Body:]
		if bytes.Contains(body, []byte("<<<<<<<")) || bytes.Contains(body, []byte(">>>>>>>")) {
			return false
		}
	}
	return seen&classTab == 0 || bytes.IndexByte(src[:end], '\t') < 0
}

// plainText is the length of the start of src, eight bytes at a time, that is printable ASCII
// and line feeds: most files whole. Bit 7 of each byte of a word holds the answer for that
// byte, as in H. S. Warren, Hacker's Delight, 2nd edition (2013), section 6-1.
func plainText(src []byte) int {
	const each = 0x0101010101010101
	i := 0
	for ; i+8 <= len(src); i += 8 {
		word := binary.LittleEndian.Uint64(src[i:])
		low := word & (each * 0x7f)
		printable := low + each*(0x80-' ')
		feed := ^((low ^ each*'\n') + each*0x7f) // also where bit 7 of word is set, which word itself tells
		deleted := low + each
		if (word|deleted|^(printable|feed))&(each*0x80) != 0 {
			break
		}
	}
	return i
}

// cleanRunes reports whether src is UTF-8 without the characters that [badRune] names.
func cleanRunes(src []byte) bool {
	for i := 0; i < len(src); {
		if src[i] < 0x80 {
			i++
			continue
		}
		r, size := utf8.DecodeRune(src[i:])
		if r == utf8.RuneError && size <= 1 || badRune(r) {
			return false
		}
		i += size
	}
	return true
}

// blocks reads the lines from pos and returns where the front matter ends.
func (d *Document) blocks(pos int, fenced bool) (int, bool) {
	src := d.Source
	var stack [fastDepth]level
	depth, pending, end := 0, int32(0), int32(pos)
	d.Nodes[0] = Node{Kind: Mapping, Style: Block, KeyStart: -1, KeyEnd: -1}
	for pos < len(src) {
		size := bytes.IndexByte(src[pos:], '\n')
		if fenced && src[pos] == '-' {
			closing := src[pos:]
			if size >= 0 {
				closing = src[pos : pos+size]
			}
			if string(closing) != "---" || pending != 0 {
				return 0, false
			}
			break
		}
		if size < 0 || size > MaxLine {
			return 0, false
		}
		i, next := pos, pos+size+1
		for src[i] == ' ' {
			i++
		}
		indent := i - pos
		pos = next
		if src[i] == '\n' || src[i] == '#' {
			continue
		}
		if pending != 0 {
			if indent != stack[depth].indent+2 || depth+1 == fastDepth {
				return 0, false
			}
			depth++
			stack[depth] = level{node: pending, indent: indent, sequence: src[i] == '-'}
			node := &d.Nodes[pending]
			node.Kind, node.Style, node.Start = Mapping, Block, int32(i)
			if stack[depth].sequence {
				node.Kind = Sequence
			}
			pending = 0
		}
		for depth > 0 && indent < stack[depth].indent {
			d.Nodes[stack[depth].node].End = end
			depth--
		}
		top := &stack[depth]
		if indent != top.indent {
			return 0, false
		}
		child := Node{KeyStart: -1, KeyEnd: -1}
		if top.sequence {
			if src[i] != '-' || src[i+1] != ' ' {
				return 0, false
			}
			i++
		} else {
			if i = d.key(i, &child); i == 0 {
				return 0, false
			}
		}
		blank := i
		for src[i] == ' ' {
			i++
		}
		index := d.adopt(top.node, &top.last, child)
		if index == 0 {
			return 0, false
		}
		if src[i] == '\n' && !top.sequence {
			pending = index
			continue
		}
		if i == blank {
			return 0, false
		}
		if i = d.value(i, index, 0); i == 0 {
			return 0, false
		}
		end = d.Nodes[index].End
		if src[i] == ' ' {
			for src[i] == ' ' {
				i++
			}
			if src[i] == '#' {
				continue
			}
		}
		if src[i] != '\n' {
			return 0, false
		}
	}
	if pending != 0 || fenced && pos >= len(src) || d.Nodes[0].First == 0 {
		return 0, false
	}
	for ; depth >= 0; depth-- {
		d.Nodes[stack[depth].node].End = end
	}
	d.Nodes[0].Start = d.Nodes[d.Nodes[0].First].KeyStart
	return pos, true
}

// key reads the key at i and its colon, and returns the offset after the colon, or 0.
func (d *Document) key(i int, n *Node) int {
	src := d.Source
	if classes[src[i]]&classAlpha == 0 {
		return 0
	}
	j := i + 1
	for classes[src[j]]&classKey != 0 {
		j++
	}
	if src[j] != ':' || j-i > fastKey || (j-i == 4 || j-i == 5) && isReserved(src[i:j]) {
		return 0
	}
	n.KeyStart, n.KeyEnd = int32(i), int32(j)
	return j + 1
}

// isReserved reports words that YAML reads as something other than text.
func isReserved(word []byte) bool {
	return bytes.EqualFold(word, []byte("true")) || bytes.EqualFold(word, []byte("false")) || bytes.EqualFold(word, []byte("null"))
}

// adopt appends child below parent and returns its index; 0 where the key is taken or
// there are more siblings than the strict reader compares.
func (d *Document) adopt(parent int32, last *int32, child Node) int32 {
	index, count := int32(len(d.Nodes)), 0
	if child.KeyStart >= 0 {
		size := child.KeyEnd - child.KeyStart
		for c := d.Nodes[parent].First; c != 0; {
			n := &d.Nodes[c]
			if n.KeyEnd-n.KeyStart == size && bytes.Equal(d.Source[n.KeyStart:n.KeyEnd], d.Source[child.KeyStart:child.KeyEnd]) {
				return 0
			}
			c = n.Next
			if count++; count > fastSiblings {
				return 0
			}
		}
	}
	d.Nodes = append(d.Nodes, child)
	if *last == 0 {
		d.Nodes[parent].First = index
	} else {
		d.Nodes[*last].Next = index
	}
	*last = index
	return index
}

// value reads the value at i into node index and returns the offset after it, or 0.
// flow is how many brackets are open.
func (d *Document) value(i int, index int32, flow int) int {
	src := d.Source
	switch c := src[i]; {
	case c == '{' || c == '[':
		return d.brackets(i, index, flow+1)
	case c == '"':
		j := i + 1
		for src[j] != '"' {
			if src[j] == '\\' || src[j] == '\n' {
				return 0
			}
			j++
		}
		node := &d.Nodes[index]
		node.Kind, node.Style, node.Start, node.End = Scalar, DoubleQuoted, int32(i), int32(j+1)
		return j + 1
	case classes[c]&classFirst == 0 && (c != '-' || classes[src[i+1]]&(classKey|classHigh) == 0 || src[i+1] == '-'):
		return 0
	}
	j, opened := i+1, 0
scan:
	for {
		c := src[j]
		if classes[c]&classStop == 0 {
			j++
			continue
		}
		switch c {
		case '\n':
			break scan
		case ':':
			if classes[src[j+1]]&(classKey|classHigh) == 0 {
				return 0
			}
		case '#':
			if src[j-1] != ' ' || flow > 0 {
				return 0
			}
			break scan
		case ',', ']', '}':
			if flow > 0 {
				break scan
			}
		default:
			if opened++; flow > 0 || opened > fastDepth { // lines with very many brackets are for lineChecks
				return 0
			}
		}
		j++
	}
	for src[j-1] == ' ' {
		j--
	}
	node := &d.Nodes[index]
	node.Kind, node.Style, node.Start, node.End = Scalar, Plain, int32(i), int32(j)
	return j
}

// brackets reads a mapping or list in brackets on one line, as value does.
func (d *Document) brackets(i int, index int32, flow int) int {
	if flow > fastDepth/2 {
		return 0
	}
	src := d.Source
	kind, shut := Mapping, byte('}')
	if src[i] == '[' {
		kind, shut = Sequence, ']'
	}
	node := &d.Nodes[index]
	node.Kind, node.Style, node.Start = kind, Flow, int32(i)
	last := int32(0)
	i++
	for src[i] == ' ' {
		i++
	}
	for first := true; !first || src[i] != shut; first = false {
		child := Node{KeyStart: -1, KeyEnd: -1}
		if kind == Mapping {
			if i = d.key(i, &child); i == 0 || src[i] != ' ' {
				return 0
			}
			for src[i] == ' ' {
				i++
			}
		}
		at := d.adopt(index, &last, child)
		if at == 0 {
			return 0
		}
		if i = d.value(i, at, flow); i == 0 {
			return 0
		}
		for src[i] == ' ' {
			i++
		}
		if src[i] == shut {
			break
		}
		if src[i] != ',' {
			return 0
		}
		i++
		for src[i] == ' ' {
			i++
		}
	}
	d.Nodes[index].End = int32(i + 1)
	return i + 1
}
