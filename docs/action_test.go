package docs_test

import (
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strings"
	"testing"
)

// The action writes one comment, and from then on that one; without the right to
// comment it warns and does not fail.
func TestReviewAction(t *testing.T) {
	bash, err := exec.LookPath("bash")
	if err != nil || runtime.GOOS == "windows" {
		t.Skip("no bash")
	}
	src, err := os.ReadFile("../.github/actions/review/action.yml")
	if err != nil {
		t.Fatal(err)
	}
	_, block, _ := strings.Cut(string(src), "run: |\n")
	dir := t.TempDir()
	program := func(name, text string) {
		if err := os.WriteFile(filepath.Join(dir, name), []byte("#!/bin/sh\n"+text), 0o755); err != nil {
			t.Fatal(err)
		}
	}
	program("wj", `echo "<!-- wj review -->"; echo "$*"; [ -z "$LONG" ] || head -c 70000 /dev/zero | tr "\\0" x`+"\n")
	program("gh", `echo "$*" >> $RUNNER_TEMP/calls; case "$*" in *--paginate*) cat $RUNNER_TEMP/known;; *) exit ${REFUSED:-0};; esac`+"\n")
	run := func(known string, more ...string) (calls, out string) {
		for name, content := range map[string]string{"known": known, "calls": "", "summary": ""} {
			if err := os.WriteFile(filepath.Join(dir, name), []byte(content), 0o644); err != nil {
				t.Fatal(err)
			}
		}
		cmd := exec.Command(bash, "-e", "-o", "pipefail", "-c", strings.ReplaceAll(block, "\n        ", "\n"))
		cmd.Env = append(os.Environ(), append([]string{"PATH=" + dir + ":" + os.Getenv("PATH"), "RUNNER_TEMP=" + dir, "GITHUB_STEP_SUMMARY=" + filepath.Join(dir, "summary"),
			"GITHUB_REPOSITORY=brewery/water", "BASE=main", "NUMBER=7"}, more...)...)
		said, err := cmd.CombinedOutput()
		if err != nil {
			t.Fatalf("%v: %s", err, said)
		}
		got, err := os.ReadFile(filepath.Join(dir, "calls"))
		if err != nil {
			t.Fatal(err)
		}
		return string(got), string(said)
	}
	if calls, _ := run(""); !strings.Contains(calls, "api repos/brewery/water/issues/7/comments --field body=@") {
		t.Errorf("the first time: %s", calls)
	}
	if summary, err := os.ReadFile(filepath.Join(dir, "summary")); err != nil || !strings.Contains(string(summary), "review refs/remotes/origin/main...HEAD --format markdown") {
		t.Errorf("summary: %s, %v", summary, err)
	}
	if calls, _ := run("42\n"); !strings.Contains(calls, "api --method PATCH repos/brewery/water/issues/comments/42 --field body=@") || strings.Contains(calls, "issues/7/comments --field") {
		t.Errorf("the second time: %s", calls)
	}
	if _, said := run("", "REFUSED=1"); !strings.Contains(said, "::warning::") {
		t.Errorf("from a fork: %s", said)
	}
	if calls, _ := run("", "NUMBER="); calls != "" {
		t.Errorf("without a pull request: %s", calls)
	}
	run("", "LONG=1")
	if review, err := os.ReadFile(filepath.Join(dir, "review.md")); err != nil || len(review) > 65000 || !strings.HasPrefix(string(review), "<!-- wj review -->") {
		t.Errorf("a long review has %d letters, %v", len(review), err)
	}
}
