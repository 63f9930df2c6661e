package history

import (
	"context"
	"errors"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
)

// TestOtherKinds reads repositories that only the git program can: with SHA-256
// names, and with references as reftable where git is new enough to make one.
// The same files committed in the ordinary kind must give the same answers but
// for the names. NEWER_GIT names a git program for those that the installed one
// is too old for.
func TestOtherKinds(t *testing.T) {
	for _, kind := range []struct{ name, args string }{
		{"sha256", "--object-format=sha256"},
		{"reftable", "--ref-format=reftable"},
		{"sha256 and reftable", "--object-format=sha256 --ref-format=reftable"},
	} {
		t.Run(kind.name, func(t *testing.T) {
			if program := os.Getenv("NEWER_GIT"); program != "" {
				t.Setenv("PATH", filepath.Dir(program)+string(os.PathListSeparator)+os.Getenv("PATH"))
			}
			probe := exec.Command("git", append(append([]string{"init", "-q"}, strings.Fields(kind.args)...), filepath.Join(t.TempDir(), "x"))...)
			if out, err := probe.CombinedOutput(); err != nil {
				t.Skipf("this git makes no such repository: %s", out)
			}
			r := newRepository(t, strings.Fields(kind.args)...)
			r.write("wj.yaml", "format: 1\n")
			r.write("sites/north-well.md", "---\nstage: intake\n---\n")
			first := r.commit("Begin")
			r.write("sites/north-well.md", "---\nstage: mash\n---\n")
			second := r.commit("Change")
			r.git("tag", "-a", "-m", "seen", "seen", first)
			linked := filepath.Join(t.TempDir(), "linked")
			r.git("worktree", "add", "-q", "-b", "review", linked, "HEAD~1")
			for dir, want := range map[string]string{r.dir: second, linked: first} {
				h := open(t, dir)
				head, err := h.Head()
				if err != nil || head.Hash.String() != want {
					t.Fatalf("HEAD %s, %v; want %s", head.Hash, err, want)
				}
				n := 0
				if _, err := h.Walk(context.Background(), head.Hash, WalkOptions{}, func(s Step) error { n += len(s.Changes); return nil }); err != nil || n == 0 {
					t.Errorf("walk: %d changes, %v", n, err)
				}
				changes, err := Dirty(dir, nil)
				if err != nil || len(changes) != 0 {
					t.Errorf("dirty: %v, %v", changes, err)
				}
				seen := NewContents(dir)
				raw, _ := os.ReadFile(filepath.Join(dir, "wj.yaml"))
				seen.Saw("wj.yaml", raw)
				if changes, err := Dirty(dir, seen); err != nil || len(changes) != 0 {
					t.Errorf("dirty with what was seen: %v, %v", changes, err)
				}
				checkFS(t, r, dir, want)
			}
			h := open(t, r.dir)
			for rev, want := range map[string]string{"main": second, "seen": first, "review": first, "HEAD~1": first, second[:9]: second, second: second} {
				if got, err := h.Resolve(rev, nil); err != nil || got.Hash.String() != want {
					t.Errorf("%s is %s, %v; want %s", rev, got.Hash, err, want)
				}
			}
			versions, _, err := h.FileLog(context.Background(), tipOf(t, h, "HEAD"), "sites/north-well.md")
			if err != nil || len(versions) != 2 || versions[0].Before[0] != versions[1].Blob {
				t.Errorf("log %v, %v", versions, err)
			}
			if tags, err := h.Tags(); err != nil || len(tags) != 1 || tags[0].Commit.String() != first {
				t.Errorf("tags %v, %v", tags, err)
			}
			r.write("sites/north-well.md", "---\nstage: liquor\n---\n")
			if changes, err := Dirty(r.dir, nil); err != nil || len(changes) != 1 || changes[0].Kind != Modified {
				t.Errorf("dirty: %v, %v", changes, err)
			}
			r.git("add", "-A")
			if staged, err := ReadStaged(context.Background(), r.dir); err != nil || len(staged.Changed) != 1 || stagedText(staged, "sites/north-well.md") != "---\nstage: liquor\n---\n" {
				t.Errorf("staged %v, %v", staged.Changed, err)
			}
			if hash, err := Commit(context.Background(), r.dir, []string{"sites/north-well.md"}, "Record", nil); err != nil || hash != r.git("rev-parse", "HEAD") {
				t.Errorf("commit %s, %v", hash, err)
			}
			TrustNothing()
			defer untrusted.Store(false)
			var trouble *Trouble
			if _, err := Open(r.dir); !errors.Is(err, ErrUnsupported) || !errors.As(err, &trouble) || !strings.Contains(trouble.Hint, "--untrusted") {
				t.Errorf("without git: %v", err)
			}
		})
	}
}
