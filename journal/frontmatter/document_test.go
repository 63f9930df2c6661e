package frontmatter

import "testing"

const session = `---
site: north-well
sampled: 2026-03-04T08:15+01:00
tested: 2026-03-04T08:40+01:00
by: ines
instrument: meter-2
place: [54.6872, 25.2797]
readings:
  pH:               {value: 7.42, lot: PH-2509}
  alkalinity:       {value: 118 mg/L CaCO3, lot: AL-2511}
  calcium_hardness: {value: 92 mg/L CaCO3, lot: CH-2510}
  total_hardness:   {value: 138 mg/L CaCO3, lot: TH-2510}
  chloride:         {value: [21 mg/L, 22 mg/L], lot: CL-2511}
  sulfate:          {value: 168 mg/L, dilution: 2, lot: SU-2511}
  temperature:      11.5 degC
---

Second sulfate strip after the first ran past the range; sample cut 1:1 with distilled water.
`

func TestCanonicalIsFast(t *testing.T) {
	var d Document
	for i, s := range seeds[:6] {
		if i == 1 {
			continue // CRLF
		}
		d.reset([]byte(s))
		if !d.fast(true) {
			t.Errorf("the strict reader refuses %q", s)
		}
	}
	src := []byte(session)
	d.Parse(src)
	if n := testing.AllocsPerRun(100, func() { d.Parse(src) }); n != 0 {
		t.Errorf("%v allocations", n)
	}
}

func TestFind(t *testing.T) {
	var d Document
	d.Parse([]byte("---\nreadings:\n  sulfate: {value: [1 mg/L, 2 mg/L], lot: SU-2511}\nbasis:\n  - {session: x, share: 60 %}\n  - {session: y.z, share: 40 %}\ncovers:\n  changes/a.md: 5c1f\n  changes/a: {md: wrong}\n\"a.b\":\n  c: 1\na:\n  b: {d: 2}\n---\n"))
	for path, want := range map[string]string{
		"readings.sulfate.lot": "SU-2511", "readings.sulfate.value.1": "2 mg/L", "basis.1.session": "y.z",
		"covers.changes/a.md": "5c1f", "a.b.c": "1", "a.b.d": "2",
	} {
		i, ok := d.Find(path)
		if !ok || d.Text(i) != want || string(d.Bytes(i)) != want {
			t.Errorf("%s is %q, %v", path, d.Text(i), ok)
		}
	}
	for _, path := range []string{"x", "readings.", "readings.sulfate.value.2", "basis.-1", "basis.x", "a.b.", ".a", "covers.changes"} {
		if i, ok := d.Find(path); ok {
			t.Errorf("%s is found: %q", path, d.Text(i))
		}
	}
	if i, ok := d.FindPath("covers", "changes/a.md"); !ok || d.Text(i) != "5c1f" || d.Key(i) != "changes/a.md" {
		t.Error("FindPath misses a key with a dot")
	}
	if i, ok := d.FindPath(); !ok || i != 0 {
		t.Error("the empty path is not the root")
	}
}

// A scalar is never interpreted: the traps of YAML stay text.
func TestLiteralText(t *testing.T) {
	for _, s := range []string{"012", "1_000", "0x1F", "1e3", "no", "yes", "~", ".nan", "2026-03-04", "12:30:45", "1.10", "null"} {
		var d Document
		d.Parse([]byte("---\na: {v: " + s + "}\n---\n"))
		if i, ok := d.Find("a.v"); !ok || d.Text(i) != s || d.Nodes[i].Style != Plain {
			t.Errorf("%s is read as %q", s, d.Text(i))
		}
	}
}

func TestPosition(t *testing.T) {
	var d Document
	d.Parse([]byte("\ufeff---\r\nµ: ±x\r\n---\r\nend"))
	for _, c := range []struct{ offset, line, column int }{{0, 1, 1}, {3, 1, 1}, {5, 1, 3}, {8, 2, 1}, {10, 2, 2}, {12, 2, 4}, {14, 2, 5}, {-4, 1, 1}, {999, 4, 4}} {
		if line, column := d.Position(c.offset); line != c.line || column != c.column {
			t.Errorf("offset %d is %d:%d, not %d:%d", c.offset, line, column, c.line, c.column)
		}
	}
	if i, ok := d.Find("µ"); !ok || d.Text(i) != "±x" {
		t.Error("the value behind a byte-order mark is lost")
	}
	if d.LineEnd() != "\r\n" || len(d.Problems) != 2 || d.Failed() {
		t.Errorf("%+v", d.Problems)
	}
}
