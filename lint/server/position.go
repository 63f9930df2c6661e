package server

import (
	"net/url"
	"path/filepath"
	"runtime"
	"sort"
	"strings"
	"unicode/utf8"
)

// position is a place in a text as LSP counts it: lines from 0, and in the line
// UTF-16 code units from 0.
type position struct {
	Line      int `json:"line"`
	Character int `json:"character"`
}

// span is a range of a text; its end is not part of it.
type span struct {
	Start position `json:"start"`
	End   position `json:"end"`
}

// text is the content of a file with the places of its lines. Everything else
// in this package counts bytes; here alone they become UTF-16 and back.
type text struct {
	src   []byte
	lines []int // offsets of the lines' first bytes
}

// newText finds the lines. LSP ends them with LF, CR LF or CR.
func newText(src []byte) *text {
	t := &text{src: src, lines: []int{0}}
	for i, c := range src {
		if c == '\n' || c == '\r' && (i+1 == len(src) || src[i+1] != '\n') {
			t.lines = append(t.lines, i+1)
		}
	}
	return t
}

// line is the number of the line that holds a byte, from 0.
func (t *text) line(offset int) int {
	return sort.Search(len(t.lines), func(i int) bool { return t.lines[i] > offset }) - 1
}

// bounds are the bytes of a line without its end.
func (t *text) bounds(line int) (start, end int) {
	start, end = t.lines[line], len(t.src)
	if line+1 < len(t.lines) {
		end = t.lines[line+1] - 1
		if end > start && t.src[end] == '\n' && t.src[end-1] == '\r' {
			end--
		}
	}
	return start, end
}

// position is the place of a byte; one outside the text is the nearest inside.
func (t *text) position(offset int) position {
	offset = max(0, min(offset, len(t.src)))
	line := t.line(offset)
	start, end := t.bounds(line)
	units := 0
	for at := start; at < min(offset, end); {
		r, size := utf8.DecodeRune(t.src[at:])
		units += width(r)
		at += size
	}
	return position{line, units}
}

// offset is the byte at a place; one past the end of its line is the line's
// end, as LSP asks, and one in the middle of a character its beginning.
func (t *text) offset(p position) int {
	if p.Line < 0 {
		return 0
	}
	if p.Line >= len(t.lines) {
		return len(t.src)
	}
	at, end := t.bounds(p.Line)
	for units := 0; at < end; {
		r, size := utf8.DecodeRune(t.src[at:])
		if units += width(r); units > p.Character {
			break
		}
		at += size
	}
	return at
}

// width is the number of UTF-16 code units of a character; a byte that is no
// UTF-8 reaches the client as U+FFFD, which is one.
func width(r rune) int {
	if r > 0xFFFF {
		return 2
	}
	return 1
}

// span is the range of some bytes.
func (t *text) span(start, end int) span { return span{t.position(start), t.position(max(start, end))} }

// pathOf is the file that a URI names; ok is false for anything but a file on
// this machine.
func pathOf(uri string) (string, bool) {
	u, err := url.Parse(uri)
	if err != nil || u.Scheme != "file" || u.Path == "" || u.Host != "" && u.Host != "localhost" {
		return "", false
	}
	p := u.Path
	if runtime.GOOS == "windows" { // file:///C:/journal
		p = strings.TrimPrefix(p, "/")
	}
	p = filepath.FromSlash(p)
	return filepath.Clean(p), filepath.IsAbs(p) && !strings.ContainsRune(p, 0)
}

// uriOf names a file.
func uriOf(file string) string {
	p := filepath.ToSlash(file)
	if !strings.HasPrefix(p, "/") {
		p = "/" + p
	}
	return (&url.URL{Scheme: "file", Path: p}).String()
}
