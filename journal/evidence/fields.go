package evidence

import (
	"math"
	"strconv"
	"strings"

	"wj/journal/frontmatter"
	"wj/water"
)

// Field is one value of a record by its dotted path: readings.sulfate.value.
// The path does not depend on how the file is written: a reading or addition
// in its short form has the path of its value in the long form, and a list of
// plain values is one field.
type Field struct{ Path, Text string }

// shortForms are the mappings whose entries may be written short, and the key
// that the short form stands for.
var shortForms = map[string]string{"readings": "value", "add": "amount", "weighed": "amount"}

// Fields lists the values of a record in the order of the file, without the
// corrections in "amended", which speak about values. Indentation, order of
// keys, quotes and flow or block form make no difference to it.
func Fields(src []byte) []Field {
	var d frontmatter.Document
	d.Parse(src)
	return FieldsOf(&d)
}

// FieldsOf is Fields of a document that is parsed.
func FieldsOf(d *frontmatter.Document) []Field {
	if !d.OK() {
		return nil
	}
	var out []Field
	for c := range d.Children(0) {
		k := d.Key(c)
		if k == "amended" {
			continue
		}
		short, hasShort := shortForms[k]
		if !hasShort || d.Nodes[c].Kind != frontmatter.Mapping {
			flatten(d, c, k, &out)
			continue
		}
		for entry := range d.Children(c) {
			p := k + "." + d.Key(entry)
			if d.Nodes[entry].Kind != frontmatter.Mapping {
				p += "." + short
			}
			flatten(d, entry, p, &out)
		}
	}
	return out
}

func flatten(d *frontmatter.Document, node int32, p string, out *[]Field) {
	switch d.Nodes[node].Kind {
	case frontmatter.Scalar:
		*out = append(*out, Field{p, d.Text(node)})
	case frontmatter.Mapping:
		for c := range d.Children(node) {
			flatten(d, c, p+"."+d.Key(c), out)
		}
	case frontmatter.Sequence:
		var items []string
		plain := true
		for c := range d.Children(node) {
			plain = plain && d.Nodes[c].Kind == frontmatter.Scalar
			items = append(items, d.Text(c))
		}
		if plain {
			*out = append(*out, Field{p, "[" + strings.Join(items, ", ") + "]"})
			return
		}
		used := map[string]int{}
		n := 0
		for c := range d.Children(node) {
			name := itemName(d, c, n)
			if used[name]++; used[name] > 1 {
				name += " #" + strconv.Itoa(used[name])
			}
			flatten(d, c, p+"."+name, out)
			n++
		}
	}
}

// itemName gives an item of a list the name by which people know it, so that
// an item put in front or taken out does not rename all others: the session of a
// basis, the malt, the regime or role with its first day, what a
// schedule tests; else its number.
func itemName(d *frontmatter.Document, node int32, n int) string {
	text := func(key string) string {
		c, ok := d.Child(node, key)
		if !ok {
			return ""
		}
		if d.Nodes[c].Kind == frontmatter.Sequence {
			var items []string
			for item := range d.Children(c) {
				items = append(items, d.Text(item))
			}
			return strings.Join(items, "+")
		}
		return d.Text(c)
	}
	for _, k := range []string{"session", "malt", "regime", "role", "analytes"} {
		name := text(k)
		if name == "" {
			continue
		}
		if since := text("since"); since != "" && k != "analytes" {
			name += " " + since
		}
		return name
	}
	return strconv.Itoa(n + 1)
}

// Sameness says how two written values compare.
type Sameness uint8

// From the least to the most different.
const (
	Identical   Sameness = iota
	SameSpelled          // "84 mg/l" and "84 mg/L": another spelling
	SameWater            // the same amount in another unit
	Different
)

// Compare compares two values of one field as they are written.
func Compare(field, a, b string) Sameness {
	if a == b {
		return Identical
	}
	as, bs := splitValues(a), splitValues(b)
	if len(as) != len(bs) || len(as) == 0 {
		return Different
	}
	info := analyteOf(field)
	worst := Identical
	for i := range as {
		worst = max(worst, compareOne(info, as[i], bs[i]))
	}
	return worst
}

func compareOne(info *water.Analyte, a, b string) Sameness {
	if a == b {
		return Identical
	}
	p, err1 := water.ParseQuantity(a)
	q, err2 := water.ParseQuantity(b)
	if err1 != nil || err2 != nil || p.Bound != q.Bound {
		return Different
	}
	if p.Unit == q.Unit {
		if p.Value == q.Value && p.Expanded == q.Expanded {
			return SameSpelled
		}
		return Different
	}
	if info == nil || p.Unit.IsNone() || q.Unit.IsNone() || info.Fit(p) != nil || info.Fit(q) != nil {
		return Different
	}
	x, err := info.Convert(p.Value, p.Unit, q.Unit)
	if err != nil || math.IsNaN(x) {
		return Different
	}
	// Half a step of the coarser of the two as written: 6.6 dKH and 118 mg/L
	// CaCO3 are one reading, 6.6 dKH and 6.6 gpg are not.
	step := math.Pow(10, -float64(q.Decimals)) / 2
	fine, err := info.Convert(math.Pow(10, -float64(p.Decimals))/2, p.Unit, q.Unit)
	if err == nil {
		if zero, err := info.Convert(0, p.Unit, q.Unit); err == nil {
			step = max(step, math.Abs(fine-zero))
		}
	}
	if math.Abs(x-q.Value) <= step*(1+1e-9) {
		return SameWater
	}
	return Different
}

// splitValues takes "[21 mg/L, 22 mg/L]" apart.
func splitValues(s string) []string {
	if inner, ok := strings.CutPrefix(s, "["); ok {
		if inner, ok = strings.CutSuffix(inner, "]"); ok {
			return strings.Split(inner, ", ")
		}
	}
	return []string{s}
}

// analyteOf finds what a field measures: the part of its path that is the name
// of a value.
func analyteOf(field string) *water.Analyte {
	for _, part := range strings.Split(field, ".") {
		if id, ok := water.Lookup(part); ok {
			return id.Info()
		}
	}
	return nil
}

// ByPath is a map of fields by their paths.
func ByPath(fields []Field) map[string]string {
	m := make(map[string]string, len(fields))
	for _, f := range fields {
		m[f.Path] = f.Text
	}
	return m
}
