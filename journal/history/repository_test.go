package history

import (
	"crypto/sha1"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
)

// testRepository is a repository made by the real git in a temporary folder,
// with an identity, dates that advance by an hour with each commit, and no
// configuration but its own.
type testRepository struct {
	t    testing.TB
	dir  string
	hour int
	env  []string
}

func newRepository(t testing.TB, initArgs ...string) *testRepository {
	t.Helper()
	isolate(t)
	dir, err := filepath.EvalSymlinks(t.TempDir())
	if err != nil {
		t.Fatal(err)
	}
	r := &testRepository{t: t, dir: dir}
	r.git(append([]string{"init", "-q", "-b", "main"}, initArgs...)...)
	r.git("config", "user.name", "Ines Tarrow")
	r.git("config", "user.email", "ines@quillmarsh.example")
	r.git("config", "gc.autoDetach", "false")
	return r
}

// isolate keeps the tester's own git configuration and environment out.
func isolate(t testing.TB) {
	t.Helper()
	if _, err := exec.LookPath("git"); err != nil {
		t.Skip("no git program: repositories cannot be built")
	}
	for _, name := range []string{"GIT_DIR", "GIT_WORK_TREE", "GIT_INDEX_FILE", "GIT_AUTHOR_NAME", "GIT_AUTHOR_EMAIL", "GIT_AUTHOR_DATE", "GIT_COMMITTER_NAME", "GIT_COMMITTER_EMAIL", "GIT_COMMITTER_DATE", "EMAIL"} {
		if value, ok := os.LookupEnv(name); ok {
			os.Unsetenv(name)
			t.Cleanup(func() { os.Setenv(name, value) })
		}
	}
	quick := filepath.Join(t.TempDir(), "gitconfig") // what a test writes need not outlive a loss of power
	if err := os.WriteFile(quick, []byte("[core]\n\tfsync = none\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	t.Setenv("HOME", t.TempDir())
	t.Setenv("XDG_CONFIG_HOME", "")
	t.Setenv("GIT_CONFIG_GLOBAL", quick)
	t.Setenv("GIT_CONFIG_NOSYSTEM", "1")
	t.Setenv("GIT_TERMINAL_PROMPT", "0")
}

// git runs the real git in the repository and gives its output, trimmed.
func (r *testRepository) git(args ...string) string {
	r.t.Helper()
	out, err := r.try(args...)
	if err != nil {
		r.t.Fatalf("git %s: %v\n%s", strings.Join(args, " "), err, out)
	}
	return strings.TrimSpace(out)
}

func (r *testRepository) try(args ...string) (string, error) {
	cmd := exec.Command("git", args...)
	cmd.Dir = r.dir
	date := fmt.Sprintf("%d +0200", firstDate+3600*int64(r.hour))
	cmd.Env = append(os.Environ(), "GIT_AUTHOR_DATE="+date, "GIT_COMMITTER_DATE="+date)
	cmd.Env = append(cmd.Env, r.env...)
	out, err := cmd.CombinedOutput()
	return string(out), err
}

// firstDate is 2026-03-04T08:15:00+02:00.
const firstDate = 1772604900

func (r *testRepository) write(name, content string) {
	r.t.Helper()
	full := filepath.Join(r.dir, filepath.FromSlash(name))
	if err := os.MkdirAll(filepath.Dir(full), 0o777); err != nil {
		r.t.Fatal(err)
	}
	if err := os.WriteFile(full, []byte(content), 0o666); err != nil {
		r.t.Fatal(err)
	}
}

// commit stages everything and commits it with the real git, an hour after the
// commit before.
func (r *testRepository) commit(message string) string {
	r.t.Helper()
	r.git("add", "-A")
	r.hour++
	r.git("commit", "-q", "--allow-empty", "-m", message)
	return r.git("rev-parse", "HEAD")
}

// clean fails the test unless git finds the repository sound and the working
// tree unchanged.
func (r *testRepository) clean() {
	r.t.Helper()
	if out := r.git("status", "--porcelain"); out != "" {
		r.t.Errorf("git status --porcelain is not empty:\n%s", out)
	}
	if out, err := r.try("fsck", "--strict"); err != nil {
		r.t.Errorf("git fsck: %v\n%s", err, out)
	}
}

func sha1Sum(b []byte) []byte {
	sum := sha1.Sum(b)
	return sum[:]
}
