package frontmatter

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"unicode/utf8"

	"go.yaml.in/yaml/v3"
)

// library reads the front matter with the YAML library and converts its nodes. The
// library gives lines, columns in runes and decoded texts; the ends are found in the
// source.
func (d *Document) library() {
	defer func() {
		// The library turns its own failures into errors; this is for what it overlooks.
		if recover() != nil {
			d.dropTree()
			d.problem(RuleFrontMatter, d.Front, d.Front, "the YAML could not be read", "write it in the plain form: key: value, one to a line")
		}
	}()
	text := d.Source[d.Front:d.FrontEnd]
	var root yaml.Node
	err := decode(bytes.NewReader(text), &root)
	if err != nil && err != io.EOF {
		reader := &byteReader{src: text}
		d.syntax(decode(reader, &root), reader.at)
		return
	}
	d.index(text)
	d.Nodes[0] = Node{Kind: Mapping, Style: Block, KeyStart: -1, KeyEnd: -1, Start: int32(d.Front), End: int32(d.Front)}
	if err == io.EOF || root.Kind == 0 || len(root.Content) == 0 {
		return
	}
	top := root.Content[0]
	if top.Kind == yaml.ScalarNode && top.Tag == "!!null" && top.Value == "" && top.Anchor == "" && top.Style == 0 {
		return
	}
	if top.Kind != yaml.MappingNode {
		at := d.offset(top)
		d.dropTree()
		end, _ := lineAt(d.Source, at)
		d.problem(RuleFrontMatter, at, end, "the front matter is not a mapping", "write key: value, one to a line")
		return
	}
	d.Nodes = d.Nodes[:0]
	if _, ok := d.convert(top, Node{KeyStart: -1, KeyEnd: -1}, 1); !ok {
		d.dropTree()
	}
}

// decode reads the one document of r into root; io.EOF means that there is none.
func decode(r io.Reader, root *yaml.Node) error {
	decoder := yaml.NewDecoder(r)
	if err := decoder.Decode(root); err != nil {
		return err
	}
	var second yaml.Node
	err := decoder.Decode(&second)
	switch err {
	case io.EOF:
		return nil
	case nil:
		return errors.New("a second document starts here")
	}
	return err
}

// byteReader hands out one byte at a time, so that how far the library has read tells
// where it gave up.
type byteReader struct {
	src []byte
	at  int
}

func (r *byteReader) Read(p []byte) (int, error) {
	if r.at >= len(r.src) {
		return 0, io.EOF
	}
	if len(p) == 0 {
		return 0, nil
	}
	p[0] = r.src[r.at]
	r.at++
	return 1, nil
}

func (d *Document) dropTree() {
	d.Nodes = append(d.Nodes[:0], Node{KeyStart: -1, KeyEnd: -1})
}

// index notes where each line of the front matter starts.
func (d *Document) index(text []byte) {
	d.lines = append(d.lines[:0], int32(d.Front))
	for i, c := range text {
		if c == '\n' {
			d.lines = append(d.lines, int32(d.Front+i+1))
		}
	}
}

// offset turns the library's line and column into a byte offset.
func (d *Document) offset(n *yaml.Node) int {
	if n.Line < 1 || n.Line > len(d.lines) {
		return d.FrontEnd
	}
	at := int(d.lines[n.Line-1])
	for c := 1; c < n.Column && at < d.FrontEnd; c++ {
		_, size := utf8.DecodeRune(d.Source[at:])
		at += size
	}
	return at
}

// convert appends n and what is below it, and returns its index. shell brings the key.
func (d *Document) convert(n *yaml.Node, shell Node, depth int) (int32, bool) {
	at := d.offset(n)
	if !d.admissible(n, at, depth) {
		return 0, false
	}
	index := int32(len(d.Nodes))
	shell.Start, shell.End = int32(at), int32(at)
	d.Nodes = append(d.Nodes, shell)
	ok := false
	switch n.Kind {
	case yaml.ScalarNode:
		ok = d.scalar(n, index)
	case yaml.MappingNode:
		ok = d.mapping(n, index, depth)
	case yaml.SequenceNode:
		ok = d.sequence(n, index, depth)
	}
	return index, ok
}

// admissible refuses what YAML has and records do not.
func (d *Document) admissible(n *yaml.Node, at, depth int) bool {
	end, _ := lineAt(d.Source, min(at, len(d.Source)))
	switch first := d.byteAt(at); {
	case depth > MaxDepth+1 || depth > MaxDepth && n.Kind != yaml.ScalarNode:
		d.problem(RuleFrontMatter, at, min(at+1, end), fmt.Sprintf("nested more than %d deep", MaxDepth), "no record needs that many levels")
	case n.Kind == yaml.AliasNode || first == '*':
		d.problem(RuleFrontMatter, at, wordEnd(d.Source, at), "a YAML alias is used", "write the value again; a text that starts with * must be quoted")
	case n.Anchor != "" || first == '&':
		d.problem(RuleFrontMatter, at, wordEnd(d.Source, at), "a YAML anchor is used", "write the value where it is needed; a text that starts with & must be quoted")
	case first == '!':
		d.problem(RuleFrontMatter, at, wordEnd(d.Source, at), "a YAML tag is used", "leave it out; a text that starts with ! must be quoted")
	default:
		return true
	}
	return false
}

func (d *Document) byteAt(at int) byte {
	if at < 0 || at >= d.FrontEnd {
		return 0
	}
	return d.Source[at]
}

func wordEnd(src []byte, at int) int {
	at = min(at, len(src))
	if n := bytes.IndexAny(src[at:], " \t\r\n,]}"); n >= 0 {
		return at + n
	}
	return len(src)
}

// unplaced reports a node whose source could not be found. It is a safeguard: FuzzParse
// has not met one.
func (d *Document) unplaced(at int) bool {
	d.problem(RuleFrontMatter, at, at, "the place of this value could not be determined", "write it in the plain form: key: value")
	return false
}

func (d *Document) scalar(n *yaml.Node, index int32) bool {
	node := &d.Nodes[index]
	node.Kind = Scalar
	style, end, ok := d.extent(n, int(node.Start))
	if !ok {
		return d.unplaced(int(node.Start))
	}
	node.Style, node.End = style, int32(end)
	if string(d.raw(*node)) != n.Value {
		node.text = d.keep(n.Value)
	}
	return true
}

func (d *Document) keep(text string) int32 {
	d.texts = append(d.texts, text)
	return int32(len(d.texts) - 1)
}

// extent finds style and end of the scalar n that starts at at.
func (d *Document) extent(n *yaml.Node, at int) (Style, int, bool) {
	src := d.Source[:d.FrontEnd]
	if at > len(src) {
		return Plain, at, false
	}
	switch {
	case n.Style&yaml.DoubleQuotedStyle != 0:
		end, ok := quotedEnd(src, at, '"')
		return DoubleQuoted, end, ok
	case n.Style&yaml.SingleQuotedStyle != 0:
		end, ok := quotedEnd(src, at, '\'')
		return SingleQuoted, end, ok
	case n.Style&(yaml.LiteralStyle|yaml.FoldedStyle) != 0:
		style := Literal
		if n.Style&yaml.FoldedStyle != 0 {
			style = Folded
		}
		head := wordEnd(src, at)
		line, _ := lineAt(src, at)
		end, ok := match(src, line, n.Value)
		if end == line {
			end = head
		}
		return style, end, ok
	}
	end, ok := match(src, at, n.Value)
	return Plain, end, ok
}

// quotedEnd returns the offset after the closing quote of the scalar that opens at at.
func quotedEnd(src []byte, at int, quote byte) (int, bool) {
	if at >= len(src) || src[at] != quote {
		return at, false
	}
	for i := at + 1; i < len(src); i++ {
		switch {
		case src[i] == '\\' && quote == '"':
			i++
		case src[i] == quote && quote == '\'' && i+1 < len(src) && src[i+1] == quote:
			i++
		case src[i] == quote:
			return i + 1, true
		}
	}
	return len(src), false
}

// match walks value through src from at and returns where its last character ends. Line
// folding changes blanks and line ends only (YAML 1.1, sections 4.2.4 and 9), so all
// other characters must come in the same order.
func match(src []byte, at int, value string) (int, bool) {
	end := at
	for i := 0; i < len(value); i++ {
		if isBlank(value[i]) {
			continue
		}
		for at < len(src) && isBlank(src[at]) {
			at++
		}
		if at >= len(src) || src[at] != value[i] {
			return end, false
		}
		at++
		end = at
	}
	return end, true
}

func isBlank(c byte) bool { return c == ' ' || c == '\t' || c == '\n' || c == '\r' }

func (d *Document) mapping(n *yaml.Node, index int32, depth int) bool {
	if !d.open(n, index, Mapping, '{') {
		return false
	}
	start, last, end := d.Nodes[index].Start, int32(0), int(d.Nodes[index].Start)+1
	for i := 0; i+1 < len(n.Content); i += 2 {
		shell, ok := d.keyOf(n.Content[i])
		if !ok {
			return false
		}
		child, ok := int32(0), false
		if value := n.Content[i+1]; isMissing(value) {
			at := d.afterColon(int(shell.KeyEnd))
			child, ok = d.missing(shell, at), true
			d.gluedColon(shell, at)
		} else {
			child, ok = d.convert(value, shell, depth+1)
		}
		if !ok {
			return false
		}
		d.link(index, &last, child)
		end = int(d.Nodes[child].End)
		if i == 0 && d.Nodes[index].Style == Block {
			start = shell.KeyStart
		}
	}
	d.Nodes[index].Start = start
	d.duplicates(index)
	return d.shut(index, end, '}')
}

func (d *Document) sequence(n *yaml.Node, index int32, depth int) bool {
	if !d.open(n, index, Sequence, '[') {
		return false
	}
	last, end := int32(0), int(d.Nodes[index].Start)+1
	for _, item := range n.Content {
		child, ok := int32(0), false
		shell := Node{KeyStart: -1, KeyEnd: -1}
		if isMissing(item) {
			at := d.offset(item)
			child, ok = d.missing(shell, at), at <= d.FrontEnd
		} else {
			child, ok = d.convert(item, shell, depth+1)
		}
		if !ok {
			return false
		}
		d.link(index, &last, child)
		end = int(d.Nodes[child].End)
	}
	return d.shut(index, end, ']')
}

func isMissing(n *yaml.Node) bool {
	return n.Kind == yaml.ScalarNode && n.Value == "" && n.Style == 0 && n.Anchor == ""
}

func (d *Document) missing(shell Node, at int) int32 {
	shell.Kind, shell.Start, shell.End = Scalar, int32(at), int32(at)
	d.Nodes = append(d.Nodes, shell)
	return int32(len(d.Nodes) - 1)
}

// afterColon returns the place of a value that is missing after the key that ends at at.
func (d *Document) afterColon(at int) int {
	i := at
	for isBlank(d.byteAt(i)) {
		i++
	}
	if d.byteAt(i) == ':' {
		return i + 1
	}
	return at
}

// gluedColon reports {value:7}, which YAML takes for one key and no value.
func (d *Document) gluedColon(shell Node, at int) {
	key := d.Source[shell.KeyStart:shell.KeyEnd]
	colon := bytes.IndexByte(key, ':')
	if at > int(shell.KeyEnd) || colon < 0 || key[0] == '"' || key[0] == '\'' {
		return
	}
	start := int(shell.KeyStart) + colon
	d.problem(RuleFrontMatter, start, start+1, "there is no blank after the colon, so this is a key without value", "write key: value with a blank after the colon")
}

func (d *Document) link(parent int32, last *int32, child int32) {
	if *last == 0 {
		d.Nodes[parent].First = child
	} else {
		d.Nodes[*last].Next = child
	}
	*last = child
}

func (d *Document) open(n *yaml.Node, index int32, kind Kind, bracket byte) bool {
	node := &d.Nodes[index]
	node.Kind, node.Style = kind, Block
	if n.Style&yaml.FlowStyle == 0 {
		return true
	}
	node.Style = Flow
	if d.byteAt(int(node.Start)) != bracket {
		at := int(node.Start)
		d.problem(RuleFrontMatter, at, wordEnd(d.Source, at), "a key is in a list", "put the pair in braces: [{key: value}]")
		return false
	}
	return true
}

// shut sets the end of a collection whose last child ends at end.
func (d *Document) shut(index int32, end int, bracket byte) bool {
	node := &d.Nodes[index]
	if node.Style == Block {
		node.End = int32(end)
		return true
	}
	for i := end; i < d.FrontEnd; i++ {
		switch c := d.Source[i]; {
		case c == bracket:
			node.End = int32(i + 1)
			return true
		case c == '#':
			i, _ = lineAt(d.Source, i)
			i--
		case isBlank(c), c == ',', c == ':':
		default:
			return d.unplaced(int(node.Start))
		}
	}
	return d.unplaced(int(node.Start))
}

// keyOf places a key and refuses what is not plain text.
func (d *Document) keyOf(n *yaml.Node) (Node, bool) {
	at := d.offset(n)
	if !d.admissible(n, at, 1) {
		return Node{}, false
	}
	before := bytes.TrimRight(d.Source[d.Front:at], " \t")
	explicit := len(before) > 0 && before[len(before)-1] == '?'
	if n.Kind != yaml.ScalarNode || explicit {
		d.problem(RuleFrontMatter, at, wordEnd(d.Source, at), "a key is not a single word or text", "write key: value")
		return Node{}, false
	}
	_, end, ok := d.extent(n, at)
	if !ok {
		return Node{}, d.unplaced(at)
	}
	switch {
	case n.Tag == "!!merge":
		d.problem(RuleFrontMatter, at, end, "a YAML merge key is used", "write the keys where they are needed")
		return Node{}, false
	case n.Tag == "!!null" && n.Value == "":
		d.problem(RuleFrontMatter, at, end, "a key is missing before the colon", "write key: value")
		return Node{}, false
	case n.Tag != "!!str" && d.splitsNumber(at):
		d.decimalComma(at, end)
		return Node{}, false
	case n.Tag != "!!str":
		d.problem(RuleFrontMatter, at, end, fmt.Sprintf("the key %s is not text", n.Value), fmt.Sprintf("put it in quotes: %q", n.Value))
		return Node{}, false
	}
	shell := Node{KeyStart: int32(at), KeyEnd: int32(end)}
	raw := d.Source[at:end]
	if n.Style&(yaml.DoubleQuotedStyle|yaml.SingleQuotedStyle) != 0 && len(raw) >= 2 {
		raw = raw[1 : len(raw)-1]
	}
	if string(raw) != n.Value {
		shell.key = d.keep(n.Value)
	}
	return shell, true
}

// duplicates reports keys that a mapping holds twice; the tree keeps both.
func (d *Document) duplicates(index int32) {
	seen := make(map[string]int32)
	reported := 0
	for c := d.Nodes[index].First; c != 0; c = d.Nodes[c].Next {
		key := d.Key(c)
		first, twice := seen[key]
		if !twice {
			seen[key] = c
			continue
		}
		if reported++; reported > maxReported {
			continue
		}
		a, _ := d.Position(int(d.Nodes[first].KeyStart))
		b, _ := d.Position(int(d.Nodes[c].KeyStart))
		message := fmt.Sprintf("the key %s is on line %d and again on line %d", key, a, b)
		if a == b {
			message = fmt.Sprintf("the key %s appears twice on line %d", key, a)
		}
		d.problem(RuleDuplicateKey, int(d.Nodes[c].KeyStart), int(d.Nodes[c].KeyEnd), message, "keep one of the two, or make a list of the values")
	}
	if reported > maxReported {
		at := int(d.Nodes[index].Start)
		d.problem(RuleDuplicateKey, at, at, fmt.Sprintf("%d more keys of this mapping appear twice", reported-maxReported), "keep one of each")
	}
}

// splitsNumber reports whether the key at the offset follows a digit and a
// comma at once, as the 42 of {value: 7,42} does.
func (d *Document) splitsNumber(at int) bool {
	return at >= 2 && d.Source[at-1] == ',' && isDigit(d.Source[at-2]) && at < len(d.Source) && isDigit(d.Source[at])
}

// decimalComma reports a number that a comma splits in two. Three digits after
// the comma may be thousands, so that has no one way to be fixed.
func (d *Document) decimalComma(at, end int) {
	start := at - 1
	for start > 0 && isDigit(d.Source[start-1]) {
		start--
	}
	whole, part := string(d.Source[start:at-1]), string(d.Source[at:end])
	p := Problem{Rule: RuleDecimalComma, Start: start, End: end, Message: fmt.Sprintf("\"%s,%s\" has a comma in a number", whole, part),
		Help: "write a decimal point: " + whole + "." + part}
	digits := 0
	for digits < len(part) && isDigit(part[digits]) {
		digits++
	}
	if digits != 3 || whole == "0" {
		p.Fix = &Edit{Start: at - 1, End: at, New: "."}
	}
	d.Problems = append(d.Problems, p)
}

func isDigit(c byte) bool { return '0' <= c && c <= '9' }
