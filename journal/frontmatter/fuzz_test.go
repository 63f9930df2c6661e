package frontmatter

import (
	"reflect"
	"strings"
	"testing"
	"unicode/utf8"

	"pgregory.net/rapid"
)

// FuzzDiff holds the strict reader against the YAML library: whatever the strict reader
// takes, the library must read as the same nodes at the same places, without a problem.
func FuzzDiff(f *testing.F) {
	for _, s := range seeds {
		f.Add([]byte(s), true)
		f.Add([]byte(s), false)
	}
	f.Fuzz(func(t *testing.T, src []byte, fenced bool) {
		if !fenced {
			src = append([]byte("a: b\n"), src...)
		}
		sameReading(t, src, fenced)
	})
}

// sameReading compares the two readers and returns whether the strict one took src.
func sameReading(t fataler, src []byte, fenced bool) bool {
	var quick, library Document
	quick.reset(src)
	if !quick.fast(fenced) {
		return false
	}
	library.reset(src)
	library.slow(fenced)
	if len(library.Problems) > 0 {
		t.Fatalf("the library reports %+v in %q", library.Problems, src)
	}
	if !reflect.DeepEqual(quick.Nodes, library.Nodes) {
		t.Fatalf("nodes differ in %q\nfast    %+v\nlibrary %+v", src, quick.Nodes, library.Nodes)
	}
	for i := range quick.Nodes {
		if a, b := quick.Text(int32(i)), library.Text(int32(i)); a != b {
			t.Fatalf("text of node %d in %q: %q and %q", i, src, a, b)
		}
		if a, b := quick.Key(int32(i)), library.Key(int32(i)); a != b {
			t.Fatalf("key of node %d in %q: %q and %q", i, src, a, b)
		}
	}
	if quick.Front != library.Front || quick.FrontEnd != library.FrontEnd || quick.Body != library.Body {
		t.Fatalf("bounds differ in %q: %d %d %d and %d %d %d", src, quick.Front, quick.FrontEnd, quick.Body, library.Front, library.FrontEnd, library.Body)
	}
	return true
}

type fataler interface {
	Helper()
	Fatalf(format string, args ...any)
}

// Records made of the pieces that people and this program write, some of them awkward: the
// readers agree on each. Random bytes rarely get as far as a value.
func TestReadersAgree(t *testing.T) {
	taken := 0
	rapid.Check(t, func(t *rapid.T) {
		key := rapid.OneOf(rapid.StringMatching(`[a-z]{1,4}`), rapid.SampledFrom([]string{"null", "true", "y", "no", "on", "a.b", "a/b-1.md", "_", "N", "Off", "e1", "x:y", "\"q\"", "1a"}))
		scalar := rapid.OneOf(rapid.StringMatching(`[a-z0-9<>~:#,.\-+(/ ±"'?&=|%]{1,8}`),
			rapid.SampledFrom([]string{"7.42", "84 mg/L", "<5 mg/L", "-12 ± 8 mg/L", "2026-03-04T08:15+01:00", "\"a, b: c # d\"", "\"\"", "x#y", "x #y", "a:b", "-", "--- ", "...", "<<", "null", "{}", "[]", "[ ]", "{ a: b }"}))
		var value func(depth int) string
		value = func(depth int) string {
			switch n := rapid.IntRange(0, 5).Draw(t, "shape"); {
			case n == 0 && depth < 3:
				parts := rapid.SliceOfN(rapid.Custom(func(*rapid.T) string { return key.Draw(t, "k") + ": " + value(depth+1) }), 0, 3).Draw(t, "pairs")
				return "{" + strings.Join(parts, ", ") + "}"
			case n == 1 && depth < 3:
				parts := rapid.SliceOfN(rapid.Custom(func(*rapid.T) string { return value(depth + 1) }), 0, 3).Draw(t, "items")
				return "[" + strings.Join(parts, rapid.SampledFrom([]string{",", ", ", " , "}).Draw(t, "comma")) + "]"
			}
			return scalar.Draw(t, "scalar")
		}
		var b strings.Builder
		for indent, lines := 0, rapid.IntRange(1, 8).Draw(t, "lines"); lines > 0; lines-- {
			b.WriteString(strings.Repeat(" ", indent))
			end := rapid.SampledFrom([]string{"\n", "\n", "\n", "  # c\n", " \n", "\n\n", "\n # c\n", "#\n"}).Draw(t, "end")
			switch rapid.IntRange(0, 6).Draw(t, "line") {
			case 0:
				b.WriteString(key.Draw(t, "k") + ":" + end)
				indent += 2
				continue
			case 1:
				b.WriteString("- " + value(1) + end)
			default:
				b.WriteString(key.Draw(t, "k") + rapid.SampledFrom([]string{": ", ": ", ":   ", ":"}).Draw(t, "colon") + value(0) + end)
			}
			indent = max(0, indent-2*rapid.SampledFrom([]int{0, 0, 0, 1, 2}).Draw(t, "back"))
		}
		front := b.String()
		if sameReading(t, []byte(front), false) {
			taken++
		}
		if sameReading(t, []byte("---\n"+front+"---\nnotes\n"), true) {
			taken++
		}
	})
	if taken == 0 {
		t.Error("the strict reader took nothing")
	}
	t.Logf("the strict reader took %d", taken)
}

// FuzzParse holds every input to what the package promises of any input: no panic, places
// inside the file, children inside their parents, a tree or a problem.
func FuzzParse(f *testing.F) {
	for _, s := range seeds {
		f.Add([]byte(s), true)
		f.Add([]byte(s), false)
	}
	f.Fuzz(func(t *testing.T, src []byte, fenced bool) {
		var d Document
		if fenced {
			d.Parse(src)
		} else {
			d.ParseYAML(src)
		}
		checkInvariants(t, &d)
	})
}

func checkInvariants(t *testing.T, d *Document) {
	t.Helper()
	size := len(d.Source)
	if !d.OK() && !d.Failed() {
		t.Fatalf("neither tree nor problem for %q", d.Source)
	}
	if d.Front < 0 || d.Front > d.FrontEnd || d.FrontEnd > d.Body || d.Body > size {
		t.Fatalf("bounds %d %d %d of %q", d.Front, d.FrontEnd, d.Body, d.Source)
	}
	for _, p := range d.Problems {
		if p.Start < 0 || p.Start > p.End || p.End > size || p.Message == "" {
			t.Fatalf("problem %+v of %q", p, d.Source)
		}
		if line, column := d.Position(p.Start); line < 1 || column < 1 {
			t.Fatalf("place %d:%d of problem %+v", line, column, p)
		}
		if !utf8.ValidString(p.Message) {
			t.Fatalf("message %q is not UTF-8", p.Message)
		}
		if p.Message == "the place of this value could not be determined" || p.Message == "the YAML could not be read" {
			t.Fatalf("safeguard reached by %q", d.Source)
		}
	}
	for i, n := range d.Nodes {
		if n.Start < int32(d.Front) && n.Kind != None || n.End < n.Start || int(n.End) > size || n.KeyStart > n.KeyEnd || int(n.KeyEnd) > size {
			t.Fatalf("node %d %+v of %q", i, n, d.Source)
		}
		_, _ = d.Text(int32(i)), d.Key(int32(i))
		for c := range d.Children(int32(i)) {
			child := d.Nodes[c]
			if child.Start < n.Start || child.End > n.End || int(c) <= i {
				t.Fatalf("child %d %+v outside its parent %d %+v of %q", c, child, i, n, d.Source)
			}
			if child.KeyStart >= 0 && (child.KeyStart < n.Start || child.KeyEnd > child.Start) {
				t.Fatalf("key of child %d %+v outside its parent %+v of %q", c, child, n, d.Source)
			}
		}
	}
}

var seeds = []string{
	session,
	"---\r\nsite: north-well\r\nreadings:\r\n  pH: 7.42\r\n---\r\nnotes\r\n",
	"---\nexpires: 2026-11          # the end of that month\nstandard: {sulfate: 100 mg/L}\n---\n",
	"---\nbasis:\n  - {session: 2026-03-04-north-well, share: 60 %}\n  - {session: 2026-03-04-ro-permeate, share: 40 %}\nvolume: 1200 L\nadd:\n  gypsum: 180 g\n  lactic_acid: {amount: 140 mL, strength: 80 % w/w, lot: LA-26-01}\nexpect:\n  calcium: 92 ± 5 mg/L\n  residual_alkalinity: -12 ± 8 mg/L CaCO3\n---\nwhy\n",
	"---\ncovers:\n  changes/2026-03-11-pale-lager-gypsum.md: 5c1f\n  sessions/2026/2026-03-04-north-well.md: 90ab\n---\n",
	"---\namended: [{key: readings.calcium_hardness, was: 205 mg/L Ca, by: ines, on: 2024-05-07T08:10+03:00, reason: \"basis typed wrong\"}]\n---\n",
	"a: |\n  foo\n   bar\n\nb: >-\n  x\n  y\n\nc: plain\n  folded\n   lines # com\n\"d\\n\": 'it''s'\ne: |+\n\nf: [a, b\n  , c # x ] }\n  ]\n",
	"a:\n- b\n-\n- c: d\n  e:   # x\n- - x\n  - y\n- \n# end\nf: {x, y: , z: {a: b}, }\n",
	"a: &x 1\nb: *x\n", "a: !!str 1\n", "? a\n: b\n", "{a: b, ? c : d}\n", "1: x\n", "<<: {a: b}\n", "a: 1\na: 2\n",
	"a: >200 mg/L\n", "a: {value: >200 mg/L}\n", "a: {value: <5 mg/L}\n", "a: b: c\n", "a: {b: c\nd: e\n", "a: \"b\nd: e\n", "0: 0 \n",
	"\ufeff---\na: b\n---\n", "---\na: b\n# c\nNotes without a fence\n", "<<<<<<< ours\na: b\n=======\na: c\n>>>>>>> theirs\n",
	"---\na: b\n---\n\u202eevil\n", "a: \"\\x41\\u00e9\"\n", "a: 'x'\n...\nb: c\n", "a: -\n", "- - - - x\n", "a: b #c\n#d\n  # e\nf: g#h\n", "a: [b, [c, {d: e}]]\n", "a: {}\nb: []\n", "a: \"b\"  # c\n",
	"a: x" + strings.Repeat("[", MaxDepth) + "\n", "a: b # " + strings.Repeat("[", MaxDepth) + "\n", "a: [\n  'x', # [[\n]\n",
}
