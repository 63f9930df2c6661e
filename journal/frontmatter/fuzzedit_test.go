package frontmatter

import (
	"reflect"
	"slices"
	"testing"
	"unicode/utf8"
)

// FuzzEdit edits whatever the package reads without a problem: an edit says that
// it cannot be made, or the result reads as the old tree with that one change.
// Loss of a neighbour is what an editor of records must never do.
func FuzzEdit(f *testing.F) {
	for i, s := range slices.Concat(editable, seeds) {
		for deed := range uint8(4) {
			f.Add([]byte(s), uint8(i+1), deed, "84 mg/L")
		}
	}
	f.Add([]byte("---\na: {b: }\n---\n"), uint8(1), uint8(2), "c")
	f.Add([]byte("---\na: [{b: }]\n---\n"), uint8(1), uint8(3), "c")
	f.Add([]byte("---\na: [{b: c\nby:, d: e}]\n---\n"), uint8(4), uint8(1), "")
	f.Add([]byte("---\na: {b\nc, d: e}\n---\n"), uint8(2), uint8(0), "x: y")
	for _, key := range []string{"8484", "7.42", "2026-03-04", "1e5", "0x1F", "-1", ".5", "1_000", "12:30", "0b1", "3d", "2026-03-04-a.csv"} {
		f.Add([]byte("---\na: b\n---\n"), uint8(0), uint8(2), key)
	}
	f.Fuzz(func(t *testing.T, src []byte, at, deed uint8, text string) {
		var d Document
		if d.Parse(src); !d.OK() || len(d.Problems) > 0 || !utf8.ValidString(text) || len(src)+len(text) > 1<<14 {
			return
		}
		i := int32(int(at) % len(d.Nodes))
		var e Edit
		var err error
		switch deed % 4 {
		case 0:
			if i == 0 {
				return
			}
			e = SetScalar(&d, i, text)
		case 1:
			if i == 0 {
				return
			}
			e, err = RemoveNode(&d, i)
		case 2:
			e, err = AppendKey(&d, i, text, "{by: ines}")
		default:
			e, err = AppendItem(&d, i, Quote(text))
		}
		if err != nil {
			return
		}
		out, err := Apply(src, []Edit{e})
		if err != nil {
			t.Fatalf("%+v of %q: %v", e, src, err)
		}
		var after Document
		after.Parse(out)
		if !after.OK() || after.Failed() {
			t.Fatalf("%+v of %q gives %q: %+v", e, src, out, after.Problems)
		}
		if string(after.Source[after.Body:]) != string(d.Source[d.Body:]) {
			t.Fatalf("%+v of %q changes the body: %q", e, src, out)
		}
		got, want := treeOf(&after, 0), treeOf(&d, 0)
		switch deed % 4 {
		case 0:
			want = want.with(int(i), text)
		case 1:
			want = want.without(int(i))
		default:
			kids := slices.Collect(after.Children(i))
			if len(kids) == 0 || deed%4 == 2 && after.Key(kids[len(kids)-1]) != text || deed%4 == 3 && after.Text(kids[len(kids)-1]) != text {
				t.Fatalf("%+v of %q adds something else: %q", e, src, out)
			}
			got = got.without(int(kids[len(kids)-1]))
		}
		if !reflect.DeepEqual(got, want) {
			t.Fatalf("%+v of %q gives %q\n%+v\nwant\n%+v", e, src, out, got, want)
		}
	})
}

// with returns the tree with another value at index, counted as Nodes counts.
func (t tree) with(index int, text string) tree {
	at := 0
	var walk func(t tree) tree
	walk = func(t tree) tree {
		here, kids := at, t.Kids
		t.Kids = nil
		for _, k := range kids {
			at++
			t.Kids = append(t.Kids, walk(k))
		}
		if here == index {
			return tree{Key: t.Key, Text: text, Kind: Scalar}
		}
		return t
	}
	return walk(t)
}
