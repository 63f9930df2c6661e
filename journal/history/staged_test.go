package history

import (
	"context"
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

// TestReadStaged compares with git's own word: git show :PATH for contents and
// git diff --cached for what differs.
func TestReadStaged(t *testing.T) {
	for _, format := range []string{"sha1", "sha256"} {
		for _, prefix := range []string{"", "water/j"} {
			t.Run(format+" "+prefix, func(t *testing.T) {
				r := newRepository(t, "--object-format="+format)
				at := func(name string) string { return filepath.ToSlash(filepath.Join(prefix, name)) }
				journal := filepath.Join(r.dir, filepath.FromSlash(prefix))
				r.write(at("wj.yaml"), "format: 1\n")
				r.write("outside.md", "not ours\n")
				r.write(at("sites/tücke [x].md"), "one\n")
				r.git("add", "-A")
				s, err := ReadStaged(context.Background(), journal)
				if err != nil {
					t.Fatal(err)
				}
				if prefix != "" && stagedText(s, "outside.md") != "" || !slices.Contains(s.Changed, "wj.yaml") || !slices.Contains(s.Changed, "sites/tücke [x].md") {
					t.Errorf("before the first commit everything is new: %q", s.Changed)
				}
				r.write(at("lots/A.md"), "a\n")
				r.write(at("lots/B.md"), "b\n")
				r.write(at("lots/C.md"), "")
				r.commit("start")
				r.write(at("lots/A.md"), "staged\n")
				r.git("add", "-A")
				r.write(at("lots/A.md"), "staged, then changed\n")
				r.git("rm", "-q", "--cached", at("lots/B.md"))
				r.write(at("lots/announced.md"), "later\n")
				r.git("add", "-N", at("lots/announced.md"))
				if s, err = ReadStaged(context.Background(), journal); err != nil {
					t.Fatal(err)
				}
				want := strings.Split(r.git("-c", "core.quotePath=false", "-C", journal, "diff", "--cached", "--name-only", "--relative", "--no-renames"), "\n")
				if !slices.Equal(s.Changed, want) {
					t.Errorf("changed: %q, git says %q", s.Changed, want)
				}
				seen := 0
				err = fs.WalkDir(s, ".", func(name string, d fs.DirEntry, err error) error {
					if err != nil || d.IsDir() {
						return err
					}
					seen++
					if told := r.git("show", ":"+at(name)); told != strings.TrimSpace(stagedText(s, name)) {
						t.Errorf("%s is %q, git says %q", name, stagedText(s, name), told)
					}
					return nil
				})
				if err != nil || seen < 3 || stagedText(s, "lots/A.md") != "staged\n" || stagedText(s, "lots/B.md") != "" || stagedText(s, "lots/announced.md") != "" {
					t.Errorf("%d files, %v", seen, err)
				}
				s.Close()
			})
		}
	}
}

// stagedText is the content of a staged file, "" where there is none.
func stagedText(s Staged, name string) string {
	src, _ := fs.ReadFile(s, name)
	return string(src)
}

func TestReadStagedRefuses(t *testing.T) {
	r := newRepository(t)
	r.write("wj.yaml", "format: 1\n")
	r.commit("start")
	r.git("checkout", "-q", "-b", "other")
	r.write("wj.yaml", "format: 2\n")
	r.commit("two")
	r.git("checkout", "-q", "main")
	r.write("wj.yaml", "format: 3\n")
	r.commit("three")
	if _, err := r.try("merge", "other"); err == nil {
		t.Fatal("the merge has no conflict")
	}
	if _, err := ReadStaged(context.Background(), r.dir); !errors.Is(err, ErrMidway) {
		t.Errorf("with a conflict: %v", err)
	}
	if _, err := ReadStaged(context.Background(), t.TempDir()); !errors.Is(err, ErrNoRepository) {
		t.Errorf("outside a repository: %v", err)
	}
}

// TestHookFile compares with the place from which git runs a hook.
func TestHookFile(t *testing.T) {
	r := newRepository(t)
	r.write("j/wj.yaml", "format: 1\n")
	r.commit("start")
	linked := filepath.Join(t.TempDir(), "linked")
	r.git("worktree", "add", "-q", linked)
	shared := t.TempDir()
	for _, c := range []struct {
		name, hooks string
		dir         string
		own         bool
	}{
		{"usual", "", filepath.Join(r.dir, "j"), true},
		{"linked working tree", "", linked, true},
		{"in the working tree", ".hooks", r.dir, true},
		{"shared", shared, r.dir, false},
	} {
		_, _ = r.try("config", "--unset-all", "core.hooksPath")
		if c.hooks != "" {
			r.git("config", "core.hooksPath", c.hooks)
		}
		file, own, err := HookFile(context.Background(), c.dir, "pre-commit")
		if err != nil || own != c.own {
			t.Fatalf("%s: %s, own %v, %v", c.name, file, own, err)
		}
		if err := os.MkdirAll(filepath.Dir(file), 0o777); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(file, []byte("#!/bin/sh\necho it ran >&2\nexit 1\n"), 0o777); err != nil {
			t.Fatal(err)
		}
		if out, err := r.try("commit", "--allow-empty", "-m", "x"); err == nil || !strings.Contains(out, "it ran") {
			t.Errorf("%s: git does not run %s: %s", c.name, file, out)
		}
		os.Remove(file)
	}
}
