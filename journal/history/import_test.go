package history

import (
	"context"
	"crypto/sha1"
	"errors"
	"fmt"
	"maps"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"
)

func importAt(day, hour int) time.Time {
	return time.Date(2026, time.June, day, hour, 40, 0, 0, time.FixedZone("", 3*3600))
}

func importStep(day, hour int, message string, write map[string][]byte) ImportStep {
	return ImportStep{When: importAt(day, hour), Name: "Ines Kaldre", Email: "ines@quillmarsh.example", Message: message, Write: write}
}

func file(name, content string) map[string][]byte { return map[string][]byte{name: []byte(content)} }

// imported runs Import and gives the repository for real git to look at.
func imported(t *testing.T, steps []ImportStep) *testRepository {
	t.Helper()
	isolate(t)
	dir := filepath.Join(t.TempDir(), "journal")
	if err := Import(context.Background(), dir, steps); err != nil {
		t.Fatal(err)
	}
	return &testRepository{t: t, dir: dir}
}

func TestImportIsReadByGitAsItWasMeant(t *testing.T) {
	change := importStep(11, 8, "Draft less gypsum", file("changes/less.md", "gypsum: 200 g\n"))
	change.Branch = "change/less-gypsum"
	second := importStep(11, 15, "Hold the calcium\n\nReason: reviewer's remark", file("changes/less.md", "gypsum: 210 g\n"))
	second.Branch = change.Branch
	sign := importStep(12, 9, "Sign", file("signoffs/less-jonas.md", "by: jonas\n"))
	sign.Branch, sign.Name, sign.Email = change.Branch, "Jonas Welk", "jonas@quillmarsh.example"
	merge := importStep(12, 10, "Merge branch 'change/less-gypsum'", nil)
	merge.Merge = change.Branch
	removed := importStep(13, 9, "Take the draft away", nil)
	removed.Delete = []string{"draft with space.md"}
	r := imported(t, []ImportStep{
		importStep(9, 8, "Start\n\nWith a body.", map[string][]byte{"wj.yaml": []byte("format: 1\n"), "draft with space.md": []byte("x"), "sites/ü \"north\".md": {}}),
		change,
		importStep(11, 10, "Test north-well", file("sessions/a.md", "crlf\r\nstays\r\n")),
		second, sign, merge, removed,
	})
	r.clean()
	for _, c := range []struct{ want, got string }{
		{"7", r.git("rev-list", "--count", "HEAD")},
		{"main", r.git("symbolic-ref", "--short", "HEAD")},
		{"2026-06-11T15:40:00+03:00 Ines Kaldre <ines@quillmarsh.example>", r.git("log", "-1", "--format=%aI %an <%ae>", "change/less-gypsum^")},
		{"2026-06-12T09:40:00+03:00 Jonas Welk", r.git("log", "-1", "--format=%cI %cn", "change/less-gypsum")},
		{"reviewer's remark", r.git("log", "-1", "--format=%(trailers:key=Reason,valueonly)", "change/less-gypsum^")},
		{r.git("rev-parse", "main~1^1", "change/less-gypsum"), r.git("rev-parse", "main~1^1", "main~1^2")},
		{"gypsum: 210 g", r.git("show", "main:changes/less.md")},
		{"gypsum: 200 g", r.git("show", "change/less-gypsum~2:changes/less.md")},
		{"Test north-well", r.git("log", "-1", "--format=%s", "main~1^1")},
		{"With a body.", r.git("log", "--reverse", "--format=%b", "--max-parents=0")},
	} {
		if c.got != c.want {
			t.Errorf("git says %q, want %q", c.got, c.want)
		}
	}
	if raw, _ := os.ReadFile(filepath.Join(r.dir, "sessions/a.md")); string(raw) != "crlf\r\nstays\r\n" {
		t.Errorf("a file came out as %q", raw)
	}
	if _, err := os.Stat(filepath.Join(r.dir, "draft with space.md")); !errors.Is(err, os.ErrNotExist) {
		t.Errorf("a deleted file is still there: %v", err)
	}
	if _, err := os.Stat(filepath.Join(r.dir, `sites/ü "north".md`)); err != nil {
		t.Error(err)
	}
}

func TestImportRefuses(t *testing.T) {
	good := importStep(9, 8, "Start", file("wj.yaml", "format: 1\n"))
	with := func(change func(*ImportStep)) []ImportStep {
		s := importStep(10, 8, "Next", file("a.md", "a"))
		change(&s)
		return []ImportStep{good, s}
	}
	branch := importStep(10, 9, "On a branch", file("wj.yaml", "format: 2\n"))
	branch.Branch = "change/a"
	conflict := importStep(10, 11, "Merge", nil)
	conflict.Merge = "change/a"
	for _, c := range []struct {
		name  string
		steps []ImportStep
		want  string
	}{
		{"nothing", nil, "no commit on the main branch"},
		{"path out of the repository", with(func(s *ImportStep) { s.Write = file("../a.md", "") }), "step 2: \"../a.md\" is no path"},
		{"git's own folder", with(func(s *ImportStep) { s.Write = file("x/.GIT/config", "") }), "repository's own folder"},
		{"line break in a path", with(func(s *ImportStep) { s.Write = file("a\nb", "") }), "is no path"},
		{"absolute path", with(func(s *ImportStep) { s.Write = file("/a", "") }), "is no path"},
		{"name that ends the line", with(func(s *ImportStep) { s.Name = "Ines\ncommitter x" }), "is no name of a committer"},
		{"address in brackets", with(func(s *ImportStep) { s.Email = "<a@b>" }), "is no e-mail address"},
		{"branch that git would refuse", with(func(s *ImportStep) { s.Branch = "a..b" }), "is no name of a branch"},
		{"branch that is an option", with(func(s *ImportStep) { s.Branch = "-d" }), "is no name of a branch"},
		{"empty message", with(func(s *ImportStep) { s.Message = " \n" }), "message is empty"},
		{"no date", with(func(s *ImportStep) { s.When = time.Time{} }), "before 1970"},
		{"delete what is not there", with(func(s *ImportStep) { s.Delete = []string{"b.md"} }), "delete b.md: it is not there"},
		{"merge of nothing", with(func(s *ImportStep) { s.Merge = "change/x" }), "no such branch yet"},
		{"folder in place of a file", with(func(s *ImportStep) { s.Write = file("wj.yaml/a.md", "") }), "where the file wj.yaml is"},
		{"both sides changed", []ImportStep{good, branch, importStep(10, 10, "On main", file("wj.yaml", "format: 3\n")), conflict}, "both sides changed wj.yaml"},
	} {
		t.Run(c.name, func(t *testing.T) {
			isolate(t)
			dir := filepath.Join(t.TempDir(), "new")
			err := Import(context.Background(), dir, c.steps)
			if err == nil || !strings.Contains(err.Error(), c.want) {
				t.Errorf("the error is %v, want %q in it", err, c.want)
			}
			if _, err := os.Stat(dir); !errors.Is(err, os.ErrNotExist) {
				t.Errorf("something was left behind: %v", err)
			}
		})
	}
}

func TestImportLeavesAFullFolderAlone(t *testing.T) {
	isolate(t)
	dir := t.TempDir()
	if err := os.WriteFile(filepath.Join(dir, "mine.txt"), []byte("mine"), 0o666); err != nil {
		t.Fatal(err)
	}
	err := Import(context.Background(), dir, []ImportStep{importStep(9, 8, "Start", file("wj.yaml", "format: 1\n"))})
	if err == nil || !strings.Contains(err.Error(), "not empty (it holds mine.txt)") {
		t.Errorf("the error is %v", err)
	}
	if entries, _ := os.ReadDir(dir); len(entries) != 1 {
		t.Errorf("the folder now holds %d files", len(entries))
	}
}

// A hook of another repository may have started the program: its variables
// must not lead git there.
func TestImportStaysInItsFolder(t *testing.T) {
	other := newRepository(t)
	other.write("a.md", "a")
	head := other.commit("Other")
	t.Setenv("GIT_DIR", filepath.Join(other.dir, ".git"))
	t.Setenv("GIT_INDEX_FILE", filepath.Join(other.dir, ".git", "index"))
	dir := filepath.Join(t.TempDir(), "new")
	if err := Import(context.Background(), dir, []ImportStep{importStep(9, 8, "Start", file("wj.yaml", "format: 1\n"))}); err != nil {
		t.Fatal(err)
	}
	os.Unsetenv("GIT_DIR")
	os.Unsetenv("GIT_INDEX_FILE")
	if got := other.git("rev-parse", "HEAD"); got != head {
		t.Errorf("the other repository moved from %s to %s", head, got)
	}
	other.clean()
	if _, err := os.Stat(filepath.Join(dir, "wj.yaml")); err != nil {
		t.Error(err)
	}
}

// Whatever is written, deleted, branched and merged: git's tree of the main
// branch is that of a plain map that was changed in the same way. (Twelve long
// histories by seed rather than a hundred short ones: each needs six processes.)
func TestImportAgreesWithAMap(t *testing.T) {
	isolate(t)
	for seed := range uint64(12) {
		random := rand.New(rand.NewPCG(seed, 1))
		main := map[string]string{"wj.yaml": "format: 1\n"}
		steps := []ImportStep{importStep(1, 0, "Start", file("wj.yaml", "format: 1\n"))}
		onBranch := map[string]string{}
		for i := range 60 {
			name := fmt.Sprintf("m%d/%c %c.md", random.IntN(3), 'a'+random.IntN(8), "x'*#"[random.IntN(4)])
			content := make([]byte, random.IntN(40))
			for k := range content {
				content[k] = byte(random.UintN(256))
			}
			s := importStep(2+i, 1, "Step", file(name, string(content)))
			switch kind := random.IntN(5); {
			case kind == 0:
				s.Branch, s.Write = "change/x", file("b"+name, string(content))
				onBranch["b"+name] = string(content)
			case kind == 1 && len(onBranch) > 0:
				s.Write, s.Merge = nil, "change/x"
				maps.Copy(main, onBranch)
			case kind == 2 && main[name] != "":
				s.Write, s.Delete = nil, []string{name}
				delete(main, name)
			default:
				main[name] = string(content)
			}
			steps = append(steps, s)
		}
		dir := filepath.Join(t.TempDir(), "journal")
		if err := Import(context.Background(), dir, steps); err != nil {
			t.Fatalf("seed %d: %v", seed, err)
		}
		// A blob's name is the SHA-1 of "blob", its length and its content (git's
		// documented object format), so one look at the tree compares all contents.
		var want []string
		for p, c := range main {
			want = append(want, fmt.Sprintf("%x\t%s", sha1.Sum([]byte(fmt.Sprintf("blob %d\x00%s", len(c), c))), p))
		}
		repository := &testRepository{t: t, dir: dir}
		var got []string
		for _, line := range strings.Split(strings.TrimSuffix(repository.git("ls-tree", "-r", "-z", "main"), "\x00"), "\x00") {
			got = append(got, strings.TrimPrefix(line, "100644 blob "))
		}
		slices.Sort(want)
		slices.Sort(got)
		if !slices.Equal(got, want) {
			t.Fatalf("seed %d: git has %q, want %q", seed, got, want)
		}
		repository.clean()
	}
}
