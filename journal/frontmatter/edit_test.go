package frontmatter

import (
	"fmt"
	"reflect"
	"slices"
	"strings"
	"testing"

	"go.yaml.in/yaml/v3"
	"pgregory.net/rapid"
)

// tree is what a document says, without places.
type tree struct {
	Key, Text string
	Kind      Kind
	Kids      []tree
}

func treeOf(d *Document, i int32) tree {
	t := tree{Key: d.Key(i), Text: d.Text(i), Kind: d.node(i).Kind}
	for c := range d.Children(i) {
		t.Kids = append(t.Kids, treeOf(d, c))
	}
	return t
}

// without returns the tree less the node at index, counted as Nodes counts (parents first).
func (t tree) without(index int) tree {
	at := 0
	var walk func(t tree) tree
	walk = func(t tree) tree {
		kids := t.Kids
		t.Kids = nil
		for _, k := range kids {
			at++
			if here := at; here == index {
				walk(k)
			} else {
				t.Kids = append(t.Kids, walk(k))
			}
		}
		return t
	}
	return walk(t)
}

var editable = []string{
	session,
	"---\na: b   # keep\n# and this\nc:\n  d: [1, 2 , 3]  # three\n  e: {x: 1, y: {z: 2}}\nf:\n  - one\n  - {two: 2}\n  - \"three\"\n---\nbody\n",
	"---\nf:\n- one  # first\n- a: 1\n  b: 2\n- - x\n  - y\ng: |\n  text\n    more\n\nh: >-\n  folded\n  text\ni: 'it''s'\nj:\nk: [\n  p,   # c\n  q\n  ]\n---\n",
	"---\nonly: {}\nlist: []\nflow: {a, b: , c: d}\n---\n",
	"---\na:   # why\n  # what\n  b: c  # gone\nd: e\n---\n",
	"---\na:\n  b: c\n---\n",
}

// both yields each document with LF and with CRLF line ends.
func both(f func(src, name string)) {
	for i, s := range editable {
		f(s, fmt.Sprintf("%d LF", i))
		f(strings.ReplaceAll(s, "\n", "\r\n"), fmt.Sprintf("%d CRLF", i))
	}
}

// reparse applies the edit and checks that line ends stay what they were.
func reparse(t *testing.T, d *Document, e Edit) *Document {
	t.Helper()
	out, err := Apply(d.Source, []Edit{e})
	if err != nil {
		t.Fatal(err)
	}
	if d.LineEnd() == "\r\n" && strings.Count(string(out), "\n") != strings.Count(string(out), "\r\n") {
		t.Fatalf("line ends are mixed in %q", out)
	}
	var after Document
	after.Parse(out)
	if !after.OK() || after.Failed() {
		t.Fatalf("edit %+v of %q gives %q: %+v", e, d.Source, out, after.Problems)
	}
	if string(after.Source[after.Body:]) != string(d.Source[d.Body:]) {
		t.Fatalf("the body changed: %q", out)
	}
	return &after
}

func TestSetScalarEverywhere(t *testing.T) {
	both(func(src, name string) {
		var d Document
		d.Parse([]byte(src))
		for i := 1; i < len(d.Nodes); i++ {
			for _, text := range []string{"84 mg/L", ">200 mg/L", "a, b: c # d", "it's \"so\"\nand more", ""} {
				after := reparse(t, &d, SetScalar(&d, int32(i), text))
				want := d.Nodes[i].Kind == Scalar
				if want && len(after.Nodes) != len(d.Nodes) {
					t.Fatalf("%s: node %d set to %q gives %q", name, i, text, after.Source)
				}
				if got := after.Text(int32(i)); got != text || after.Key(int32(i)) != d.Key(int32(i)) {
					t.Fatalf("%s: node %d is %q, not %q, in %q", name, i, got, text, after.Source)
				}
			}
		}
	})
}

func TestAppendEverywhere(t *testing.T) {
	both(func(src, name string) {
		var d Document
		d.Parse([]byte(src))
		for i := range d.Nodes {
			var e Edit
			var err error
			switch d.Nodes[i].Kind {
			case Mapping:
				e, err = AppendKey(&d, int32(i), "void key", `{by: ines, reason: "x, y"}`)
			case Sequence:
				e, err = AppendItem(&d, int32(i), "{by: ines}")
			default:
				continue
			}
			if err != nil {
				t.Fatalf("%s: node %d: %v", name, i, err)
			}
			after := reparse(t, &d, e)
			kids := slices.Collect(after.Children(int32(i)))
			last := kids[len(kids)-1]
			if by, ok := after.Child(last, "by"); !ok || after.Text(by) != "ines" {
				t.Fatalf("%s: node %d: %q", name, i, after.Source)
			}
			if d.Nodes[i].Kind == Mapping && after.Key(last) != "void key" {
				t.Fatalf("%s: key %q in %q", name, after.Key(last), after.Source)
			}
			if got, want := treeOf(after, 0).without(int(last)), treeOf(&d, 0); !reflect.DeepEqual(got, want) {
				t.Fatalf("%s: something else changed: %q", name, after.Source)
			}
		}
	})
}

func TestRemoveEverywhere(t *testing.T) {
	both(func(src, name string) {
		var d Document
		d.Parse([]byte(src))
		for i := 1; i < len(d.Nodes); i++ {
			e, err := RemoveNode(&d, int32(i))
			if err != nil {
				t.Fatalf("%s: node %d: %v", name, i, err)
			}
			after := reparse(t, &d, e)
			if got, want := treeOf(after, 0), treeOf(&d, 0).without(i); !reflect.DeepEqual(got, want) {
				t.Fatalf("%s: removing node %d (%s) gives\n%s\nfrom\n%s", name, i, d.Key(int32(i)), after.Source, src)
			}
		}
	})
}

func TestEditsKeepComments(t *testing.T) {
	var d Document
	d.ParseYAML([]byte("a:   # why\n  # what\n  b: c  # gone\nd: e\n"))
	at, _ := d.Find("a.b")
	e, err := RemoveNode(&d, at)
	if err != nil {
		t.Fatal(err)
	}
	out, err := Apply(d.Source, []Edit{e})
	if want := "a: {}   # why\n  # what\nd: e\n"; err != nil || string(out) != want {
		t.Errorf("got %q %v, not %q", out, err, want)
	}
	e, err = AppendKey(&d, 0, "amended", "\n  - {was: 1}")
	if err != nil {
		t.Fatal(err)
	}
	out, _ = Apply(d.Source, []Edit{e})
	if want := "a:   # why\n  # what\n  b: c  # gone\nd: e\namended:\n  - {was: 1}\n"; string(out) != want {
		t.Errorf("got %q", out)
	}
	if _, err := AppendKey(&d, 0, "a", "1"); err == nil {
		t.Error("a key was added twice")
	}
}

func TestApply(t *testing.T) {
	src := []byte("0123456789")
	out, err := Apply(src, []Edit{{8, 9, "H"}, {2, 2, "a"}, {2, 2, "b"}, {2, 4, "XYZ"}, {10, 10, "!"}})
	if err != nil || string(out) != "01abXYZ4567H9!" {
		t.Errorf("%q %v", out, err)
	}
	if string(src) != "0123456789" {
		t.Error("the source changed")
	}
	for _, bad := range [][]Edit{{{2, 5, ""}, {4, 6, ""}}, {{-1, 2, ""}}, {{3, 2, ""}}, {{9, 11, ""}}, {{2, 5, ""}, {3, 3, "x"}}} {
		if out, err := Apply(src, bad); err == nil {
			t.Errorf("%v gives %q", bad, out)
		}
	}
}

func TestQuoteStaysPlain(t *testing.T) {
	for _, s := range []string{"84 mg/L", "<5 mg/L", "-12 ± 8 mg/L CaCO3", "7.42", "2026-03-04T08:15+01:00", "north-well", "412 µS/cm", "60 %", "(bench)"} {
		if got := Quote(s); got != s {
			t.Errorf("%q is written %s", s, got)
		}
	}
	for _, s := range []string{"", ">200 mg/L", "no", "Yes", "null", "~", "a: b", "a #b", "a,b", "[x", "- x", "--- ", "a\tb", " a", "a ", "@x", "\u202e", "=======", "key:", "?", "*a", "7,42"} {
		if got := Quote(s); got == s {
			t.Errorf("%q is written plain", s)
		}
	}
}

// The YAML library reads back what Quote wrote, in every place that a scalar can have.
func TestQuoteReadsBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		text := rapid.OneOf(rapid.String(), rapid.StringMatching(`[-a-z0-9<>~:#,\[\]{} "'\\.%@!&*?|=+\t\n]{0,12}`)).Draw(t, "text")
		text = strings.ToValidUTF8(text, "\uFFFD")
		quoted := Quote(text)
		for _, frame := range []string{"%s\n", "k: %s\n", "- %s\n", "{k: %s}\n", "[%s, x]\n", "a:\n  - {k: %s} # c\n", "%s: x\n", "{%s: x}\n"} {
			if len(text) > 500 && strings.HasSuffix(frame, ": x\n") {
				continue // YAML limits a key to 1024 characters (YAML 1.1, section 9.2)
			}
			var n yaml.Node
			if err := yaml.Unmarshal(fmt.Appendf(nil, frame, quoted), &n); err != nil {
				t.Fatalf("%q as %s in %q: %v", text, quoted, frame, err)
			}
			found := false
			var walk func(n *yaml.Node)
			walk = func(n *yaml.Node) {
				found = found || n.Kind == yaml.ScalarNode && n.Value == text
				for _, c := range n.Content {
					walk(c)
				}
			}
			walk(&n)
			if !found {
				t.Fatalf("%q as %s is lost in %q", text, quoted, frame)
			}
		}
	})
}
