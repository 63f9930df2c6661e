package history

import (
	"bufio"
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"testing/fstest"
	"time"
)

// smallJournal makes eight commits with records that change, move and go.
func smallJournal(t testing.TB, prefix string) *testRepository {
	r := newRepository(t)
	r.write(prefix+"wj.yaml", "format: 1\n")
	r.write(prefix+"sites/north-well.md", "---\nstage: intake\n---\n"+strings.Repeat("Behind the maltings.\n", 40))
	r.commit("Start the journal")
	for i := range 5 {
		r.write(fmt.Sprintf("%ssessions/2026/2026-03-%02d-north-well.md", prefix, i+4), fmt.Sprintf("---\nsite: north-well\nreadings:\n  pH: 7.4%d\n---\n%s", i, strings.Repeat("Clear, no smell.\n", 30)))
		r.write(prefix+"sites/north-well.md", "---\nstage: intake\n---\n"+strings.Repeat("Behind the maltings.\n", 40+i))
		r.commit(fmt.Sprintf("Record session %d", i))
	}
	r.write("unrelated.txt", "not the journal's\n")
	r.commit("Something else\n\nWj-Reason: none\n  at all\nWj-Record: x")
	return r
}

func open(t testing.TB, dir string) *History {
	t.Helper()
	h, err := Open(dir)
	if err != nil {
		t.Fatal(err)
	}
	if testInProcess {
		h.Close()
		h = with(h.place, newGoStore(h.place, h.shallow), h.shallow)
	}
	t.Cleanup(func() { h.Close() })
	return h
}

// testInProcess makes open read by go-git, not by the git program.
var testInProcess bool

// bothWays runs a test once for each store.
func bothWays(t *testing.T, test func(t *testing.T)) {
	for _, way := range []string{"git", "go-git"} {
		t.Run(way, func(t *testing.T) {
			testInProcess = way == "go-git"
			defer func() { testInProcess = false }()
			test(t)
		})
	}
}

// TestObjectsEqualGit reads every object of a repository, loose and packed with
// deltas, and compares with git cat-file --batch.
func TestObjectsEqualGit(t *testing.T) { bothWays(t, testObjectsEqualGit) }

func testObjectsEqualGit(t *testing.T) {
	r := smallJournal(t, "")
	for _, packed := range []string{"loose", "packed", "both"} {
		switch packed {
		case "packed":
			r.git("gc", "-q", "--aggressive")
			if out := r.git("count-objects", "-v"); !strings.Contains(out, "count: 0\n") {
				t.Fatalf("still loose: %s", out)
			}
			idx, _ := filepath.Glob(filepath.Join(r.dir, ".git/objects/pack/*.idx"))
			if out := r.git("verify-pack", "-v", idx[0]); !strings.Contains(out, "chain length = 2") {
				t.Fatalf("the pack has no chains of deltas:\n%s", out)
			}
		case "both":
			r.write("sites/north-well.md", "changed\n")
			r.commit("Change")
		}
		h := open(t, r.dir)
		cmd := exec.Command("git", "cat-file", "--batch-all-objects", "--batch")
		cmd.Dir = r.dir
		out, err := cmd.Output()
		if err != nil {
			t.Fatal(err)
		}
		in := bufio.NewReader(bytes.NewReader(out))
		n := 0
		for {
			var name, word string
			var size int
			if _, err := fmt.Fscanf(in, "%s %s %d\n", &name, &word, &size); err != nil {
				break
			}
			want := make([]byte, size+1)
			if _, err := io.ReadFull(in, want); err != nil {
				t.Fatal(err)
			}
			hash, _ := ParseHash(name)
			k, got, err := h.store.object(hash, maxObject)
			if err != nil || k != kind(word) || !bytes.Equal(got, want[:size]) {
				t.Errorf("%s: object %s: kind %s, %d bytes, %v; git: %s, %d bytes", packed, name, k, len(got), err, word, size)
			}
			n++
		}
		if n < 30 {
			t.Errorf("%s: only %d objects compared", packed, n)
		}
		if _, _, err := h.store.object(hashOf([]byte("12345678901234567890")), maxObject); !errors.Is(err, ErrMissing) {
			t.Errorf("%s: missing object: %v", packed, err)
		}
	}
}

func TestResolveEqualsGit(t *testing.T) { bothWays(t, testResolveEqualsGit) }

func testResolveEqualsGit(t *testing.T) {
	r := smallJournal(t, "")
	r.git("tag", "-a", "-m", "audited", "audit-2026", "HEAD~2")
	r.git("tag", "light", "HEAD~3")
	r.git("branch", "feature/gypsum", "HEAD~1")
	r.git("checkout", "-q", "-b", "side", "HEAD~2")
	r.write("x.md", "x")
	r.commit("On the side")
	r.git("checkout", "-q", "main")
	r.hour++
	r.git("merge", "-q", "--no-edit", "side")
	r.git("update-ref", "refs/remotes/origin/main", "HEAD~1")
	r.git("symbolic-ref", "refs/remotes/origin/HEAD", "refs/remotes/origin/main")
	head := r.git("rev-parse", "HEAD")
	revs := []string{"HEAD", "@", "HEAD~3", "HEAD^", "HEAD^2", "HEAD^2~1", "HEAD~1^1~1", "HEAD^0", "@~", "@^^", "main", "refs/heads/main", "heads/main",
		"audit-2026", "audit-2026^{commit}", "audit-2026~1", "light", "feature/gypsum", "origin/main", "origin", head, head[:7], head[:9] + "~1", strings.ToUpper(head), r.git("rev-parse", "audit-2026")}
	for _, packed := range []bool{false, true} {
		if packed {
			r.git("gc", "-q")
		}
		h := open(t, r.dir)
		for _, rev := range revs {
			want := r.git("rev-parse", "--verify", "--end-of-options", rev+"^{commit}")
			got, err := h.Resolve(rev, nil)
			if err != nil || got.Hash.String() != want {
				t.Errorf("packed %v: Resolve(%q) = %v, %v; git: %s", packed, rev, got.Hash, err, want)
			}
			format := r.git("show", "-s", "--format=%T|%P|%an|%ae|%aI|%cn|%ce|%cI|%s", want)
			var parents []string
			for _, p := range got.Parents {
				parents = append(parents, p.String())
			}
			ours := strings.Join([]string{got.Tree.String(), strings.Join(parents, " "), got.Author.Name, got.Author.Email, got.Author.When.Format(time.RFC3339), got.Committer.Name, got.Committer.Email, got.Committer.When.Format(time.RFC3339), got.Subject()}, "|")
			if ours != format {
				t.Errorf("%s:\n got %s\ngit  %s", rev, ours, format)
			}
		}
		for _, rev := range []string{"", "-x", "--upload-pack=x", "nothing", "HEAD~99", "HEAD^3", "../../etc/passwd", "refs/../HEAD", "0000000", "HEAD@{1}", "2020-01-01", "2026-13-01", "main\n", ":/Start", strings.Repeat("f", 40), "HEAD~99999999999999999999"} {
			if got, err := h.Resolve(rev, nil); !errors.Is(err, ErrRevision) {
				t.Errorf("Resolve(%q) = %v, %v; want ErrRevision", rev, got.Hash, err)
			}
		}
	}
}

func TestResolveDate(t *testing.T) { bothWays(t, testResolveDate) }

func testResolveDate(t *testing.T) {
	r := newRepository(t)
	// 23:30 in Vilnius (UTC+2 in winter) is still the 4th there; 00:30 is the 5th.
	for i, date := range []string{"2026-03-04T23:30:00+0200", "2026-03-05T00:30:00+0200", "2026-03-07T12:00:00+0200"} {
		r.write("wj.yaml", fmt.Sprint(i))
		r.git("add", "-A")
		r.env = []string{"GIT_COMMITTER_DATE=" + date}
		r.git("commit", "-q", "-m", date)
	}
	h := open(t, r.dir)
	vilnius := time.FixedZone("", 2*3600)
	for _, test := range []struct {
		date string
		zone *time.Location
		want string
	}{
		{"2026-03-04", vilnius, "HEAD~2"},
		{"2026-03-04", time.UTC, "HEAD~1"}, // 00:30+02:00 is 22:30 UTC the day before
		{"2026-03-05", vilnius, "HEAD~1"},
		{"2026-03-06", vilnius, "HEAD~1"},
		{"2026-03-07", vilnius, "HEAD"},
		{"2030-01-01", vilnius, "HEAD"},
		{"2026-03-05T00:29", vilnius, "HEAD~2"},
		{"2026-03-05 00:30", vilnius, "HEAD~1"},
		{"2026-03-04T22:30:00Z", vilnius, "HEAD~1"},
	} {
		got, err := h.Resolve(test.date, test.zone)
		if want := r.git("rev-parse", test.want); err != nil || got.Hash.String() != want {
			t.Errorf("%s in %v = %s, %v; want %s", test.date, test.zone, got.Hash, err, test.want)
		}
	}
	if _, err := h.Resolve("2026-03-03", vilnius); !errors.Is(err, ErrRevision) {
		t.Errorf("before the beginning: %v", err)
	}
	// One clock that is wrong, by decades, moves no other commit.
	for _, date := range []string{"1980-01-01T00:00:00+0200", "2099-01-01T00:00:00+0200", "2026-03-09T12:00:00+0200"} {
		r.env = []string{"GIT_COMMITTER_DATE=" + date}
		r.git("commit", "-q", "--allow-empty", "-m", date)
	}
	for date, want := range map[string]string{"2026-03-04": "HEAD~5", "2026-03-07": "HEAD~2", "2026-03-08": "HEAD~2", "2026-03-09": "HEAD"} {
		if got, err := h.Resolve(date, vilnius); err != nil || got.Hash.String() != r.git("rev-parse", want) {
			t.Errorf("with wrong clocks %s = %s, %v; want %s", date, got.Hash, err, want)
		}
	}
	early, err := h.Resolve("HEAD~2", nil)
	if err != nil {
		t.Fatal(err)
	}
	if at, err := h.Moment(early); err != nil || at.In(vilnius).Format("2006-01-02T15:04") != "2026-03-05T00:30" {
		t.Errorf("the commit with the clock of 1980 came at %s, %v", at, err)
	}
}

func TestTrailers(t *testing.T) { bothWays(t, testTrailers) }

func testTrailers(t *testing.T) {
	r := smallJournal(t, "")
	got, err := open(t, r.dir).Head()
	if err != nil {
		t.Fatal(err)
	}
	want := r.git("log", "-1", "--format=%(trailers:only,unfold)")
	var lines []string
	for _, tr := range got.Trailers() {
		lines = append(lines, tr.Key+": "+tr.Value)
	}
	if strings.Join(lines, "\n") != want {
		t.Errorf("trailers %q, git %q", lines, want)
	}
}

// checkFS compares a revision's journal with git ls-tree and git show.
func checkFS(t *testing.T, r *testRepository, journal, rev string) {
	t.Helper()
	h := open(t, journal)
	commit, err := h.Resolve(rev, nil)
	if err != nil {
		t.Fatal(err)
	}
	fsys, err := h.FS(commit.Hash)
	if err != nil {
		t.Fatal(err)
	}
	var names []string
	prefix := h.Place().Prefix
	for line := range strings.SplitSeq(r.git("-c", "core.quotePath=false", "ls-tree", "-r", "--name-only", rev), "\n") {
		if name, ok := strings.CutPrefix(line, prefix); ok {
			names = append(names, strings.TrimPrefix(name, "/"))
		}
	}
	if err := fstest.TestFS(fsys, names...); err != nil {
		t.Error(err)
	}
	seen := 0
	err = fs.WalkDir(fsys, ".", func(name string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		seen++
		got, err := fs.ReadFile(fsys, name)
		if err != nil {
			return err
		}
		cmd := exec.Command("git", "cat-file", "blob", rev+":"+strings.TrimPrefix(prefix+"/"+name, "/"))
		cmd.Dir = r.dir
		if want, err := cmd.Output(); err != nil || !bytes.Equal(got, want) {
			t.Errorf("%s: %d bytes, git has %d, %v", name, len(got), len(want), err)
		}
		return nil
	})
	if err != nil || seen != len(names) {
		t.Errorf("%d files, %v; git has %d", seen, err, len(names))
	}
}

func TestPlacesOfAJournal(t *testing.T) { bothWays(t, testPlacesOfAJournal) }

func testPlacesOfAJournal(t *testing.T) {
	t.Run("top", func(t *testing.T) {
		r := smallJournal(t, "")
		checkFS(t, r, r.dir, "HEAD")
		checkFS(t, r, r.dir, "HEAD~3")
	})
	t.Run("subfolder", func(t *testing.T) {
		r := smallJournal(t, "water/journal/")
		dir := filepath.Join(r.dir, "water", "journal")
		if p, err := Find(dir); err != nil || p.Prefix != "water/journal" || p.Top != r.dir || p.Branch != "main" || p.Linked || len(p.Limits) != 0 {
			t.Errorf("place %+v, %v", p, err)
		}
		checkFS(t, r, dir, "HEAD~2")
		os.Mkdir(filepath.Join(r.dir, "later"), 0o777)
		h := open(t, filepath.Join(r.dir, "later"))
		head, err := h.Head()
		if err != nil {
			t.Fatal(err)
		}
		if _, err := h.FS(head.Hash); !errors.Is(err, fs.ErrNotExist) {
			t.Errorf("folder that was not there: %v", err)
		}
	})
	t.Run("linked worktree", func(t *testing.T) {
		r := smallJournal(t, "")
		linked := filepath.Join(t.TempDir(), "linked")
		r.git("worktree", "add", "-q", "-b", "review", linked, "HEAD~2")
		checkFS(t, r, linked, "review")
		h := open(t, linked)
		if p := h.Place(); !p.Linked || p.Branch != "review" {
			t.Errorf("place %+v", p)
		}
		head, err := h.Head()
		if want := r.git("rev-parse", "review"); err != nil || head.Hash.String() != want {
			t.Errorf("HEAD %s, %v; want %s", head.Hash, err, want)
		}
		os.WriteFile(filepath.Join(linked, "new.md"), []byte("x\n"), 0o666)
		hash, err := Commit(context.Background(), linked, []string{"new.md"}, "In the linked tree", nil)
		if err != nil || hash != r.git("rev-parse", "review") {
			t.Errorf("commit %s, %v", hash, err)
		}
		r.clean()
	})
	t.Run("alternates", func(t *testing.T) {
		r := smallJournal(t, "")
		r.git("gc", "-q")
		r.write("sites/loose.md", "x\n")
		r.commit("One loose")
		clone := filepath.Join(t.TempDir(), "clone")
		r.git("clone", "-q", "-s", r.dir, clone)
		if n, _ := filepath.Glob(filepath.Join(clone, ".git/objects/pack/*.pack")); len(n) != 0 {
			t.Fatal("the clone has packs of its own")
		}
		checkFS(t, r, clone, "HEAD")
	})
	t.Run("shallow", func(t *testing.T) {
		r := smallJournal(t, "")
		clone := filepath.Join(t.TempDir(), "clone")
		r.git("clone", "-q", "--depth", "3", "file://"+r.dir, clone)
		checkFS(t, r, clone, "HEAD~2")
		h := open(t, clone)
		if !h.Shallow() || len(h.Place().Limits) != 1 || h.Place().Limits[0].Name != "shallow" {
			t.Errorf("limits %+v", h.Place().Limits)
		}
		if _, err := h.Resolve("HEAD~3", nil); !errors.Is(err, ErrRevision) || !strings.Contains(err.(*Trouble).Hint, "shallow") {
			t.Errorf("beyond the boundary: %v", err)
		}
	})
	t.Run("partial clone", func(t *testing.T) {
		r := smallJournal(t, "")
		r.git("config", "uploadpack.allowFilter", "true")
		clone := filepath.Join(t.TempDir(), "clone")
		r.git("clone", "-q", "--filter=blob:none", "file://"+r.dir, clone)
		checkFS(t, r, clone, "HEAD")
		h := open(t, clone)
		old, err := h.Resolve("HEAD~4", nil)
		if err != nil {
			t.Fatal(err)
		}
		fsys, err := h.FS(old.Hash)
		if err != nil {
			t.Fatal(err)
		}
		site, err := h.trees.at(old.Tree, "sites/north-well.md")
		if err != nil {
			t.Fatal(err)
		}
		var trouble *Trouble
		if _, err := h.Blob(site.hash); !errors.Is(err, ErrMissing) || !errors.As(err, &trouble) || !strings.Contains(trouble.Hint, "partial clone") {
			t.Errorf("blob that was not fetched: %v", err)
		}
		if _, err := fs.ReadFile(fsys, "sites/north-well.md"); !errors.Is(err, ErrMissing) {
			t.Errorf("file that was not fetched: %v", err)
		}
	})
	t.Run("sparse checkout", func(t *testing.T) {
		r := smallJournal(t, "")
		r.git("sparse-checkout", "set", "sites")
		if r.git("config", "extensions.worktreeConfig") != "true" {
			t.Skip("this git sets no worktreeConfig extension")
		}
		checkFS(t, r, r.dir, "HEAD")
	})
	t.Run("split index", func(t *testing.T) {
		r := smallJournal(t, "")
		r.git("update-index", "--split-index")
		checkFS(t, r, r.dir, "HEAD")
		r.write("sites/south-well.md", "x\n")
		if _, err := Commit(context.Background(), r.dir, []string{"sites/south-well.md"}, "Record", nil); err != nil {
			t.Error(err)
		}
		r.clean()
	})
	t.Run("detached", func(t *testing.T) {
		r := smallJournal(t, "")
		r.git("checkout", "-q", "--detach", "HEAD~1")
		checkFS(t, r, r.dir, "HEAD")
		if p, _ := Find(r.dir); p.Branch != "" || p.State != "" {
			t.Errorf("place %+v", p)
		}
	})
	t.Run("unborn", func(t *testing.T) {
		r := newRepository(t)
		h := open(t, r.dir)
		if _, err := h.Head(); !errors.Is(err, ErrUnborn) {
			t.Errorf("head: %v", err)
		}
		if _, err := h.Resolve("HEAD~1", nil); !errors.Is(err, ErrUnborn) {
			t.Errorf("resolve: %v", err)
		}
		if h.Place().Branch != "main" {
			t.Errorf("branch %q", h.Place().Branch)
		}
	})
	t.Run("no repository", func(t *testing.T) {
		isolate(t)
		if _, err := Open(t.TempDir()); !errors.Is(err, ErrNoRepository) {
			t.Error(err)
		}
	})
	t.Run("sha256", func(t *testing.T) {
		r := newRepository(t, "--object-format=sha256")
		r.write("a.md", "x\n")
		hash, err := Commit(context.Background(), r.dir, []string{"a.md"}, "Record", nil)
		if err != nil || hash != r.git("rev-parse", "HEAD") {
			t.Errorf("recording through git: %s, %v", hash, err)
		}
		// That git reads it is for TestOtherKinds; go-git does not.
		if place, err := Find(r.dir); err != nil || !place.needsGit() || place.Unreadable() != nil {
			t.Errorf("place %+v, %v", place, err)
		}
	})
	t.Run("unknown extension", func(t *testing.T) {
		r := newRepository(t)
		for _, name := range []string{"objectFormat", "somethingNew"} {
			r.git("config", "core.repositoryFormatVersion", "1")
			cfg := filepath.Join(r.dir, ".git", "config")
			raw, _ := os.ReadFile(cfg)
			os.WriteFile(cfg, append(raw, "[extensions]\n\t"+name+" = reftable\n"...), 0o666)
			var trouble *Trouble
			if _, err := Open(r.dir); !errors.Is(err, ErrUnsupported) || !errors.As(err, &trouble) || trouble.Hint == "" {
				t.Errorf("%s: %v", name, err)
			}
			os.WriteFile(cfg, raw, 0o666)
		}
	})
	t.Run("GIT_DIR", func(t *testing.T) {
		r := smallJournal(t, "")
		moved := filepath.Join(t.TempDir(), "apart")
		if err := os.Rename(filepath.Join(r.dir, ".git"), moved); err != nil {
			t.Fatal(err)
		}
		t.Setenv("GIT_DIR", moved)
		t.Setenv("GIT_WORK_TREE", r.dir)
		h := open(t, r.dir)
		if h.Place().GitDir != moved {
			t.Errorf("place %+v", h.Place())
		}
		r.write("n.md", "x\n")
		if _, err := Commit(context.Background(), r.dir, []string{"n.md"}, "Record", nil); err != nil {
			t.Error(err)
		}
		// A repository that the environment names but that does not hold the folder
		// is left aside.
		if _, err := Find(t.TempDir()); !errors.Is(err, ErrNoRepository) {
			t.Errorf("foreign GIT_DIR: %v", err)
		}
	})
}

func TestManyReadersAtOnce(t *testing.T) { bothWays(t, testManyReadersAtOnce) }

func testManyReadersAtOnce(t *testing.T) {
	r := randomHistory(t, 9, 60, "")
	r.git("gc", "-q", "--aggressive")
	h := open(t, r.dir)
	tip := tipOf(t, h, "main")
	fsys, err := h.FS(tip)
	if err != nil {
		t.Fatal(err)
	}
	var running sync.WaitGroup
	for range 6 {
		running.Go(func() {
			err := fs.WalkDir(fsys, ".", func(name string, d fs.DirEntry, err error) error {
				if err == nil && !d.IsDir() {
					_, err = fs.ReadFile(fsys, name)
				}
				return err
			})
			if err != nil {
				t.Error(err)
			}
			if _, err := h.Walk(context.Background(), tip, WalkOptions{}, func(Step) error { return nil }); err != nil {
				t.Error(err)
			}
			if _, err := h.Resolve("main~20", nil); err != nil {
				t.Error(err)
			}
		})
	}
	running.Wait()
}

// TestReadingRunsNothing puts a program wherever git would start one.
func TestReadingRunsNothing(t *testing.T) { bothWays(t, testReadingRunsNothing) }

func testReadingRunsNothing(t *testing.T) {
	r := smallJournal(t, "")
	canary := filepath.Join(r.dir, ".git", "canary")
	program := filepath.Join(r.dir, ".git", "run")
	if err := os.WriteFile(program, []byte("#!/bin/sh\necho \"$0 $*\" >> '"+canary+"'\ncat 2>/dev/null\n"), 0o777); err != nil {
		t.Fatal(err)
	}
	var settings strings.Builder
	for _, key := range []string{"core.fsmonitor", "core.pager", "core.editor", "core.askPass", "core.sshCommand", "core.gitProxy", "core.alternateRefsCommand", "pager.log", "pager.diff", "pager.cat-file",
		"gpg.program", "gpg.ssh.program", "gpg.x509.program", "gpg.openpgp.program", "gpg.ssh.defaultKeyCommand", "diff.external", "interactive.diffFilter", "credential.helper", "sequence.editor", "uploadpack.packObjectsHook"} {
		section, name, _ := strings.Cut(key, ".")
		if at := strings.LastIndex(name, "."); at >= 0 {
			section, name = section+" \""+name[:at]+"\"", name[at+1:]
		}
		fmt.Fprintf(&settings, "[%s]\n\t%s = %s\n", section, name, program)
	}
	for _, alias := range []string{"log", "cat-file", "for-each-ref", "rev-parse", "merge-base", "rev-list", "ls-files", "diff-index"} {
		fmt.Fprintf(&settings, "[alias]\n\t%s = !%s\n", alias, program)
	}
	fmt.Fprintf(&settings, "[core]\n\tattributesFile = %[2]s\n\thooksPath = %[3]s\n[log]\n\tshowSignature = true\n[diff \"x\"]\n\ttextconv = %[1]s\n\tcommand = %[1]s\n[filter \"x\"]\n\tclean = %[1]s\n\tsmudge = %[1]s\n\tprocess = %[1]s\n\trequired = true\n"+
		"[remote \"origin\"]\n\turl = ext::%[1]s\n\tpromisor = true\n\tpartialCloneFilter = blob:none\n\tuploadpack = %[1]s\n[extensions]\n\tpartialClone = origin\n[trace2]\n\teventTarget = %[4]s\n[protocol]\n\tallow = always\n",
		program, filepath.Join(r.dir, ".gitattributes"), filepath.Join(r.dir, ".git", "hooks"), canary)
	r.write(".gitattributes", "* filter=x diff=x\n")
	// A commit with what passes for a signature, and an object that is not here.
	raw := strings.Replace(string(r.rawCommit("HEAD")), "\n\n", "\ngpgsig -----BEGIN SSH SIGNATURE-----\n U1NIU0lH\n -----END SSH SIGNATURE-----\n\n", 1)
	r.git("update-ref", "refs/heads/main", r.store("commit", []byte(raw)))
	blob := r.git("rev-parse", "HEAD~4:sites/north-well.md")
	if err := os.Remove(filepath.Join(r.dir, ".git", "objects", blob[:2], blob[2:])); err != nil {
		t.Fatal(err)
	}
	for _, hook := range []string{"pre-commit", "post-checkout", "reference-transaction", "post-index-change", "fsmonitor-watchman"} {
		r.hook(hook, program)
	}
	// Once in the repository's configuration, once in files that it includes.
	config := filepath.Join(r.dir, ".git", "config")
	plain, err := os.ReadFile(config)
	if err != nil {
		t.Fatal(err)
	}
	included := filepath.Join(r.dir, "included")
	if err := os.WriteFile(included, []byte(settings.String()), 0o666); err != nil {
		t.Fatal(err)
	}
	for what, text := range map[string]string{"config": settings.String(), "include": "[include]\n\tpath = " + included + "\n[includeIf \"gitdir:/\"]\n\tpath = " + included + "\n"} {
		if err := os.WriteFile(config, append(bytes.Clone(plain), text...), 0o666); err != nil {
			t.Fatal(err)
		}
		h := open(t, r.dir)
		head, err := h.Resolve("HEAD~1", nil)
		if err != nil {
			t.Fatal(err)
		}
		fsys, err := h.FS(head.Hash)
		if err != nil {
			t.Fatal(err)
		}
		if err := fstest.TestFS(fsys, "wj.yaml"); err != nil {
			t.Error(err)
		}
		readEverything(t, h, head)
		everything(h)
		if _, err := ReadStaged(context.Background(), r.dir); err != nil {
			t.Error(err)
		}
		name, _ := ParseHash(blob)
		if _, err := h.Blob(name); !errors.Is(err, ErrMissing) {
			t.Errorf("a blob that is not here: %v", err)
		}
		if said, err := os.ReadFile(canary); !errors.Is(err, fs.ErrNotExist) {
			t.Errorf("%s: a program was run: %s", what, said)
		}
	}
}

// TestNothingIsStarted: after TrustNothing there is no git program for anybody.
func TestNothingIsStarted(t *testing.T) {
	r := smallJournal(t, "")
	// A git program that tells of itself.
	bin := t.TempDir()
	canary := filepath.Join(bin, "canary")
	if err := os.WriteFile(filepath.Join(bin, "git"), []byte("#!/bin/sh\necho \"$*\" >> '"+canary+"'\nexit 1\n"), 0o777); err != nil {
		t.Fatal(err)
	}
	t.Setenv("PATH", bin)
	TrustNothing()
	defer untrusted.Store(false)
	h := open(t, r.dir)
	everything(h)
	head, err := h.Head()
	if err != nil {
		t.Fatal(err)
	}
	readEverything(t, h, head)
	if _, _, ok := Identity(r.dir); ok {
		t.Error("an identity without git")
	}
	for what, err := range map[string]error{
		"staged": func() error { _, err := ReadStaged(context.Background(), r.dir); return err }(),
		"commit": func() error { _, err := Commit(context.Background(), r.dir, []string{"wj.yaml"}, "x", nil); return err }(),
		"hook":   func() error { _, _, err := HookFile(context.Background(), r.dir, "pre-commit"); return err }(),
		"import": Import(context.Background(), filepath.Join(bin, "new"), []ImportStep{{When: time.Unix(firstDate, 0), Name: "Ines", Email: "i@x.example", Message: "x", Write: map[string][]byte{"a": nil}}}),
	} {
		if !errors.Is(err, ErrUntrusted) {
			t.Errorf("%s: %v", what, err)
		}
	}
	if said, err := os.ReadFile(canary); !errors.Is(err, fs.ErrNotExist) {
		t.Errorf("git was run: %s", said)
	}
}
