package server

import (
	"slices"
	"strings"
	"testing"

	"wj/journal"
)

// TestCursor has ‸ where the cursor is, in texts that are mostly not YAML yet.
func TestCursor(t *testing.T) {
	for _, c := range []struct {
		text    string
		path    string
		key     bool
		typed   string
		present string
	}{
		{"---\n‸\n---\n", "", true, "", ""},
		{"---\nsite: tap\nsa‸\nby: ines\n---\n", "", true, "sa", "by site"},
		{"---\nsite: ‸\n---\n", "site", false, "", ""},
		{"---\nsite:‸\n---\n", "site", false, "", ""},
		{"---\nsite: no‸rth\n---\n", "site", false, "no", ""},
		{"---\nreadings:\n  pH: 7.4\n  su‸\n  chloride: 21 mg/L\n---\n", "readings", true, "su", "chloride pH"},
		{"---\nreadings:\n  ‸\n", "readings", true, "", ""},
		{"---\nreadings:\n  sulfate: {value: 84 mg/L, lot: S‸\n  pH: 7\n---\n", "readings sulfate lot", false, "S", ""},
		{"---\nreadings:\n  sulfate: {value: 84 mg/L, ‸}\n---\n", "readings sulfate", true, "", "value"},
		{"---\nreadings:\n  sulfate: {‸lot: X, value: 1}\n---\n", "readings sulfate", true, "", "lot value"},
		{"---\nreadings:\n  sulfate: {value: 84 mg‸}\n---\n", "readings sulfate value", false, "84 mg", ""},
		{"---\nreadings:\n  sulfate: {value: [21 mg/L, 2‸\n---\n", "readings sulfate value -", false, "2", ""},
		{"---\nreadings:\n  sulfate: {value: 1\n  pH: ‸\n---\n", "readings pH", false, "", ""},
		{"---\nreadings:\n  sulfate: {note: \"a, b: {\", lo‸\n---\n", "readings sulfate", true, "lo", "note"},
		{"---\nfed_by:\n  - a\n  - n‸\n---\n", "fed_by -", true, "n", ""},
		{"---\nbasis:\n- session: x\n  sh‸\n---\n", "basis -", true, "sh", "session"},
		{"---\nbasis:\n  - {session: 2026‸, share: 4}\n---\n", "basis - session", false, "2026", ""},
		{"---\nbasis: [{session: a, share: 40 %}, {se‸}]\n---\n", "basis -", true, "se", ""},
		{"---\nroles:\n  - role: tester\n    methods:\n      - x\n    si‸\n---\n", "roles -", true, "si", "methods role"},
		{"---\nadd: {\n  gypsum: 180 g,\n  ‸\n}\n---\n", "add", true, "", "gypsum"},
		{"---\r\nsite: t‸\r\n---\r\n", "site", false, "t", ""},
		{"---\nnote: \"# no comment: ‸\"\n---\n", "note", false, "\"# no comment: ", ""},
	} {
		offset := strings.Index(c.text, "‸")
		got, ok := cursorAt([]byte(strings.Replace(c.text, "‸", "", 1)), false, offset)
		var present []string
		for k := range got.present {
			present = append(present, k)
		}
		slices.Sort(present)
		if !ok || strings.Join(got.path, " ") != c.path || got.key != c.key || got.typed != c.typed || c.present != "" && strings.Join(present, " ") != c.present {
			t.Errorf("%q: path %q, key %v, typed %q, beside %q, ok %v", c.text, got.path, got.key, got.typed, present, ok)
		}
	}
	for _, outside := range []string{"‸---\nsite: x\n---\n", "---\nsite: x\n---\n\nnotes ‸\n", "no front matter ‸", "---\n# comment ‸\n---\n", "‸"} {
		if got, ok := cursorAt([]byte(strings.Replace(outside, "‸", "", 1)), false, strings.Index(outside, "‸")); ok {
			t.Errorf("%q: %+v", outside, got)
		}
	}
}

// FuzzCursor: whatever is typed, completion and hover find a place or none, and
// the place lies in the text.
func FuzzCursor(f *testing.F) {
	for _, seed := range []string{"---\nsite: tap\nreadings:\n  pH: {value: [7, 8], lot: X}\n---\n", "---\nbasis:\n- {a: b\n  c: \"d\n- - - x\n", "---\n  : {[,:]}\n", "\ufeff---\r\na: 'b\r\n", "---\n- \n-  -\n", "{a: b,\nc: d\n"} {
		f.Add(seed, 12)
	}
	f.Fuzz(func(t *testing.T, text string, offset int) {
		if len(text) > 1<<14 {
			return
		}
		src := []byte(text)
		for _, settings := range []bool{false, true} {
			c, ok := cursorAt(src, settings, offset)
			if ok && (c.start < 0 || c.start > c.end || c.end > len(src)) {
				t.Fatalf("%q at %d: %+v", text, offset, c)
			}
			if ok {
				_, _ = rootField(journal.KindSession).at(c.path)
			}
			d := document{text: newText(src), file: journal.File{Kind: journal.KindSession}}
			if settings {
				d.file.Kind = journal.KindSettings
			}
			if s, ok := spotAt(d.parsed(), d.file.Kind, offset); ok && (s.start < 0 || s.start > s.end || s.end > len(src)) {
				t.Fatalf("%q at %d: %+v", text, offset, s)
			}
		}
	})
}
