package history

import (
	"context"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strings"
	"testing"
	"time"
)

func TestCommitRecordsOnlyTheNamedFiles(t *testing.T) {
	r := newRepository(t)
	r.write("wj.yaml", "format: 1\n")
	r.write("sites/north-well.md", "---\n---\n")
	r.commit("Start the journal")
	// Another staged change, another staged new file and an unstaged change.
	r.write("sites/north-well.md", "---\nstage: intake\n---\n")
	r.write("sites/south-well.md", "---\n---\n")
	r.git("add", "sites")
	r.write("wj.yaml", "format: 1\nname: Quillmarsh Brewery\n")
	r.write("sessions/2026/a.md", "---\n---\n")

	hash, err := Commit(context.Background(), r.dir, []string{"sessions/2026/a.md"}, "Record a session\n\n# not a comment", []Trailer{{"Wj-Record", "a"}, {"Wj-Reason", "two\nlines"}})
	if err != nil {
		t.Fatal(err)
	}
	if head := r.git("rev-parse", "HEAD"); head != hash {
		t.Errorf("hash = %s, HEAD = %s", hash, head)
	}
	if got := r.git("show", "--format=", "--name-status", hash); got != "A\tsessions/2026/a.md" {
		t.Errorf("committed: %q", got)
	}
	if got, want := r.git("log", "-1", "--format=%B"), "Record a session\n\n# not a comment\n\nWj-Record: a\nWj-Reason: two lines"; got != want {
		t.Errorf("message = %q, want %q", got, want)
	}
	// git itself reads the trailers back.
	if got := r.git("log", "-1", "--format=%(trailers:key=Wj-Reason,valueonly)"); got != "two lines" {
		t.Errorf("trailer = %q", got)
	}
	if got, want := r.git("status", "--porcelain"), "M  sites/north-well.md\nA  sites/south-well.md\n M wj.yaml"; got != want {
		t.Errorf("the other changes became:\n%s\nwant\n%s", got, want)
	}
	// Modified and deleted files of a subfolder journal, absolute and relative.
	for _, name := range []string{"north-well.md", filepath.Join(r.dir, "sites", "south-well.md")} {
		if _, err := Commit(context.Background(), filepath.Join(r.dir, "sites"), []string{name}, "Change", nil); err != nil {
			t.Fatal(err)
		}
	}
	os.Remove(filepath.Join(r.dir, "sessions/2026/a.md"))
	if _, err := Commit(context.Background(), r.dir, []string{"sessions/2026/a.md", "wj.yaml"}, "Remove", nil); err != nil {
		t.Fatal(err)
	}
	r.clean()
}

func TestCommitNamesThatLookLikeSomethingElse(t *testing.T) {
	r := newRepository(t)
	names := []string{"-x.md", "--amend.md", ":(top)y.md", "a*b.md", "ažuolas ünï.md", "[x].md"}
	if runtime.GOOS == "windows" {
		names = []string{"-x.md", "--amend.md", "ažuolas ünï.md", "[x].md"}
	}
	r.write("aXb.md", "must stay untracked\n")
	for _, name := range names {
		r.write(name, "x\n")
		if _, err := Commit(context.Background(), r.dir, []string{name}, "-m looks like an option", nil); err != nil {
			t.Errorf("%s: %v", name, err)
		}
	}
	if got := r.git("-c", "core.quotePath=false", "status", "--porcelain"); got != "?? aXb.md" {
		t.Errorf("status = %q", got)
	}
	if got := r.git("rev-list", "--count", "HEAD"); got != fmt.Sprint(len(names)) {
		t.Errorf("%s commits, want %d", got, len(names))
	}
}

func TestCommitRefusals(t *testing.T) {
	commit := func(r *testRepository, names ...string) error {
		ctx, cancel := context.WithTimeout(context.Background(), 30*time.Second)
		defer cancel()
		_, err := Commit(ctx, r.dir, names, "Record", nil)
		return err
	}
	tests := []struct {
		name   string
		reason error
		output string // must appear in the trouble's output
		setUp  func(t *testing.T, r *testRepository)
	}{
		{"no identity", ErrIdentity, "", func(t *testing.T, r *testRepository) {
			r.git("config", "--unset", "user.name")
			r.git("config", "--unset", "user.email")
			r.git("config", "user.useConfigOnly", "true")
		}},
		{"hook says no", ErrHook, "bench book is closed", func(t *testing.T, r *testRepository) {
			r.hook("pre-commit", "printf 'the \\033[31mbench book\\033[0m is closed\\n' >&2; exit 1")
		}},
		{"message hook says no", ErrHook, "no ticket", func(t *testing.T, r *testRepository) {
			r.hook("commit-msg", "echo no ticket; exit 3")
		}},
		{"signing fails", ErrSigning, "", func(t *testing.T, r *testRepository) {
			r.git("config", "commit.gpgSign", "true")
			r.git("config", "gpg.format", "ssh")
			r.git("config", "user.signingKey", filepath.Join(r.dir, "no-such-key"))
		}},
		{"ignored", ErrIgnored, "", func(t *testing.T, r *testRepository) {
			r.write(".gitignore", "new.md\n")
		}},
		{"merge under way", ErrMidway, "", func(t *testing.T, r *testRepository) {
			r.write("old.md", "one\n")
			r.commit("One")
			r.git("checkout", "-q", "-b", "side", "HEAD~1")
			r.write("old.md", "two\n")
			r.commit("Two")
			if _, err := r.try("merge", "main"); err == nil {
				t.Fatal("the merge did not conflict")
			}
		}},
		{"rebase under way", ErrMidway, "", func(t *testing.T, r *testRepository) {
			r.write("old.md", "one\n")
			r.commit("One")
			r.git("checkout", "-q", "-b", "side", "HEAD~1")
			r.write("old.md", "two\n")
			r.commit("Two")
			if _, err := r.try("rebase", "main"); err == nil {
				t.Fatal("the rebase did not conflict")
			}
		}},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			r := newRepository(t)
			r.write("old.md", "old\n")
			r.commit("Start")
			r.write("new.md", "new\n")
			test.setUp(t, r)
			head := r.git("rev-parse", "HEAD")
			err := commit(r, "new.md")
			var trouble *Trouble
			if !errors.Is(err, test.reason) || !errors.As(err, &trouble) {
				t.Fatalf("error = %v (%#v), want %v", err, err, test.reason)
			}
			if !strings.Contains(trouble.Output, test.output) || strings.Contains(trouble.Output, "\x1b") {
				t.Errorf("output = %q", trouble.Output)
			}
			if trouble.Hint == "" {
				t.Error("no hint")
			}
			if r.git("rev-parse", "HEAD") != head {
				t.Error("a commit was made")
			}
			if raw, err := os.ReadFile(filepath.Join(r.dir, "new.md")); err != nil || string(raw) != "new\n" {
				t.Errorf("the file became %q, %v", raw, err)
			}
		})
	}

	r := newRepository(t)
	r.write("old.md", "old\n")
	r.commit("Start")
	if err := commit(r, "old.md"); !errors.Is(err, ErrUnchanged) {
		t.Errorf("unchanged: %v", err)
	}
	for _, names := range [][]string{nil, {"../x.md"}, {"."}, {"/etc/passwd"}, {"missing.md"}} {
		if err := commit(r, names...); err == nil {
			t.Errorf("%q: no error", names)
		}
	}
	isolate(t)
	if _, err := Commit(context.Background(), t.TempDir(), []string{"a.md"}, "x", nil); !errors.Is(err, ErrNoRepository) {
		t.Errorf("no repository: %v", err)
	}
	t.Setenv("PATH", t.TempDir())
	if err := commit(r, "old.md"); !errors.Is(err, ErrNoGit) {
		t.Errorf("no git: %v", err)
	}
}

// hook installs an executable hook script.
func (r *testRepository) hook(name, script string) {
	r.t.Helper()
	if runtime.GOOS == "windows" {
		r.t.Skip("hook scripts need a shell")
	}
	full := filepath.Join(r.dir, ".git", "hooks", name)
	os.MkdirAll(filepath.Dir(full), 0o777)
	if err := os.WriteFile(full, []byte("#!/bin/sh\n"+script+"\n"), 0o777); err != nil {
		r.t.Fatal(err)
	}
}

func TestCommitWaitsForALock(t *testing.T) {
	r := newRepository(t)
	r.write("a.md", "a\n")
	lock := filepath.Join(r.dir, ".git", "index.lock")
	if err := os.WriteFile(lock, nil, 0o666); err != nil {
		t.Fatal(err)
	}
	go func() {
		time.Sleep(150 * time.Millisecond)
		os.Remove(lock)
	}()
	if _, err := Commit(context.Background(), r.dir, []string{"a.md"}, "Record", nil); err != nil {
		t.Fatal(err)
	}
	r.clean()
	// A lock that stays is reported, never removed.
	r.write("a.md", "b\n")
	if err := os.WriteFile(lock, nil, 0o666); err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithTimeout(context.Background(), 200*time.Millisecond)
	defer cancel()
	if _, err := Commit(ctx, r.dir, []string{"a.md"}, "Record", nil); !errors.Is(err, ErrLocked) && !errors.Is(err, context.DeadlineExceeded) {
		t.Errorf("error = %v", err)
	}
	if _, err := os.Stat(lock); err != nil {
		t.Errorf("the foreign lock is gone: %v", err)
	}
	// One that a killed git left long ago is named with its place and age.
	past := time.Now().Add(-3 * time.Hour)
	if err := os.Chtimes(lock, past, past); err != nil {
		t.Fatal(err)
	}
	_, err := Commit(context.Background(), r.dir, []string{"a.md"}, "Record", nil)
	var trouble *Trouble
	if !errors.As(err, &trouble) || trouble.Reason != ErrLocked || !strings.Contains(trouble.Output, "index.lock, 3 h old") || !strings.Contains(trouble.Hint, "git add a.md && git commit") {
		t.Errorf("after the wait: %+v", trouble)
	}
	if got, _ := os.ReadFile(filepath.Join(r.dir, "a.md")); string(got) != "b\n" {
		t.Errorf("the file is %q", got)
	}
	place, err := Find(r.dir)
	if err != nil {
		t.Fatal(err)
	}
	if stale := place.StaleLocks(); len(stale) != 1 || filepath.Base(stale[0].Path) != "index.lock" {
		t.Errorf("stale locks %v", stale)
	}
	if err := os.Remove(lock); err != nil {
		t.Fatal(err)
	}
	r.git("add", "a.md")
	r.git("commit", "-q", "-m", "Later")
	r.clean()
}

// TestOwner needs a user who may give files away.
func TestOwner(t *testing.T) {
	if os.Geteuid() != 0 {
		t.Skip("only root can give a repository to another user")
	}
	r := newRepository(t)
	r.write("a.md", "a\n")
	r.commit("Start")
	r.write("a.md", "b\n")
	for _, name := range []string{r.dir, filepath.Join(r.dir, ".git")} {
		if err := os.Chown(name, 12345, -1); err != nil {
			t.Skip(err)
		}
	}
	place, err := Find(r.dir)
	if err != nil || len(place.Limits) != 1 || place.Limits[0].Name != "owner" || place.Unreadable() != nil {
		t.Errorf("place %+v, %v", place, err)
	}
	if _, err := Commit(context.Background(), r.dir, []string{"a.md"}, "Record", nil); !errors.Is(err, ErrForeignOwner) {
		t.Errorf("commit: %v", err)
	}
	global := filepath.Join(t.TempDir(), "config")
	for value, want := range map[string]int{r.dir: 0, filepath.Dir(r.dir) + "/*": 0, "*": 0, "/elsewhere": 1, r.dir + "\n\tdirectory =": 1} {
		os.WriteFile(global, []byte("[safe]\n\tdirectory = "+value+"\n"), 0o666)
		t.Setenv("GIT_CONFIG_GLOBAL", global)
		if place, err := Find(r.dir); err != nil || len(place.Limits) != want {
			t.Errorf("safe.directory = %s: %+v, %v", value, place.Limits, err)
		}
	}
	os.WriteFile(global, []byte("[safe]\n\tdirectory = "+r.dir+"\n"), 0o666)
	if _, err := Commit(context.Background(), r.dir, []string{"a.md"}, "Record", nil); err != nil {
		t.Errorf("commit in a safe directory: %v", err)
	}
}

func TestCommitSurvivesAHookThatLeavesAProgram(t *testing.T) {
	defer func(d time.Duration) { killDelay = d }(killDelay)
	killDelay = 200 * time.Millisecond
	r := newRepository(t)
	r.write("a.md", "a\n")
	r.hook("post-commit", "sleep 20 &")
	start := time.Now()
	hash, err := Commit(context.Background(), r.dir, []string{"a.md"}, "Record", nil)
	if err != nil || hash != r.git("rev-parse", "HEAD") || time.Since(start) > 15*time.Second {
		t.Errorf("%s, %v after %v", hash, err, time.Since(start))
	}
}

// TestMain lets the test binary act as one of several recording programs.
func TestMain(m *testing.M) {
	if dir := os.Getenv("HISTORY_TEST_RECORD_IN"); dir != "" {
		os.Exit(recordMany(dir, os.Getenv("HISTORY_TEST_RECORD_AS"), os.Getenv("HISTORY_TEST_RECORD_COUNT")))
	}
	os.Exit(m.Run())
}

func recordMany(dir, who, count string) int {
	var n int
	fmt.Sscan(count, &n)
	for i := range n {
		name := fmt.Sprintf("sessions/2026/2026-03-%02d-%s-%d.md", i%28+1, who, i)
		full := filepath.Join(dir, filepath.FromSlash(name))
		os.MkdirAll(filepath.Dir(full), 0o777)
		if err := os.WriteFile(full, []byte("---\nby: "+who+"\n---\n"), 0o666); err != nil {
			fmt.Fprintln(os.Stderr, err)
			return 1
		}
		hash, err := Commit(context.Background(), dir, []string{name}, "Record "+name, nil)
		if err != nil {
			var trouble *Trouble
			errors.As(err, &trouble)
			fmt.Fprintf(os.Stderr, "%v %#v\n", err, trouble)
			return 1
		}
		fmt.Println(hash, name)
	}
	return 0
}

func TestEightProgramsRecordAtOnce(t *testing.T) {
	programs, each := 8, 25
	if testing.Short() {
		programs, each = 4, 8
	}
	r := newRepository(t)
	outputs := make([]strings.Builder, programs)
	var running []*exec.Cmd
	for i := range programs {
		cmd := exec.Command(os.Args[0])
		cmd.Env = append(os.Environ(), "HISTORY_TEST_RECORD_IN="+r.dir, fmt.Sprintf("HISTORY_TEST_RECORD_AS=p%d", i), fmt.Sprintf("HISTORY_TEST_RECORD_COUNT=%d", each))
		cmd.Stdout, cmd.Stderr = &outputs[i], &outputs[i]
		if err := cmd.Start(); err != nil {
			t.Fatal(err)
		}
		running = append(running, cmd)
	}
	for i, cmd := range running {
		if err := cmd.Wait(); err != nil {
			t.Errorf("program %d: %v\n%s", i, err, outputs[i].String())
		}
	}
	if got := r.git("rev-list", "--count", "HEAD"); got != fmt.Sprint(programs*each) {
		t.Errorf("%s commits, want %d", got, programs*each)
	}
	// Each program was told the hash of its own commit, not of a neighbour's.
	brought := map[string]string{}
	for block := range strings.SplitSeq(r.git("log", "--format=%x00%H", "--name-only"), "\x00") {
		if f := strings.Fields(block); len(f) == 2 {
			brought[f[0]] = f[1]
		}
	}
	for i := range outputs {
		for line := range strings.Lines(outputs[i].String()) {
			if f := strings.Fields(line); len(f) == 2 && brought[f[0]] != f[1] {
				t.Errorf("program %d was told %s for %s, which brought %q", i, f[0], f[1], brought[f[0]])
			}
		}
	}
	if len(brought) != programs*each {
		t.Errorf("%d commits bring one file each, want %d", len(brought), programs*each)
	}
	r.clean()
}
