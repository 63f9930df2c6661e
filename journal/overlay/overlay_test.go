package overlay

import (
	"bytes"
	"errors"
	"io/fs"
	"testing"
	"testing/fstest"

	"wj/journal/frontmatter"
)

var below = fstest.MapFS{
	"wj.yaml":                {Data: []byte("format: 1\n")},
	"sites/well.md":          {Data: []byte("saved")},
	"sessions/2026/one.md":   {Data: []byte("one")},
	"attachments/deep/s.jpg": {Data: []byte("x")},
}

// TestFS has the standard library judge the file system (testing/fstest), with
// a folder below and without one.
func TestFS(t *testing.T) {
	files := map[string][]byte{"sites/well.md": []byte("typed"), "sessions/2026/two.md": []byte("two"), "lots/new/SU-1.md": nil}
	if err := fstest.TestFS(New(nil, files), "sites/well.md", "sessions/2026/two.md", "lots/new/SU-1.md"); err != nil {
		t.Error(err)
	}
	f := New(below, files)
	if err := fstest.TestFS(f, "wj.yaml", "sites/well.md", "sessions/2026/one.md", "sessions/2026/two.md", "lots/new/SU-1.md", "attachments/deep/s.jpg"); err != nil {
		t.Error(err)
	}
	if src, err := fs.ReadFile(f, "sites/well.md"); err != nil || string(src) != "typed" {
		t.Errorf("what is laid over does not win: %q, %v", src, err)
	}
}

func TestReadInto(t *testing.T) {
	f := New(below, map[string][]byte{"sites/well.md": []byte("typed"), "big.md": bytes.Repeat([]byte("x"), frontmatter.MaxFile+1)})
	for name, want := range map[string]string{"sites/well.md": "typed", "sessions/2026/one.md": "one"} {
		src, err := f.ReadInto(name, make([]byte, 3, 8))
		if err != nil || string(src) != want {
			t.Errorf("%s: %q, %v", name, src, err)
		}
	}
	for _, name := range []string{"big.md", "sites", "sites/none.md"} {
		if _, err := f.ReadInto(name, nil); err == nil {
			t.Errorf("%s was read", name)
		}
	}
	if _, err := f.Open("../x"); !errors.Is(err, fs.ErrInvalid) {
		t.Errorf("a path out of the folder: %v", err)
	}
}
