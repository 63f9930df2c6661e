package history

import (
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"wj/journal"
)

func TestDirty(t *testing.T) {
	for _, prefix := range []string{"", "water/"} {
		r := newRepository(t)
		dir := filepath.Join(r.dir, filepath.FromSlash(prefix))
		r.write(prefix+"wj.yaml", "format: 1\n")
		if got := list(t, dir); got != "added wj.yaml" {
			t.Errorf("before the first commit: %q", got)
		}
		for _, name := range []string{"a", "b", "c", "d", "crlf", "stored-crlf"} {
			r.write(prefix+"sites/"+name+".md", name+"\nsecond line\n")
		}
		r.write(prefix+"sites/stored-crlf.md", "x\r\ny\r\n")
		r.write(prefix+"attachments/slip.jpg", "\xff\xd8")
		r.commit("Start")
		if got := list(t, dir); got != "" {
			t.Errorf("clean: %q", got)
		}
		r.write(prefix+"sites/b.md", "changed\n")
		os.Remove(filepath.Join(dir, "sites/c.md"))
		os.Mkdir(filepath.Join(dir, "archive"), 0o777)
		os.Rename(filepath.Join(dir, "sites/d.md"), filepath.Join(dir, "archive/d.md"))
		r.write(prefix+"sites/crlf.md", "crlf\r\nsecond line\r\n")
		r.write(prefix+"sites/stored-crlf.md", "x\ny\n")
		r.write(prefix+"sites/e.md", "new\n")
		r.write(prefix+"attachments/slip.jpg", "\xff\xd9")
		r.write(prefix+"notes.txt", "not a record\n")
		r.write(prefix+".cache/x.md", "hidden\n")
		r.git("add", prefix+"sites/b.md")
		want := "renamed archive/d.md\nmodified attachments/slip.jpg\nmodified sites/b.md\ndeleted sites/c.md\nadded sites/e.md"
		if got := list(t, dir); got != want {
			t.Errorf("got\n%s\nwant\n%s", got, want)
		}
	}
}

func list(t *testing.T, dir string) string {
	t.Helper()
	changes, err := Dirty(dir, nil)
	if err != nil {
		t.Fatal(err)
	}
	var lines []string
	for _, c := range changes {
		lines = append(lines, fmt.Sprintf("%s %s", c.Kind, c.Path))
	}
	// What was read before is not read again, and the answer is the same.
	seen := &Contents{}
	files, err := workingFiles(dir, func(name string) bool { return filepath.Ext(name) == ".md" })
	if err != nil {
		t.Fatal(err)
	}
	for _, name := range files {
		content, err := os.ReadFile(filepath.Join(dir, filepath.FromSlash(name)))
		if err != nil {
			t.Fatal(err)
		}
		seen.Saw(name, content)
	}
	if again, err := Dirty(dir, seen); err != nil || !slices.Equal(again, changes) {
		t.Errorf("with what was seen: %+v, %v, without: %+v", again, err, changes)
	}
	return strings.Join(lines, "\n")
}

func TestDigestEqualsSha256sum(t *testing.T) {
	r := smallJournal(t, "")
	h := open(t, r.dir)
	fsys, err := h.FS(tipOf(t, h, "HEAD~1"))
	if err != nil {
		t.Fatal(err)
	}
	const name = "sites/north-well.md"
	atRevision, err := journal.DigestFile(fsys, name)
	if err != nil {
		t.Fatal(err)
	}
	working, err := journal.DigestFile(os.DirFS(r.dir), name)
	if err != nil || working != atRevision {
		t.Errorf("%s, %s, %v", working, atRevision, err)
	}
	raw, _ := os.ReadFile(filepath.Join(r.dir, name))
	if got := journal.Digest([]byte(strings.ReplaceAll(string(raw), "\n", "\r\n"))); got != working {
		t.Errorf("with CR LF: %s, want %s", got, working)
	}
	// FIPS 180-4 example "abc" (NIST, SHA-256 example values).
	if got := journal.Digest([]byte("abc")); got != "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad" {
		t.Errorf("abc: %s", got)
	}
	if out, err := exec.Command("sha256sum", filepath.Join(r.dir, name)).Output(); err == nil && strings.Fields(string(out))[0] != working {
		t.Errorf("sha256sum: %s, ours %s", out, working)
	}
	if _, err := journal.DigestFile(fsys, "missing.md"); err == nil {
		t.Error("no error for a missing file")
	}
	if names := []string{objectName(blobKind, []byte("abc\n"), sha1Size).String()}; !slices.Equal(names, []string{"8baef1b4abc478178b004d62031cf7fe6db6f903"}) {
		t.Errorf("%v: git hash-object says 8baef1b4abc478178b004d62031cf7fe6db6f903", names)
	}
}
