package history

import (
	"crypto/sha256"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

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
	files, err := workingFiles(dir)
	if err != nil {
		t.Fatal(err)
	}
	for _, name := range files {
		if filepath.Ext(name) != ".md" {
			continue
		}
		content, err := os.ReadFile(filepath.Join(dir, filepath.FromSlash(name)))
		if err != nil {
			t.Fatal(err)
		}
		seen.Saw(name, content)
	}
	if again, err := Dirty(dir, seen); err != nil || !slices.Equal(again, changes) {
		t.Errorf("with what was seen: %+v, %v, without: %+v", again, err, changes)
	}
	h := open(t, dir)
	if again, err := h.DirtyNoted(); err != nil || !slices.Equal(again, changes) {
		t.Errorf("with what the index notes: %+v, %v, without: %+v", again, err, changes)
	}
	return strings.Join(lines, "\n")
}

// TestNoted changes a file without changing its size, at once and later on.
func TestNoted(t *testing.T) {
	r := newRepository(t)
	r.write("wj.yaml", "format: 1\n")
	for _, name := range []string{"a", "b", "c"} {
		r.write("sites/"+name+".md", "one\n")
	}
	r.commit("Start")
	long := time.Now().Add(-time.Hour)
	for _, name := range []string{"a", "b", "c"} {
		os.Chtimes(filepath.Join(r.dir, "sites", name+".md"), long, long)
	}
	r.git("update-index", "--refresh")
	h := open(t, r.dir)
	if seen := h.Noted(); len(seen.number) < 3 {
		t.Errorf("noted %v", seen.number)
	}
	r.write("sites/a.md", "two\n")
	r.write("sites/b.md", "two\n")
	os.Chtimes(filepath.Join(r.dir, "sites", "b.md"), long.Add(time.Millisecond), long.Add(time.Millisecond))
	if got := list(t, r.dir); got != "modified sites/a.md\nmodified sites/b.md" {
		t.Errorf("got %s", got)
	}
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

// TestDirtyAsGitSeesIt: what a checkout made of the files is no change.
func TestDirtyAsGitSeesIt(t *testing.T) { bothWays(t, testDirtyAsGitSeesIt) }

func testDirtyAsGitSeesIt(t *testing.T) {
	dirtyNow := func(dir string) string {
		changes, err := open(t, dir).Dirty(nil)
		if err != nil {
			t.Fatal(err)
		}
		var b strings.Builder
		for _, c := range changes {
			fmt.Fprintf(&b, "%s %s;", c.Kind, c.Path)
		}
		return b.String()
	}
	t.Run("sparse", func(t *testing.T) {
		for _, cone := range []string{"--cone", "--no-cone"} {
			r := smallJournal(t, "")
			r.git("sparse-checkout", "set", cone, "sites")
			if got := dirtyNow(r.dir); got != "" {
				t.Errorf("%s: %s", cone, got)
			}
			os.Remove(filepath.Join(r.dir, "sites", "north-well.md"))
			if got := dirtyNow(r.dir); got != "deleted sites/north-well.md;" {
				t.Errorf("%s, one deleted: %s", cone, got)
			}
		}
	})
	t.Run("lfs", func(t *testing.T) {
		r := smallJournal(t, "")
		content := strings.Repeat("a picture ", 1000)
		sum := sha256.Sum256([]byte(content))
		r.write("sites/well.jpg", fmt.Sprintf("version https://git-lfs.github.com/spec/v1\noid sha256:%x\nsize %d\n", sum, len(content)))
		r.commit("Picture")
		if got := dirtyNow(r.dir); got != "" {
			t.Errorf("the pointer: %s", got)
		}
		r.write("sites/well.jpg", content)
		if got := dirtyNow(r.dir); got != "" {
			t.Errorf("the picture: %s", got)
		}
		r.write("sites/well.jpg", strings.Replace(content, "a", "b", 1))
		if got := dirtyNow(r.dir); got != "modified sites/well.jpg;" {
			t.Errorf("another picture: %s", got)
		}
	})
	t.Run("line ends", func(t *testing.T) {
		r := smallJournal(t, "")
		r.git("config", "core.autocrlf", "true")
		r.git("rm", "-q", "--cached", "-r", ".")
		r.git("reset", "-q", "--hard")
		raw, _ := os.ReadFile(filepath.Join(r.dir, "wj.yaml"))
		if !strings.Contains(string(raw), "\r\n") {
			t.Fatal("this git checks out as committed")
		}
		if got := dirtyNow(r.dir); got != "" {
			t.Errorf("%s", got)
		}
		h := open(t, r.dir)
		if !h.LineEndsAlone(tipOf(t, h, "HEAD"), "wj.yaml", raw) || h.LineEndsAlone(tipOf(t, h, "HEAD"), "wj.yaml", []byte("x\r\n")) {
			t.Error("line ends are not told apart from content")
		}
	})
	t.Run("huge", func(t *testing.T) {
		r := smallJournal(t, "")
		for _, name := range []string{"sites/north-well.md", "sites/new.md"} {
			if err := os.Truncate(filepath.Join(r.dir, "sites", "north-well.md"), 8<<30); err != nil {
				t.Skip("no sparse files here:", err)
			}
			r.write(name, "")
			os.Truncate(filepath.Join(r.dir, filepath.FromSlash(name)), 8<<30)
		}
		if got := dirtyNow(r.dir); got != "added sites/new.md;modified sites/north-well.md;" {
			t.Errorf("%s", got)
		}
	})
}
