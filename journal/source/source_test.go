package source

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"wj/journal"
	"wj/journal/history"
	"wj/journal/journaltest"
	"wj/journal/judge"
)

// The blend is recorded on one day and changed on another; what was known between is seen by
// its date alone, whether there are working files or not.
func TestSourceAtADate(t *testing.T) {
	dir := recorded(t)
	bare := filepath.Join(t.TempDir(), "copy.git")
	if err := os.CopyFS(bare, os.DirFS(filepath.Join(dir, ".git"))); err != nil {
		t.Fatal(err)
	}
	config := filepath.Join(bare, "config")
	text, err := os.ReadFile(config)
	if err == nil {
		err = os.WriteFile(config, []byte(strings.Replace(string(text), "bare = false", "bare = true", 1)), 0o666)
	}
	if err != nil {
		t.Fatal(err)
	}
	write(t, dir, "sessions/2026-06-09-well.md", "279", "281")
	for _, c := range []struct {
		name, dir, at   string
		sulfate         string
		now             string
		committed, back bool
		state           judge.State // a draft where the linter finds errors in it
	}{
		{"working files", dir, "", "281 mg/L", "2026-07-01", false, false, judge.Proposed},
		{"last commit", dir, "HEAD", "279 mg/L", "2026-06-20", true, true, judge.Draft},
		{"a day", dir, "2026-06-15", "278 mg/L", "2026-06-15", true, true, judge.Draft},
		{"a folder below", filepath.Join(dir, "sessions"), "2026-06-15", "278 mg/L", "2026-06-15", true, true, judge.Draft},
		{"bare", bare, "", "279 mg/L", "2026-07-01", true, false, judge.Draft},
		{"bare, a day", bare, "2026-06-15", "278 mg/L", "2026-06-15", true, true, judge.Draft},
	} {
		t.Run(c.name, func(t *testing.T) {
			s, said := reading(c.dir, c.at)
			root, err := s.Root()
			if err != nil {
				t.Fatal(err)
			}
			j, err := s.Load(root, journal.Options{Sessions: true})
			if err != nil {
				t.Fatal(err)
			}
			session, _ := j.Sessions.Get("2026-06-09-well")
			if got := session.Readings[0].First.String(); got != c.sulfate {
				t.Errorf("sulfate is %s, and was %s", got, c.sulfate)
			}
			if got := s.Now().Format(time.DateOnly); got != c.now {
				t.Errorf("it is judged as of %s, and should be as of %s", got, c.now)
			}
			if s.Committed() != c.committed || s.LooksBack() != c.back || len(*said) > 0 != c.back {
				t.Errorf("committed %v, looks back %v, said %q", s.Committed(), s.LooksBack(), *said)
			}
			p := s.ProvenanceOrNone(j, root)
			defer p.Close()
			if p.Line == nil || p.Base == nil || len(p.Working) > 0 != !c.committed {
				t.Errorf("provenance: mainline %t, not committed %v, %s", p.Line != nil, p.Working, p.Unreadable)
			}
			change, _ := j.Changes.Get(journaltest.BlendChange)
			if r := judge.NewChanges(j, s.Facts(j, p)).Change(change); r.State != c.state {
				t.Errorf("the change is %s: %q", r.State, r.Why)
			}
		})
	}
}

func TestSourceRefuses(t *testing.T) {
	dir := recorded(t)
	newer := t.TempDir()
	lay(t, newer, map[string]string{"wj.yaml": "format: 99\n"})
	alone := t.TempDir()
	lay(t, alone, journaltest.Blend())
	for _, c := range []struct{ name, dir, at, text, hint string }{
		{"no journal", t.TempDir(), "", "no journal here", "wj init"},
		{"no history", alone, "HEAD", "no Git repository", "git init"},
		{"before it began", dir, "2020-01-01", "", ""},
		{"a newer format", newer, "", "format 99", "use a newer wj"},
	} {
		s, _ := reading(c.dir, c.at)
		root, err := s.Root()
		if err == nil {
			_, err = s.Load(root, journal.Options{})
		}
		if err == nil || !strings.Contains(err.Error(), c.text) || !strings.Contains(journal.HintOf(err), c.hint) {
			t.Errorf("%s: %v (%s)", c.name, err, journal.HintOf(err))
		}
	}
	s, said := reading(alone, "")
	j, err := s.Load(alone, journal.Options{})
	if err != nil {
		t.Fatal(err)
	}
	p, err := s.ProvenanceIfAny(j, alone)
	if err != nil || p.Line != nil || !strings.Contains(strings.Join(*said, "\n"), "no Git repository") {
		t.Errorf("%v, %+v, %q", err, p, *said)
	}
	p.Close()
}

// reading is a source on 1 July 2026 and what it says.
func reading(dir, at string) (*Source, *[]string) {
	said := new([]string)
	return &Source{Context: context.Background(), Dir: dir, At: at, Reads: true, Now: func() time.Time { return time.Date(2026, 7, 1, 12, 0, 0, 0, time.UTC) },
		Say: func(format string, args ...any) { *said = append(*said, fmt.Sprintf(format, args...)) }}, said
}

// recorded is a repository with the blend, and a correction of its sulfate on 20 June.
func recorded(t *testing.T) string {
	first, then := map[string][]byte{}, map[string][]byte{}
	files := journaltest.Blend()
	for name, text := range files {
		first[name] = []byte(text)
	}
	then["sessions/2026-06-09-well.md"] = []byte(strings.Replace(files["sessions/2026-06-09-well.md"], "278", "279", 1))
	step := func(day int, write map[string][]byte) history.ImportStep {
		return history.ImportStep{When: time.Date(2026, 6, day, 9, 0, 0, 0, time.UTC), Name: "Ines Kaldre", Email: "ines@quillmarsh.example", Message: "Record", Write: write}
	}
	dir := filepath.Join(t.TempDir(), "water")
	switch err := history.Import(context.Background(), dir, []history.ImportStep{step(12, first), step(20, then)}); {
	case errors.Is(err, history.ErrNoGit):
		t.Skip("there is no git program here")
	case err != nil:
		t.Fatal(err)
	}
	return dir
}

func lay(t *testing.T, dir string, files map[string]string) {
	for name, text := range files {
		full := filepath.Join(dir, name)
		if err := errors.Join(os.MkdirAll(filepath.Dir(full), 0o777), os.WriteFile(full, []byte(text), 0o666)); err != nil {
			t.Fatal(err)
		}
	}
}

func write(t *testing.T, dir, name, old, new string) {
	text, err := os.ReadFile(filepath.Join(dir, name))
	if err != nil {
		t.Fatal(err)
	}
	lay(t, dir, map[string]string{name: strings.Replace(string(text), old, new, 1)})
}
