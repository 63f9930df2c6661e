package server

import (
	"path/filepath"
	"runtime"
	"strings"
	"testing"
	"unicode/utf16"
	"unicode/utf8"

	"pgregory.net/rapid"
)

// TestPosition takes its cases from the LSP specification 3.17, "Text
// Documents": a𐐀b, and the three line ends.
func TestPosition(t *testing.T) {
	x := newText([]byte("a𐐀b\nzwei\r\ndrei\rvier"))
	for _, c := range []struct {
		offset     int
		line, unit int
	}{
		{0, 0, 0}, {1, 0, 1}, {5, 0, 3}, {6, 0, 4}, {7, 1, 0}, {11, 1, 4}, {13, 2, 0}, {17, 2, 4}, {18, 3, 0}, {22, 3, 4},
	} {
		if p := x.position(c.offset); p != (position{c.line, c.unit}) {
			t.Errorf("byte %d is at %v, want %d:%d", c.offset, p, c.line, c.unit)
		}
		if o := x.offset(position{c.line, c.unit}); o != c.offset {
			t.Errorf("%d:%d is byte %d, want %d", c.line, c.unit, o, c.offset)
		}
	}
	for p, want := range map[position]int{{0, 2}: 1, {0, 99}: 6, {1, 99}: 11, {9, 0}: 22, {-1, 5}: 0, {2, -1}: 13} {
		if o := x.offset(p); o != want {
			t.Errorf("%v is byte %d, want %d", p, o, want)
		}
	}
}

// TestPositionProperty compares with the standard library's UTF-16.
func TestPositionProperty(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		src := strings.Join(rapid.SliceOfN(rapid.SampledFrom([]string{"a", "é", "µ", "💧", "\n", "\r\n", "\r", "\xff", ": "}), 0, 30).Draw(t, "src"), "")
		x := newText([]byte(src))
		for offset := range src {
			if !utf8.RuneStart(src[offset]) {
				continue
			}
			p := x.position(offset)
			start, end := x.bounds(p.Line)
			if offset <= end { // not inside a line end
				if got := x.offset(p); got != offset {
					t.Fatalf("%q: byte %d is at %v, and that is byte %d", src, offset, p, got)
				}
				if want := len(utf16.Encode([]rune(src[start:offset]))); p.Character != want {
					t.Fatalf("%q: byte %d is unit %d, want %d", src, offset, p.Character, want)
				}
			}
		}
		p := position{rapid.IntRange(-2, 12).Draw(t, "line"), rapid.IntRange(-2, 40).Draw(t, "unit")}
		if o := x.offset(p); o < 0 || o > len(src) {
			t.Fatalf("%v is byte %d of %d", p, o, len(src))
		}
	})
}

func TestURI(t *testing.T) {
	if runtime.GOOS == "windows" {
		t.Skip("the paths are Unix ones")
	}
	for uri, want := range map[string]string{
		"file:///j/a.md": "/j/a.md", "file:///j/t%C3%BCcke%20%5Bx%5D.md": "/j/tücke [x].md", "file://localhost/j/a.md": "/j/a.md", "file:///j/../etc/x": "/etc/x",
		"untitled:1": "", "file://host/share/a.md": "", "https://x/y": "", "file:": "", "%zz": "", "file:///a%00b": "",
	} {
		if got, ok := pathOf(uri); ok != (want != "") || ok && got != want {
			t.Errorf("%s is %q, %v", uri, got, ok)
		}
	}
	name := filepath.FromSlash("/j/50 %/tücke#?.md")
	if got, ok := pathOf(uriOf(name)); !ok || got != name {
		t.Errorf("%s comes back as %s", name, got)
	}
}
