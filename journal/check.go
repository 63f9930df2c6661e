package journal

import (
	"fmt"
	"slices"
	"strings"
	"unicode/utf8"

	"wj/journal/frontmatter"
	"wj/water"
	"wj/water/spelling"
)

// Problem is something that is wrong with the form of a record, with its place.
type Problem struct {
	Rule       string
	Path       string
	Start, End int // bytes in the file
	Line       int // from 1
	Column     int // from 1, in characters
	Message    string
	Help       string
	Warning    bool               // the record can still be used as it is
	Fix        *frontmatter.Edit  // the one way to correct it, where there is one
	Unsafe     bool               // the fix touches a reading's value
	Near       []frontmatter.Edit // what may have been meant, for a person to choose
}

// Index knows which records exist, so that references can be checked.
type Index interface {
	// Exists reports whether a record of the kind has the id.
	Exists(Kind, string) bool
	// IDs lists the ids of a kind.
	IDs(Kind) []string
}

// The rules that the form of a record can break.
const (
	RuleUnknownKey   = "format/unknown-key"
	RuleMissingKey   = "format/missing-key"
	RuleValue        = "format/value"
	RuleNumber       = "format/number"
	RuleDecimalComma = "format/decimal-comma"
	RuleDate         = "format/date"
	RuleID           = "format/id"
	RuleReference    = "ref/missing"
	RuleUnitMissing  = "unit/missing"
	RuleUnitKind     = "unit/kind"
	RuleUnitBasis    = "unit/basis"
)

// checker walks a document beside the schema of its kind.
type checker struct {
	d     *frontmatter.Document
	path  string
	index Index // nil: references are not checked
	out   []Problem
}

// Check compares a parsed file with the schema of its kind and returns all that
// is wrong with it, the parser's own problems first.
func Check(d *frontmatter.Document, kind Kind, path string, index Index) []Problem {
	c := checker{d: d, path: path, index: index}
	for _, p := range d.Problems {
		c.out = append(c.out, c.place(Problem{Rule: p.Rule, Start: p.Start, End: p.End, Message: p.Message, Help: p.Help, Warning: p.Warning, Fix: p.Fix}))
	}
	if d.OK() {
		c.mapping(0, kind.Fields(), context{kind: kind})
	} else if src := withoutCommas(d); src != nil {
		var whole frontmatter.Document
		if whole.Parse(src); whole.OK() {
			c.d = &whole
			c.mapping(0, kind.Fields(), context{kind: kind})
		}
	}
	return c.out
}

// withoutCommas is a file with points for its decimal commas, every byte in its place, where they
// are all that keeps it from being read; else nil.
func withoutCommas(d *frontmatter.Document) []byte {
	src := slices.Clone(d.Source)
	for _, p := range d.Problems {
		switch {
		case p.Warning:
		case p.Rule != RuleDecimalComma || p.Fix == nil || p.Fix.End-p.Fix.Start != len(p.Fix.New):
			return nil
		default:
			copy(src[p.Fix.Start:], p.Fix.New)
		}
	}
	return src
}

// context is what a field's meaning depends on.
type context struct {
	kind    Kind
	analyte water.ID
	known   bool // analyte is set
	reading bool // inside a session's readings
}

func (c *checker) place(p Problem) Problem {
	p.Path = c.path
	p.Line, p.Column = c.d.Position(p.Start)
	return p
}

func (c *checker) report(rule string, node int32, message, help string) *Problem {
	n := c.d.Nodes[node]
	start, end := int(n.Start), int(n.End)
	if start == end && n.KeyStart >= 0 {
		start, end = int(n.KeyStart), int(n.KeyEnd)
	}
	c.out = append(c.out, c.place(Problem{Rule: rule, Start: start, End: end, Message: message, Help: help}))
	return &c.out[len(c.out)-1]
}

func (c *checker) reportKey(rule string, node int32, message, help string) *Problem {
	n := c.d.Nodes[node]
	c.out = append(c.out, c.place(Problem{Rule: rule, Start: int(n.KeyStart), End: int(n.KeyEnd), Message: message, Help: help}))
	return &c.out[len(c.out)-1]
}

// meant adds what a word may have been meant for.
func (c *checker) meant(p *Problem, node int32, word string, known []string) {
	for _, name := range spelling.Meant(word, known) {
		p.Near = append(p.Near, frontmatter.SetScalar(c.d, node, name))
	}
}

// mapping checks the keys of a mapping with fixed fields.
func (c *checker) mapping(node int32, fields []Field, ctx context) {
	if c.d.Nodes[node].Kind != frontmatter.Mapping {
		c.report(RuleValue, node, "here is "+c.d.Nodes[node].Kind.String()+" where keys are needed", "write it as "+keysOf(fields))
		return
	}
	seen := make([]bool, len(fields))
	for i := c.d.Nodes[node].First; i != 0; i = c.d.Nodes[i].Next {
		at := fieldIndex(fields, c.d.KeyBytes(i))
		if at < 0 {
			c.unknownKey(i, fieldNames(fields), ctx)
			continue
		}
		seen[at] = true
		if ctx.reading && c.splitByComma(i) {
			i = c.d.Nodes[i].Next
			continue
		}
		c.value(i, &fields[at], ctx)
	}
	c.ordered(node)
	for i := range fields {
		if fields[i].Required && !seen[i] {
			f := &fields[i]
			message := fmt.Sprintf("%s is missing", f.Key)
			if node == 0 {
				c.out = append(c.out, c.place(Problem{Rule: RuleMissingKey, Start: c.d.Front, End: c.d.Front, Message: message, Help: "add " + f.Key + ": " + f.Doc}))
			} else {
				c.report(RuleMissingKey, node, message, "add "+f.Key+": "+f.Doc)
			}
		}
	}
}

// ordered reports a lower end above its upper one: {min: 140 mg/L, max: 60 mg/L}, range: [200 mg/L, 1 mg/L].
func (c *checker) ordered(node int32) {
	low, high, names := int32(0), int32(0), [2]string{"min", "max"}
	for i := c.d.Nodes[node].First; i != 0; i = c.d.Nodes[i].Next {
		switch string(c.d.KeyBytes(i)) {
		case "min":
			low = i
		case "max":
			high = i
		case "range":
			if first := c.d.Nodes[i].First; first != 0 {
				low, high, names = first, c.d.Nodes[first].Next, [2]string{"the lowest reading", "the highest"}
			}
		}
	}
	if low == 0 || high == 0 {
		return
	}
	a, err := water.ParseQuantity(c.d.Text(low))
	b, err2 := water.ParseQuantity(c.d.Text(high))
	if err == nil && err2 == nil && a.Unit == b.Unit && a.Value > b.Value {
		c.report(RuleValue, low, fmt.Sprintf("%s %s is above %s %s", names[0], a, names[1], b), "exchange the two, or correct the one that is mistyped")
	}
}

func fieldIndex(fields []Field, key []byte) int {
	for i := range fields {
		if fields[i].Key == string(key) {
			return i
		}
	}
	return -1
}

func fieldNames(fields []Field) []string {
	names := make([]string, len(fields))
	for i := range fields {
		names[i] = fields[i].Key
	}
	return names
}

// keysOf shows a mapping with the keys that must be in it, or else with those
// that may: {on: …, reason: …}.
func keysOf(fields []Field) string {
	var must []Field
	for i := range fields {
		if fields[i].Required {
			must = append(must, fields[i])
		}
	}
	if len(must) == 0 {
		must = fields
	}
	return "{" + strings.Join(shorten(fieldNames(must), 6), ": …, ") + ": …}"
}

func (c *checker) unknownKey(node int32, known []string, ctx context) {
	key := c.d.Key(node)
	message := fmt.Sprintf("%q is not a key here", key)
	help := spelling.Hint(key, known)
	near := help != ""
	switch {
	case near:
	case strings.TrimSpace(key) == "" || isDigit(key[0]):
		help = "a comma inside { } separates keys: write a decimal point, or put the value in quotes"
	default:
		help = "known keys: " + strings.Join(shorten(known, 12), ", ")
		if len(known) > 12 && ctx.kind != NoKind {
			help += "; wj explain " + ctx.kind.String() + " describes each"
		}
	}
	for _, r := range key {
		if near && r >= utf8.RuneSelf { // all keys are ASCII: a Cyrillic or full-width letter looks right and is not
			help += fmt.Sprintf(" U+%04X is here, which is no letter of it", r)
			break
		}
	}
	p := c.reportKey(RuleUnknownKey, node, message, help)
	n := c.d.Nodes[node]
	for _, name := range spelling.Meant(key, known) {
		p.Near = append(p.Near, frontmatter.Edit{Start: int(n.KeyStart), End: int(n.KeyEnd), New: name})
	}
	// Of hardness nobody can know whether it is all of it or the calcium's.
	if same := spelling.Same(key, known); len(same) == 1 && !strings.EqualFold(key, "hardness") {
		p.Fix = &frontmatter.Edit{Start: int(n.KeyStart), End: int(n.KeyEnd), New: same[0]}
		p.Unsafe = strings.ReplaceAll(key, "sulph", "sulf") != same[0] // else only the ph of it differs
	}
}

func shorten(names []string, n int) []string {
	if len(names) > n {
		return append(names[:n:n], "…")
	}
	return names
}

// splitByComma reports {value: 7,42 mg/L}, where the flow mapping reads the
// digits after a decimal comma as a key of its own.
func (c *checker) splitByComma(node int32) bool {
	n := c.d.Nodes[node]
	if n.Next == 0 || n.Kind != frontmatter.Scalar {
		return false
	}
	return c.comma(int(n.Start), int(n.End), int(c.d.Nodes[n.Next].KeyStart), int(c.d.Nodes[n.Next].KeyEnd))
}

// comma reports a decimal comma between two pieces of the source that stand
// side by side.
func (c *checker) comma(start, end, next, nextEnd int) bool {
	src := c.d.Source
	if next != end+1 || src[end] != ',' || !isDigit(src[end-1]) || !isDigit(src[next]) {
		return false
	}
	whole, part := string(src[start:end]), string(src[next:nextEnd])
	if _, ok := parsePlain(strings.TrimLeft(whole, "<")); !ok || strings.Contains(whole, ".") {
		return false
	}
	p := Problem{Rule: RuleDecimalComma, Start: start, End: nextEnd, Message: fmt.Sprintf("\"%s,%s\" has a comma in a number", whole, part), Help: "write a decimal point: " + whole + "." + part}
	n := 0
	for n < len(part) && isDigit(part[n]) {
		n++
	}
	if n != 3 || whole == "0" {
		p.Fix = &frontmatter.Edit{Start: end, End: next, New: "."}
	}
	c.out = append(c.out, c.place(p))
	return true
}
