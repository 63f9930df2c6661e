package history

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
)

func TestCommitFilesRecordsExactlyTheContent(t *testing.T) {
	r := newRepository(t)
	put := func(name, content string) map[string][]byte {
		r.write(name, content)
		return map[string][]byte{name: []byte(content)}
	}
	if _, err := CommitFiles(context.Background(), r.dir, put("wj.yaml", "format: 1\n"), "Start", nil); err != nil {
		t.Fatal(err) // a branch that has no commit yet
	}
	r.write("sites/south-well.md", "---\n---\n")
	r.git("add", "sites")
	r.write("wj.yaml", "format: 1\nname: Quillmarsh Brewery\n")
	hash, err := CommitFiles(context.Background(), r.dir, put("sessions/2026/a.md", "---\n---\n"), "Record", []Trailer{{"Key", "value"}})
	if err != nil {
		t.Fatal(err)
	}
	if got := r.git("show", "--format=%H", "--name-status", hash); got != hash+"\n\nA\tsessions/2026/a.md" {
		t.Errorf("committed: %q", got)
	}
	if got, want := r.git("status", "--porcelain"), "A  sites/south-well.md\n M wj.yaml"; got != want {
		t.Errorf("the other changes became:\n%s\nwant\n%s", got, want)
	}
	// A file that changed after it was written is not committed.
	files := put("sessions/2026/b.md", "---\nsite: a\n---\n")
	r.write("sessions/2026/b.md", "---\nsite: b\n---\n")
	if _, err := CommitFiles(context.Background(), r.dir, files, "Record", nil); !errors.Is(err, ErrElsewhere) {
		t.Errorf("err = %v", err)
	}
	if head := r.git("rev-parse", "HEAD"); head != hash {
		t.Error("a changed file was committed")
	}
	if got := r.git("status", "--porcelain", "--", "sessions"); got != "?? sessions/2026/b.md" {
		t.Errorf("status: %q", got)
	}
	// A hook sees the file, and refuses it: nothing is left in the index.
	r.write(".git/hooks/pre-commit", "#!/bin/sh\ngit diff --cached --name-only >hook-saw\nexit 1\n")
	os.Chmod(filepath.Join(r.dir, ".git/hooks/pre-commit"), 0o755)
	if _, err := CommitFiles(context.Background(), r.dir, put("sessions/2026/c.md", "---\n---\n"), "Record", nil); !errors.Is(err, ErrHook) {
		t.Errorf("err = %v", err)
	}
	if saw, _ := os.ReadFile(filepath.Join(r.dir, "hook-saw")); string(saw) != "sessions/2026/c.md\n" {
		t.Errorf("the hook saw %q", saw)
	}
	if got := r.git("status", "--porcelain", "--", "sessions/2026/c.md"); got != "?? sessions/2026/c.md" {
		t.Errorf("status: %q", got)
	}
	if left, _ := filepath.Glob(filepath.Join(r.dir, ".git/index?*")); left != nil {
		t.Errorf("left behind: %s", left)
	}
}

func TestCommitFilesInTurn(t *testing.T) {
	r := newRepository(t)
	r.write("wj.yaml", "format: 1\n")
	r.commit("Start the journal")
	var wait sync.WaitGroup
	for i := range 8 {
		wait.Go(func() {
			name := fmt.Sprintf("sessions/%d.md", i)
			r.write(name, "---\n---\n")
			if _, err := CommitFiles(context.Background(), r.dir, map[string][]byte{name: []byte("---\n---\n")}, "Record", nil); err != nil {
				t.Error(err)
			}
		})
	}
	wait.Wait()
	if got := strings.Count(r.git("ls-tree", "-r", "--name-only", "HEAD"), "sessions/"); got != 8 {
		t.Errorf("%d of 8 files are in HEAD", got)
	}
	r.clean()
}
