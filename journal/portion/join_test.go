package portion_test

import (
	"context"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"wj/journal"
	"wj/journal/evidence"
	"wj/journal/history"
	"wj/journal/portion"
)

func join(t *testing.T, into, from, prefix string) (*portion.JoinMade, error) {
	t.Helper()
	h, err := history.Open(into)
	if err != nil {
		t.Fatal(err)
	}
	defer h.Close()
	j, err := journal.Load(journal.Dir(into), journal.Options{Sessions: true})
	if err != nil {
		t.Fatal(err)
	}
	return portion.Join(context.Background(), into, h, j, from, prefix, "ines", day.AddDate(0, 3, 0))
}

// both is a copy of one client's journal to join into, and the other's.
func both(t *testing.T, all string) (into, from string) {
	t.Helper()
	mill, _ := split(t, all, "mill")
	into = filepath.Join(t.TempDir(), "mill")
	if err := os.CopyFS(into, os.DirFS(mill)); err != nil {
		t.Fatal(err)
	}
	from, _ = split(t, all, "tarrow")
	return into, from
}

// TestJoin brings one client's journal into another's.
func TestJoin(t *testing.T) {
	all := clients(t)
	into, from := both(t, all)
	git := func(dir string, args ...string) string {
		t.Helper()
		out, err := exec.Command("git", append([]string{"-C", dir}, args...)...).CombinedOutput()
		if err != nil {
			t.Fatalf("git %v: %v: %s", args, err, out)
		}
		return string(out)
	}
	was := git(into, "rev-parse", "HEAD")
	for _, prefix := range []string{"", "Mill", "2026", "a_b", "-"} {
		if _, err := join(t, into, from, prefix); err == nil {
			t.Errorf("the prefix %q was taken", prefix)
		}
	}
	if _, err := join(t, into, into, "tl"); err == nil {
		t.Error("a journal was joined with itself")
	}
	made, err := join(t, into, from, "tl")
	if err != nil {
		t.Fatal(err)
	}
	if now := git(into, "rev-parse", "HEAD^1"); now != was || strings.TrimSpace(git(into, "status", "--porcelain")) != "" || strings.TrimSpace(git(into, "for-each-ref", "refs/wj")) != "" {
		t.Errorf("%s is no merge on %s, or something is left over", now, was)
	}
	j, err := journal.Load(journal.Dir(into), journal.Options{Check: true, Sessions: true})
	if err != nil || len(j.Problems) > 0 {
		t.Fatalf("%v %v", err, j.Problems)
	}
	there, err := journal.Load(journal.Dir(from), journal.Options{Sessions: true})
	if err != nil {
		t.Fatal(err)
	}
	in := journal.Joined{Prefix: "tl"}
	for _, f := range there.Files {
		if !j.Exists(f.Kind, in.ID(f.ID)) {
			t.Errorf("%s is not there", in.Path(f.Path))
		}
	}
	if s, ok := j.Sessions.Get("2026-03-02-tl-tarrow-bore"); !ok || s.Site != "tl-tarrow-bore" || s.By != "tl-ines" || s.Readings[0].Lot != "tl-SU-1" || s.Amended[0].By != "tl-ines" {
		t.Errorf("%+v", s)
	}
	if c, ok := j.Changes.Get("2026-03-05-tl-bitter"); !ok || c.For != "tl-bitter" || c.Basis[0].Session != "2026-03-02-tl-tarrow-bore" {
		t.Errorf("%+v", c)
	}
	if log := git(into, "log", "--format=%an <%ae>", "--", "sessions/2026/2026-03-03-tl-tarrow-bore.md"); !strings.Contains(log, "Tove <tove@tarrow.example>") {
		t.Errorf("who tested is not in the history: %s", log)
	}
	if p, _ := j.People.Get("tl-ines"); len(p.Email) > 0 || p.Roles[0].Until.IsZero() {
		t.Errorf("ines is there twice: %+v", p)
	}
	if len(made.Same) != 1 || made.Same[0] != "ines" || made.Brought != len(there.Files) {
		t.Errorf("%+v", made)
	}
	if _, err := join(t, into, from, "tl"); err == nil {
		t.Error("it was joined twice under one prefix")
	}
	h, err := history.Open(into)
	if err != nil {
		t.Fatal(err)
	}
	defer h.Close()
	opt := evidence.Options{Now: day.AddDate(0, 9, 0)}
	line, err := evidence.Open(context.Background(), h, opt, j.Settings.Zone, true)
	if err != nil {
		t.Fatal(err)
	}
	report, err := evidence.Verify(context.Background(), j, line, opt, nil)
	if err != nil || report.Outcome() != evidence.Proven {
		t.Errorf("%v: %+v %+v", err, report.Wrong, report.Unknown)
	}
}

// TestJoinThatFails leaves everything as it was.
func TestJoinThatFails(t *testing.T) {
	all := clients(t)
	into, from := both(t, all)
	hook := filepath.Join(into, ".git", "hooks", "pre-commit")
	if err := os.MkdirAll(filepath.Dir(hook), 0o777); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(hook, []byte("#!/bin/sh\nexit 1\n"), 0o777); err != nil {
		t.Fatal(err)
	}
	if _, err := join(t, into, from, "tl"); err == nil {
		t.Fatal("the hook was not asked")
	}
	out, err := exec.Command("git", "-C", into, "status", "--porcelain").CombinedOutput()
	if _, there := os.Stat(filepath.Join(into, "sites", "tl-tarrow-bore.md")); err != nil || len(out) > 0 || there == nil {
		t.Errorf("something is left: %s", out)
	}
}
