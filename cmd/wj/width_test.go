package main

import (
	"bytes"
	"os"
	"strconv"
	"strings"
	"testing"

	"wj/render"
)

// screens are commands whose answers people read on a terminal, besides those that query/report holds to the width.
var screens = []string{"", "status", "stock", "ls sessions --since 2026-09-20", "trace SU-2507 --down --if sulfate=-18%"}

// TestWidth holds the screens to the width of the terminal: no line is longer at 40 columns, and no word is cut: each is one
// of the screen that is as wide as it likes.
func TestWidth(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	if err := os.CopyFS(dir, os.DirFS("../../example-journal")); err != nil {
		t.Fatal(err)
	}
	for _, command := range screens {
		words := map[string]bool{}
		for _, width := range []int{200, 40} {
			var out, talk bytes.Buffer
			env := map[string]string{"COLUMNS": strconv.Itoa(width), "WJ_NOW": "2026-10-12T09:00+03:00", "HOME": dir}
			run(append([]string{"-C", dir}, strings.Fields(command)...), nil, &out, &talk, func(name string) string { return env[name] })
			if out.Len() == 0 {
				t.Errorf("wj %s prints nothing: %s", command, talk.String())
			}
			for line := range strings.Lines(out.String()) {
				if n := render.Width(strings.TrimRight(line, "\n")); n > width {
					t.Errorf("wj %s at %d columns: %d in %q", command, width, n, line)
				}
				for word := range strings.FieldsSeq(line) {
					if width == 200 {
						words[word] = true
					} else if !words[word] && !strings.Contains(word, "─") {
						t.Errorf("wj %s at %d columns cuts a word: %q in %q", command, width, word, line)
					}
				}
			}
		}
	}
}
