package frontmatter

import (
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
)

// Each mistake is found at its line and column, in words that help.
func TestProblems(t *testing.T) {
	front := func(s string) string { return "---\nsite: north-well\n" + s + "---\nnotes\n" }
	for _, c := range []struct{ src, want string }{
		{front("a: >200 mg/L\n"), "3:4 format/front-matter: a value cannot start with '>'"},
		{front("r: {value: >200 mg/L, lot: X}\n"), "3:12 format/front-matter: a value cannot start with '>'"},
		{front("a: b: c\n"), "3:5 format/front-matter: a second colon is in the value"},
		{front("a: {b: c\nd: e\n"), "3:4 format/front-matter: '{' is not closed"},
		{front("a: [b}\n"), "3:6 format/front-matter: '}' does not close '['"},
		{front("a: {b: c d: e}\n"), "3:11 format/front-matter: a comma is missing"},
		{front("a: \"b\nd: e\n"), "3:4 format/front-matter: the quote is not closed"},
		{front("a: \"b\" c\n"), "3:8 format/front-matter: text follows the closing quote"},
		{front("a: {b: \"c\" d}\n"), "3:12 format/front-matter: text follows the closing quote"},
		{front("a:b\nc: d\n"), "3:2 format/front-matter: there is no blank after the colon"},
		{front("x: {value:7}\n"), "3:10 format/front-matter: there is no blank after the colon"},
		{front("a: b\n  c: d\n"), "4:3 format/front-matter: the line is indented below one that has a value"},
		{front("a:\n    b: c\n  d: e\n"), "5:3 format/front-matter: the line does not fit the lines above it"},
		{front("a: &x 1\n"), "3:4 format/front-matter: a YAML anchor is used"},
		{front("a: *x\n"), "3:4 format/front-matter: a YAML alias is used"},
		{front("a: !!str 1\n"), "3:4 format/front-matter: a YAML tag is used"},
		{front("<<: {a: b}\n"), "3:1 format/front-matter: a YAML merge key is used"},
		{front("? a\n: b\n"), "3:3 format/front-matter: a key is not a single word or text"},
		{front("[a]: b\n"), "3:1 format/front-matter: a key is not a single word or text"},
		{front("2026: b\n"), "3:1 format/front-matter: the key 2026 is not text"},
		{front("a: [b: c]\n"), "3:5 format/front-matter: a key is in a list"},
		{front("%YAML 1.2\n"), "3:1 format/front-matter: a line starts with %"},
		{front("a: b\n...\nc: d\n"), "4:1 format/front-matter: a second document starts here"},
		{front("\ta: b\n"), "3:1 format/front-matter: a tab is used for indentation"},
		{front("a:\n\u00a0\u00a0b: c\n"), "4:1 format/front-matter: a no-break space is used for indentation"},
		{front("a: " + strings.Repeat("[", 20) + strings.Repeat("]", 20) + "\n"), "3:19 format/front-matter: nested more than 16 deep"},
		{front("a: " + strings.Repeat("[\n", 20) + strings.Repeat("]", 20) + "\n"), "18:1 format/front-matter: nested more than 16 deep"},
		{front("a: " + strings.Repeat("x", MaxLine) + "\n"), "3:1 format/front-matter: the line has 4099 bytes, more than 4096"},
		{front(strings.Repeat("# filler\n", 8000)), "2:1 format/front-matter: the front matter is 70 KiB, more than 64 KiB"},
		{front("") + strings.Repeat("x\n", MaxFile), "1:1 format/front-matter: the file is 512 KiB, more than the 256 KiB"},
		{front("site: south-well\n"), "3:1 format/duplicate-key: the key site is on line 2 and again on line 3"},
		{front("r: {lot: A, lot: B}\n"), "3:13 format/duplicate-key: the key lot appears twice on line 3"},
		{front("\"s\\x69te\": x\n"), "3:1 format/duplicate-key: the key site is on line 2 and again on line 3"},
		{front("a: \u202eb\n"), "3:4 format/encoding: the bidirectional control character U+202E"},
		{front("") + "evil \u2066 text\n", "5:6 format/encoding: the bidirectional control character U+2066"},
		{front("") + "µ \x1b[31m\n", "5:3 format/encoding: the control character U+001B"},
		{front("") + "\x00\n", "5:1 format/encoding: the NUL character U+0000"},
		{front("a: \xff\n"), "3:4 format/encoding: byte 0xFF is not UTF-8"},
		{front("a: b\rc: d\n"), "3:5 format/encoding: a carriage return without a line feed, U+000D"},
		{"\ufeff" + front(""), "1:1 format/encoding: the file starts with a byte-order mark"},
		{strings.ReplaceAll(front(""), "\n", "\r\n"), "1:4 format/encoding: lines end in CR LF"},
		{"", "1:1 format/front-matter: the file is empty"},
		{"\n\n---\na: b\n---\n", "1:1 format/front-matter: something is before the opening ---"},
		{"a: b\n---\n", "1:1 format/front-matter: the opening --- line is missing"},
		{"Only prose.\n", "1:1 format/front-matter: there is no front matter"},
		{"---\na: b\nc:\n  d: e\n\n# Notes\n\nThe strip ran out: twice.\n", "1:1 format/front-matter: the closing --- line is missing; the notes seem to start at line 6"},
		{"---\na: b\n", "1:1 format/front-matter: the closing --- line is missing"},
		{"---\n- a\n---\n", "2:1 format/front-matter: the front matter is not a mapping"},
	} {
		var d Document
		d.Parse([]byte(c.src))
		if len(d.Problems) == 0 {
			t.Errorf("nothing found, not %q", c.want)
			continue
		}
		p := d.Problems[0]
		line, column := d.Position(p.Start)
		if got := fmt.Sprintf("%d:%d %s: %s", line, column, p.Rule, p.Message); !strings.HasPrefix(got, c.want) {
			t.Errorf("got  %s\nwant %s\nin %.80q", got, c.want, c.src)
		}
		if len(d.Problems) > 1 {
			t.Errorf("%q: also %+v", c.want, d.Problems[1:])
		}
		if p.Help == "" {
			t.Errorf("%q: no help", c.want)
		}
		checkInvariants(t, &d)
	}
}

// What git leaves in a file after a real conflict is named with both sides.
func TestConflictByGit(t *testing.T) {
	git, err := exec.LookPath("git")
	if err != nil {
		t.Skip("no git here")
	}
	folder := t.TempDir()
	for name, value := range map[string]string{"base": "7.40", "ours": "7.42", "theirs": "7.24"} {
		text := "---\nsite: north-well\nreadings:\n  pH: " + value + "\n---\n\nSettled\n=======\n\nnotes\n"
		if err := os.WriteFile(filepath.Join(folder, name), []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	command := exec.Command(git, "merge-file", "-p", "ours", "base", "theirs")
	command.Dir = folder
	out, err := command.Output()
	if err == nil {
		t.Fatal("git found no conflict")
	}
	var d Document
	d.Parse(out)
	if len(d.Problems) != 1 || d.OK() {
		t.Fatalf("%+v", d.Problems)
	}
	if line, _ := d.Position(d.Problems[0].Start); line != 4 {
		t.Errorf("found at line %d", line)
	}
	if want := "a merge was left unresolved: line 5 is ours, line 7 is theirs"; d.Problems[0].Message != want {
		t.Errorf("got %q", d.Problems[0].Message)
	}
}

// A heading underlined by seven = signs, and a quotation, are Markdown and no conflict.
func TestNoConflict(t *testing.T) {
	var d Document
	d.Parse([]byte("---\na: b\n---\nTitle a\n=======\n\n>>>>>>>>> deep\n\n<<<<<<<<<\n"))
	if len(d.Problems) != 0 {
		t.Errorf("%+v", d.Problems)
	}
}

// Input made to be slow is read, or refused: work that grew with its square would
// outlast the time that the tests have.
func TestHostileInputEnds(t *testing.T) {
	for _, piece := range []string{"[\n", "- ", "#\n", "a:\n", "a: b\n", "- a\n", "{a: \n", "a\n", "'a\n", "{},", "\"", "*a ", "&a ", "? ", ": ", "<<<<<<< a\n", "a: {b: [", "\x01", "  #\n#\n"} {
		for _, start := range []string{"", "a: ", "a: [", "a: |\n"} {
			var d Document
			src := []byte("---\n" + start + strings.Repeat(piece, 60000/len(piece)) + "\n---\n")
			d.Parse(src)
		}
	}
}
