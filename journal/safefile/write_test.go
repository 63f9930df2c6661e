package safefile

import (
	"bytes"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"
)

const (
	environmentStep = "WJ_TEST_KILL_AT"
	environmentPath = "WJ_TEST_PATH"
	environmentNew  = "WJ_TEST_CREATE"
)

var oldContent = bytes.Repeat([]byte("old reading\n"), 1000)
var newContent = bytes.Repeat([]byte("new reading, amended\n"), 1500)

// TestMain is also the child that is killed in the middle of a write.
func TestMain(m *testing.M) {
	if at := os.Getenv(environmentStep); at != "" {
		hook = func(s step) error {
			if string(s) == at {
				p, _ := os.FindProcess(os.Getpid())
				p.Kill()
				select {}
			}
			return nil
		}
		old := oldContent
		if os.Getenv(environmentNew) != "" {
			old = nil
		}
		if err := Write(os.Getenv(environmentPath), old, newContent); err != nil {
			fmt.Fprintln(os.Stderr, err)
			os.Exit(3)
		}
		os.Exit(0)
	}
	os.Exit(m.Run())
}

// names lists what is in folder.
func names(t *testing.T, folder string) (list []string) {
	t.Helper()
	entries, err := os.ReadDir(folder)
	if err != nil {
		t.Fatal(err)
	}
	for _, e := range entries {
		list = append(list, e.Name())
	}
	return list
}

// A process that the kernel kills at any step leaves the old bytes or the new ones.
func TestKilledAtEachStep(t *testing.T) {
	for _, create := range []bool{false, true} {
		for _, at := range steps {
			t.Run(fmt.Sprintf("create=%v/%s", create, at), func(t *testing.T) {
				folder := t.TempDir()
				path := filepath.Join(folder, "a.md")
				if !create {
					if err := os.WriteFile(path, oldContent, 0o640); err != nil {
						t.Fatal(err)
					}
				}
				command := exec.Command(os.Args[0])
				command.Env = append(os.Environ(), environmentStep+"="+string(at), environmentPath+"="+path)
				if create {
					command.Env = append(command.Env, environmentNew+"=1")
				}
				out, err := command.CombinedOutput()
				var exit *exec.ExitError
				if !errors.As(err, &exit) || exit.ExitCode() != -1 {
					t.Fatalf("the child was not killed: %v %s", err, out)
				}
				placed := at == stepFolder || at == stepDone
				got, err := os.ReadFile(path)
				switch {
				case placed && !bytes.Equal(got, newContent):
					t.Fatalf("%d bytes are not the new content: %v", len(got), err)
				case !placed && create && !errors.Is(err, os.ErrNotExist):
					t.Fatalf("a file of %d bytes appeared: %v", len(got), err)
				case !placed && !create && !bytes.Equal(got, oldContent):
					t.Fatalf("%d bytes are not the old content: %v", len(got), err)
				}
				for _, name := range names(t, folder) {
					if name != "a.md" && !strings.HasPrefix(name, TempPrefix) {
						t.Errorf("%s was left behind", name)
					}
				}
				old := oldContent
				if placed {
					old = newContent
				} else if create {
					old = nil
				}
				if err := Write(path, old, []byte("later\n")); err != nil {
					t.Errorf("the next write fails: %v", err)
				}
			})
		}
	}
}

// A step that reports an error leaves the old bytes and nothing else.
func TestErrorAtEachStep(t *testing.T) {
	defer func(before func(step) error) { hook = before }(hook)
	broken := errors.New("no such luck")
	for _, at := range steps {
		folder := t.TempDir()
		path := filepath.Join(folder, "a.md")
		if err := os.WriteFile(path, oldContent, 0o640); err != nil {
			t.Fatal(err)
		}
		hook = func(s step) error {
			if s == at {
				return broken
			}
			return nil
		}
		if err := Write(path, oldContent, newContent); !errors.Is(err, broken) {
			t.Errorf("%s: %v", at, err)
		}
		want := oldContent
		if at == stepFolder || at == stepDone {
			want = newContent
		}
		if got, _ := os.ReadFile(path); !bytes.Equal(got, want) {
			t.Errorf("%s: %d bytes", at, len(got))
		}
		if list := names(t, folder); !slices.Equal(list, []string{"a.md"}) {
			t.Errorf("%s: left behind %q", at, list)
		}
	}
}

func TestWrite(t *testing.T) {
	folder := t.TempDir()
	path := filepath.Join(folder, "sessions", "2026", "a.md")
	if err := Write(path, nil, []byte("one\n")); err != nil {
		t.Fatal(err)
	}
	if err := Write(path, nil, []byte("two\n")); !errors.Is(err, ErrExists) {
		t.Errorf("creating again: %v", err)
	}
	if err := Write(path, []byte("ane\n"), []byte("two\n")); !errors.Is(err, ErrChanged) {
		t.Errorf("writing over other bytes: %v", err)
	}
	if err := Write(path, []byte{}, []byte("two\n")); !errors.Is(err, ErrChanged) {
		t.Errorf("writing over what should be an empty file: %v", err)
	}
	if err := os.Chmod(path, 0o604); err != nil {
		t.Fatal(err)
	}
	if err := Write(path, []byte("one\n"), []byte("two\n")); err != nil {
		t.Fatal(err)
	}
	if info, _ := os.Stat(path); info.Mode().Perm() != 0o604 {
		t.Errorf("mode is %v", info.Mode())
	}
	if got, _ := os.ReadFile(path); string(got) != "two\n" {
		t.Errorf("content is %q", got)
	}
	if err := os.Chmod(path, 0o444); err != nil {
		t.Fatal(err)
	}
	if err := Write(path, []byte("two\n"), []byte("three\n")); err == nil || !strings.Contains(err.Error(), "read-only") {
		t.Errorf("read-only file: %v", err)
	}
	if err := Write(filepath.Join(folder, "gone.md"), []byte("x"), nil); !errors.Is(err, ErrChanged) {
		t.Errorf("file that is gone: %v", err)
	}
	if err := Write(folder, []byte("x"), nil); err == nil {
		t.Error("a folder was written over")
	}
	if list := names(t, filepath.Dir(path)); len(list) != 1 {
		t.Errorf("left behind: %q", list)
	}
}

func TestSymbolicLinks(t *testing.T) {
	folder := t.TempDir()
	outside := filepath.Join(t.TempDir(), "outside.md")
	if err := os.WriteFile(outside, []byte("x\n"), 0o644); err != nil {
		t.Fatal(err)
	}
	for name, target := range map[string]string{"link.md": outside, "dangling.md": outside + ".none"} {
		link := filepath.Join(folder, name)
		if err := os.Symlink(target, link); err != nil {
			t.Skip("no symbolic links here:", err)
		}
		if err := Write(link, []byte("x\n"), []byte("y\n")); err == nil {
			t.Errorf("%s was written through or over", name)
		}
		if err := Write(link, nil, []byte("y\n")); !errors.Is(err, ErrExists) {
			t.Errorf("creating over %s: %v", name, err)
		}
	}
	if got, _ := os.ReadFile(outside); string(got) != "x\n" {
		t.Errorf("the file outside is %q", got)
	}
	if _, err := os.Stat(outside + ".none"); err == nil {
		t.Error("a file was made through a dangling link")
	}
}

// The file changes after the first comparison and before the second.
func TestChangedMeanwhile(t *testing.T) {
	defer func(before func(step) error) { hook = before }(hook)
	path := filepath.Join(t.TempDir(), "a.md")
	if err := os.WriteFile(path, []byte("old\n"), 0o644); err != nil {
		t.Fatal(err)
	}
	hook = func(s step) error {
		if s == stepCompare {
			return os.WriteFile(path, []byte("odd\n"), 0o644)
		}
		return nil
	}
	if err := Write(path, []byte("old\n"), []byte("new\n")); !errors.Is(err, ErrChanged) {
		t.Errorf("got %v", err)
	}
	if got, _ := os.ReadFile(path); string(got) != "odd\n" {
		t.Errorf("the other's bytes are gone: %q", got)
	}
}

func TestOneCreatorWins(t *testing.T) {
	path := filepath.Join(t.TempDir(), "a.md")
	var won, lost atomic.Int32
	var group sync.WaitGroup
	for i := range 16 {
		group.Go(func() {
			switch err := Write(path, nil, fmt.Appendf(nil, "%d\n", i)); {
			case err == nil:
				won.Add(1)
			case errors.Is(err, ErrExists):
				lost.Add(1)
			default:
				t.Error(err)
			}
		})
	}
	group.Wait()
	if won.Load() != 1 || lost.Load() != 15 {
		t.Errorf("%d won, %d lost", won.Load(), lost.Load())
	}
}

// What a crash left an hour ago is taken away; what a writer may be working on, and what
// only looks alike, stays.
func TestClean(t *testing.T) {
	folder := t.TempDir()
	old := time.Now().Add(-2 * oldTemp)
	for name, when := range map[string]time.Time{TempPrefix + "old": old, TempPrefix + "new": time.Now(), "a.md": old} {
		path := filepath.Join(folder, name)
		if err := errors.Join(os.WriteFile(path, nil, 0o644), os.Chtimes(path, when, when)); err != nil {
			t.Fatal(err)
		}
	}
	if err := os.Mkdir(filepath.Join(folder, TempPrefix+"folder"), 0o755); err != nil {
		t.Fatal(err)
	}
	Clean(folder)
	left, _ := filepath.Glob(filepath.Join(folder, "*"))
	if len(left) != 3 {
		t.Errorf("left: %q", left)
	}
	if _, err := os.Lstat(filepath.Join(folder, TempPrefix+"old")); !errors.Is(err, fs.ErrNotExist) {
		t.Error("what a crash left is there")
	}
}
