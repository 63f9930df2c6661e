package main

import (
	"os"
	"path/filepath"
	"testing"
	"time"
)

// TestFilesMark: --watch sees a record that is changed, added or gone, and nothing else.
func TestFilesMark(t *testing.T) {
	root := t.TempDir()
	mark := func() string {
		t.Helper()
		m, err := filesMark(root)
		if err != nil {
			t.Fatal(err)
		}
		return m
	}
	write := func(name, text string, at time.Time) {
		t.Helper()
		p := filepath.Join(root, name)
		if err := os.MkdirAll(filepath.Dir(p), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(p, []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
		if err := os.Chtimes(p, at, at); err != nil {
			t.Fatal(err)
		}
	}
	day := time.Date(2026, 3, 4, 8, 0, 0, 0, time.UTC)
	last := mark()
	for _, c := range []struct {
		what    string
		do      func()
		changes bool
	}{
		{"settings", func() { write("wj.yaml", "format: 1\n", day) }, true},
		{"a record", func() { write("sites/tap.md", "a", day) }, true},
		{"the same", func() { write("sites/tap.md", "a", day) }, false},
		{"its text", func() { write("sites/tap.md", "ab", day) }, true},
		{"saved anew", func() { write("sites/tap.md", "ab", day.Add(time.Second)) }, true},
		{"git's files", func() { write(".git/index.md", "x", day) }, false},
		{"another file", func() { write("photo.jpg", "x", day) }, false},
		{"gone", func() { _ = os.Remove(filepath.Join(root, "sites/tap.md")) }, true},
	} {
		c.do()
		now := mark()
		if (now != last) != c.changes {
			t.Errorf("%s: changed is %v", c.what, now != last)
		}
		last = now
	}
}
