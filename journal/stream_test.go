package journal

import (
	"bytes"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"sync"
	"testing"
	"testing/fstest"

	"wj/journal/frontmatter"
)

// headOf is the head of a session that was read whole.
func headOf(s *Session) *SessionHead {
	return &SessionHead{Site: s.Site, By: s.By, Source: s.Source, Sample: s.Sample, Sampled: s.Sampled, Readings: len(s.Readings), Void: s.Void}
}

// compareHeads reads every session of a journal whole and as a head.
func compareHeads(t *testing.T, fsys fs.FS) (read int) {
	t.Helper()
	j, err := Load(fsys, Options{})
	if err != nil {
		t.Fatal(err)
	}
	var lock sync.Mutex
	want, got := map[string]*SessionHead{}, map[string]*SessionHead{}
	j.EachSession(func(_, _ int, f File, s *Session) {
		lock.Lock()
		defer lock.Unlock()
		if want[f.Path] = nil; s != nil {
			want[f.Path] = headOf(s)
		}
	})
	j.EachSessionHead(func(_, i int, f File, h *SessionHead) {
		lock.Lock()
		defer lock.Unlock()
		if j.SessionFiles()[i] != f {
			t.Errorf("file %d is %s, not %s", i, f.Path, j.SessionFiles()[i].Path)
		}
		if got[f.Path] = nil; h != nil {
			copied := *h
			got[f.Path] = &copied
		}
	})
	for path := range want {
		if !reflect.DeepEqual(want[path], got[path]) {
			t.Errorf("%s: the head is %+v, and the session says %+v", path, got[path], want[path])
		}
	}
	if len(got) != len(want) {
		t.Errorf("%d heads and %d sessions", len(got), len(want))
	}
	return len(got)
}

// A head says what the whole session says, in the canonical form and out of it.
func TestHeadIsOfTheSession(t *testing.T) {
	for _, dir := range []string{"../example-journal", "../testdata/untidy-journal"} {
		if n := compareHeads(t, Dir(dir)); n == 0 {
			t.Errorf("%s has no session", dir)
		}
	}
	canonical := formatPageSession
	odd := map[string]string{
		"canonical":    canonical,
		"crlf":         strings.ReplaceAll(canonical, "\n", "\r\n"),
		"mark":         "\ufeff" + canonical,
		"cyrillic":     strings.Replace(canonical, "by: ines", "by: инес", 1),
		"quoted":       strings.Replace(canonical, "site: north-well", `"site": 'north-well'`, 1),
		"escaped":      strings.Replace(canonical, "site: north-well", `site: "north\x2dwell"`, 1),
		"twice":        strings.Replace(canonical, "by: ines", "by: ines\nby: jonas", 1),
		"twicereading": strings.Replace(canonical, "---\n\n", "readings: {pH: 7}\n---\n\n", 1),
		"alias":        strings.Replace(canonical, "by: ines", "by: &a ines\nrecorded_by: *a", 1),
		"control":      canonical + "\x1b[31m",
		"badfront":     strings.Replace(canonical, "ines", "in\x00es", 1),
		"conflict":     canonical + "<<<<<<< ours\n",
		"unclosed":     strings.Replace(canonical, "---\n\n", "\n\n", 1),
		"list":         "---\nsite: x\nreadings:\n  - pH\n---\n",
		"none":         "no front matter\n",
		"empty":        "",
		"void":         strings.Replace(canonical, "---\n\n", "void: {by: ines, on: 2026-03-05, reason: wrong bottle}\n---\n\n", 1),
		"lab":          strings.Replace(canonical, "by: ines", "source: lab\nsample: duplicate", 1),
		"daylight":     strings.Replace(canonical, "sampled: 2026-03-04T08:15+01:00", "sampled: 2026-03-04", 1),
		"derived":      strings.Replace(canonical, "  pH: ", "  residual_alkalinity: 7\n  nothing: 1\n  pH: ", 1),
		"huge":         canonical + strings.Repeat("x", frontmatter.MaxFile),
	}
	m, dir := fstest.MapFS{}, t.TempDir()
	for name, content := range odd {
		m["sessions/2026/2026-03-04-"+name+".md"] = &fstest.MapFile{Data: []byte(content)}
	}
	m["wj.yaml"] = &fstest.MapFile{Data: []byte("format: 1\n")}
	if err := os.CopyFS(dir, m); err != nil {
		t.Fatal(err)
	}
	for _, fsys := range []fs.FS{m, Dir(dir)} {
		if n := compareHeads(t, fsys); n != len(odd) {
			t.Errorf("%d of %d sessions were read", n, len(odd))
		}
	}
}

// Files read through their folder are the files read by their path, and so are the errors.
func TestReaderOfAFolder(t *testing.T) {
	dir := t.TempDir()
	for _, folder := range []string{"a", "b/c", "a/folder.md"} {
		if err := os.MkdirAll(filepath.Join(dir, folder), 0o755); err != nil {
			t.Fatal(err)
		}
	}
	for name, content := range map[string]string{"a/1.md": "one", "a/2.md": "", "b/c/1.md": strings.Repeat("y", 70<<10), "b/c/2.md": strings.Repeat("z", frontmatter.MaxFile+1), "0.md": "root"} {
		if err := os.WriteFile(filepath.Join(dir, name), []byte(content), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	if err := os.Symlink("1.md", filepath.Join(dir, "a/link.md")); err != nil {
		t.Skip("no symbolic links here")
	}
	r := readerOf(Dir(dir))
	defer r.close()
	for _, name := range []string{"a/1.md", "a/2.md", "b/c/1.md", "a/link.md", "a/none.md", "none/1.md", "b/c/2.md", "a/folder.md", "0.md", "a/1.md"} {
		want, wantErr := readFile(Dir(dir), name, nil)
		got, err := r.read(name, nil)
		if !bytes.Equal(got, want) || fmt.Sprint(err) != fmt.Sprint(wantErr) {
			t.Errorf("%s: %d bytes and %v through the folder, %d bytes and %v by the path", name, len(got), err, len(want), wantErr)
		}
	}
}
