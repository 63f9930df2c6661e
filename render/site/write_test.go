package site

import (
	"os"
	"path"
	"strings"
	"testing"
)

// TestWrite brings a folder up to date, and spares what is not ours.
func TestWrite(t *testing.T) {
	dir := t.TempDir()
	write := func(of string, files map[string]string, want string) {
		t.Helper()
		done, err := Write(dir, of, files)
		got := done.Report()
		if err != nil {
			got = err.Error()
		}
		if !strings.Contains(got, want) {
			t.Errorf("%s, not %s", got, want)
		}
	}
	put := func(name, text string) {
		if err := os.WriteFile(path.Join(dir, name), []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	put("CNAME", "ours")
	write("a", map[string]string{"index.html": "1", "x/a.html": "2", "x/b.html": "3"}, "3 pages: 3 written")
	write("a", map[string]string{"index.html": "1", "x/a.html": "2", "x/b.html": "3"}, "none changed")
	write("b", map[string]string{"index.html": "1"}, "holds the pages of a")
	put("x/b.html", "edited")
	write("a", map[string]string{"index.html": "4", "x/b.html": "3"}, "nothing was written")
	if text, _ := os.ReadFile(path.Join(dir, "index.html")); string(text) != "1" {
		t.Errorf("index.html is %s", text)
	}
	write("a", map[string]string{"index.html": "4"}, "1 pages: 1 written, 1 removed; no longer made, and left since somebody changed it: x/b.html")
	write("a", map[string]string{"index.html": "4", "CNAME": "theirs"}, "nothing was written")
	if text, _ := os.ReadFile(path.Join(dir, "CNAME")); string(text) != "ours" {
		t.Errorf("CNAME is %s", text)
	}
	if err := os.Symlink(path.Join(dir, "CNAME"), path.Join(dir, "find.html")); err == nil {
		write("a", map[string]string{"index.html": "4", "find.html": "5"}, "no plain file")
	}
}
