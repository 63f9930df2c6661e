package history

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"maps"
	"math/rand/v2"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"
)

// randomHistory makes a repository with branches, merges (some of which change
// files themselves or take one side), renames and deletions, by git
// fast-import. All files are below prefix, but one.
func randomHistory(t testing.TB, seed uint64, commits int, prefix string) *testRepository {
	r := newRepository(t)
	random := rand.New(rand.NewPCG(seed, 5))
	type state = map[string]string
	var in bytes.Buffer
	trees := []state{{}}
	for n := 1; n <= commits; n++ {
		parents := []int{n - 1}
		if n > 3 && random.IntN(4) == 0 {
			parents[0] = n - 1 - random.IntN(3)
		}
		if n > 5 && random.IntN(4) == 0 {
			other := n - 1 - random.IntN(5)
			if other != parents[0] {
				parents = append(parents, other)
			}
		}
		tree := maps.Clone(trees[parents[0]])
		if len(parents) == 2 && random.IntN(3) > 0 {
			maps.Copy(tree, trees[parents[1]])
		}
		for range random.IntN(3) + 2 - len(parents) {
			names := slices.Sorted(maps.Keys(tree))
			name := fmt.Sprintf("%ssessions/%d/r%d.md", prefix, random.IntN(2), random.IntN(12))
			if random.IntN(5) == 0 {
				name = fmt.Sprintf("%ssessions/%d", prefix, random.IntN(2)) // a file where a folder was
			}
			switch {
			case len(names) > 4 && random.IntN(5) == 0:
				delete(tree, names[random.IntN(len(names))])
			case len(names) > 2 && random.IntN(6) == 0:
				old := names[random.IntN(len(names))]
				content := tree[old]
				delete(tree, old)
				put(tree, fmt.Sprintf("%sarchive/%d/%s", prefix, random.IntN(2), filepath.Base(old)), content)
			case random.IntN(8) == 0:
				put(tree, "elsewhere.txt", fmt.Sprint(n))
			default:
				put(tree, name, fmt.Sprintf("%d\n", random.IntN(1000)))
			}
		}
		fmt.Fprintf(&in, "commit refs/heads/main\nmark :%d\ncommitter Ines <ines@quillmarsh.example> %d +0200\ndata 3\nc%02d\n", n, firstDate+n*60, n%100)
		if n == 1 {
			fmt.Fprintln(&in, "deleteall")
		} else {
			fmt.Fprintf(&in, "from :%d\n", parents[0])
			for _, p := range parents[1:] {
				fmt.Fprintf(&in, "merge :%d\n", p)
			}
			fmt.Fprintln(&in, "deleteall")
		}
		for _, name := range slices.Sorted(maps.Keys(tree)) {
			content := tree[name]
			fmt.Fprintf(&in, "M 100644 inline %s\ndata %d\n%s\n", name, len(content), content)
		}
		trees = append(trees, tree)
		if n == 1 {
			trees[0] = state{}
		}
	}
	r.fastImport(&in)
	return r
}

// put adds a file and removes what it cannot exist beside.
func put(tree map[string]string, name, content string) {
	for other := range tree {
		if strings.HasPrefix(other, name+"/") || strings.HasPrefix(name, other+"/") {
			delete(tree, other)
		}
	}
	tree[name] = content
}

func (r *testRepository) fastImport(in *bytes.Buffer) {
	r.t.Helper()
	cmd := exec.Command("git", "fast-import", "--quiet", "--force")
	cmd.Dir = r.dir
	cmd.Stdin = in
	if out, err := cmd.CombinedOutput(); err != nil {
		r.t.Fatalf("git fast-import: %v\n%s", err, out)
	}
}

func tipOf(t testing.TB, h *History, rev string) Hash {
	t.Helper()
	r, err := h.Resolve(rev, nil)
	if err != nil {
		t.Fatal(err)
	}
	return r.Hash
}

// TestWalkEqualsGit compares every commit's own changes with git log -c --raw,
// which shows of a merge what differs from all its parents.
func TestWalkEqualsGit(t *testing.T) { bothWays(t, testWalkEqualsGit) }

func testWalkEqualsGit(t *testing.T) {
	for seed := range uint64(12) {
		prefix := []string{"", "water/journal/"}[seed%2]
		r := randomHistory(t, seed, 60, prefix)
		switch seed % 3 {
		case 1:
			r.git("gc", "-q")
			r.git("commit-graph", "write", "--reachable", "--changed-paths")
		case 2:
			r.git("commit-graph", "write", "--reachable", "--split")
		}
		h := open(t, r.dir)
		if prefix != "" {
			h.place.Prefix = strings.TrimSuffix(prefix, "/")
		}
		var got []string
		walked, err := h.Walk(context.Background(), tipOf(t, h, "main"), WalkOptions{}, func(s Step) error {
			line := s.Hash.String()
			var changes []string
			for _, c := range s.Changes {
				switch c.Kind {
				case Added:
					changes = append(changes, c.Path)
				case Renamed:
					changes = append(changes, c.Path, c.From)
				default:
					changes = append(changes, c.Path)
				}
			}
			slices.Sort(changes)
			got = append(got, line+" "+strings.Join(slices.Compact(changes), " "))
			return nil
		})
		if err != nil || walked.Stopped != "" {
			t.Fatal(walked, err)
		}
		var want []string
		args := []string{"log", "-c", "--no-renames", "--name-only", "--root", "--format=%x00%H", "main"}
		for block := range strings.SplitSeq(r.git(args...), "\x00") {
			f := strings.Fields(block)
			if len(f) == 0 {
				continue
			}
			var names []string
			for _, name := range f[1:] {
				if name, ok := strings.CutPrefix(name, prefix); ok {
					names = append(names, name)
				}
			}
			slices.Sort(names)
			want = append(want, f[0]+" "+strings.Join(names, " "))
		}
		slices.Sort(got)
		slices.Sort(want)
		if !slices.Equal(got, want) {
			only := func(a, b []string) []string {
				return slices.DeleteFunc(slices.Clone(a), func(s string) bool { return slices.Contains(b, s) })
			}
			t.Fatalf("seed %d:\nours %s\ngit  %s", seed, strings.Join(only(got, want), "\n     "), strings.Join(only(want, got), "\n     "))
		}
	}
}

func TestWalkOrderAndMerges(t *testing.T) { bothWays(t, testWalkOrderAndMerges) }

func testWalkOrderAndMerges(t *testing.T) {
	r := randomHistory(t, 77, 120, "")
	h := open(t, r.dir)
	tip := tipOf(t, h, "main")
	at := map[Hash]int{}
	var steps []Step
	if _, err := h.Walk(context.Background(), tip, WalkOptions{}, func(s Step) error {
		at[s.Hash] = len(steps)
		steps = append(steps, s)
		return nil
	}); err != nil {
		t.Fatal(err)
	}
	for _, s := range steps {
		for _, p := range s.Parents {
			if at[p] <= at[s.Hash] {
				t.Errorf("parent %s before child %s", p, s.Hash)
			}
		}
	}
	line := strings.Fields(r.git("rev-list", "--first-parent", "main"))
	for _, m := range line {
		brought := []string{m}
		if r.git("rev-list", "--parents", "-1", m) != m {
			brought = strings.Fields(r.git("rev-list", m, "--not", m+"^1", "--"))
		}
		for _, b := range brought {
			hash, _ := ParseHash(b)
			s := steps[at[hash]]
			if s.MergedBy.String() != m || s.FirstParent != (b == m) {
				t.Errorf("%s was brought by %s (first parent %v), want %s", b, s.MergedBy, s.FirstParent, m)
			}
		}
	}
	// Ancestors, merge bases and ranges as git has them.
	names := strings.Fields(r.git("rev-list", "main"))
	random := rand.New(rand.NewPCG(1, 2))
	for range 40 {
		a, b := names[random.IntN(len(names))], names[random.IntN(len(names))]
		ha, _ := ParseHash(a)
		hb, _ := ParseHash(b)
		_, err := r.try("merge-base", "--is-ancestor", a, b)
		if got, err2 := h.IsAncestor(context.Background(), ha, hb); err2 != nil || got != (err == nil) {
			t.Errorf("IsAncestor(%s, %s) = %v, %v; git: %v", a, b, got, err2, err)
		}
		base, ok, err := h.MergeBase(context.Background(), ha, hb)
		if err != nil || !ok || !slices.Contains(strings.Fields(r.git("merge-base", "--all", a, b)), base.String()) {
			t.Errorf("MergeBase(%s, %s) = %s, %v, %v", a, b, base, ok, err)
		}
		n := 0
		if _, err := h.Walk(context.Background(), hb, WalkOptions{Exclude: ha}, func(Step) error { n++; return nil }); err != nil {
			t.Error(err)
		}
		if want := r.git("rev-list", "--count", a+".."+b); fmt.Sprint(n) != want {
			t.Errorf("%s..%s: %d commits, git %s", a, b, n, want)
		}
	}
}

func TestWalkStops(t *testing.T) { bothWays(t, testWalkStops) }

func testWalkStops(t *testing.T) {
	r := randomHistory(t, 3, 50, "")
	h := open(t, r.dir)
	tip := tipOf(t, h, "main")
	walked, err := h.Walk(context.Background(), tip, WalkOptions{Limit: 7}, func(Step) error { return nil })
	if err != nil || walked.Commits != 7 || !strings.HasPrefix(walked.Stopped, "stopped after 7 commits") {
		t.Errorf("limit: %+v, %v", walked, err)
	}
	ctx, cancel := context.WithDeadline(context.Background(), time.Now().Add(-time.Second))
	defer cancel()
	if walked, err := h.Walk(ctx, tip, WalkOptions{}, func(Step) error { return nil }); err != nil || !strings.HasPrefix(walked.Stopped, "stopped after 0 commits") {
		t.Errorf("deadline: %+v, %v", walked, err)
	}
	if _, walked, err := h.FileLog(ctx, tip, "sessions/0/r1.md"); err != nil || walked.Stopped == "" {
		t.Errorf("deadline: %+v, %v", walked, err)
	}
	mine := errors.New("enough")
	if _, err := h.Walk(context.Background(), tip, WalkOptions{}, func(Step) error { return mine }); err != mine {
		t.Errorf("error of the caller: %v", err)
	}
	cancelled, cancel2 := context.WithCancel(context.Background())
	cancel2()
	if _, err := h.Walk(cancelled, tip, WalkOptions{}, func(Step) error { return nil }); !errors.Is(err, context.Canceled) {
		t.Errorf("cancelled: %v", err)
	}
}

// TestFileLogEqualsGit compares with git log -- path on histories whose records
// are never renamed to the path in question.
func TestFileLogEqualsGit(t *testing.T) { bothWays(t, testFileLogEqualsGit) }

func testFileLogEqualsGit(t *testing.T) {
	compared := 0
	for seed := range uint64(12) {
		prefix := []string{"", "water/"}[seed%2]
		r := randomHistory(t, seed, 80, prefix)
		if seed%3 > 0 {
			r.git("commit-graph", "write", "--reachable", "--changed-paths")
		}
		h := open(t, r.dir)
		h.place.Prefix = strings.TrimSuffix(prefix, "/")
		tip := tipOf(t, h, "main")
		for i := range 24 {
			file := fmt.Sprintf("sessions/%d/r%d.md", i/12, i%12)
			versions, walked, err := h.FileLog(context.Background(), tip, file)
			if err != nil || walked.Stopped != "" {
				t.Fatal(walked, err)
			}
			var got []string
			renamed := false
			for _, v := range versions {
				got = append(got, v.Hash.String())
				renamed = renamed || v.From != ""
			}
			if renamed {
				continue
			}
			want := strings.Fields(r.git("log", "--format=%H", "main", "--", prefix+file))
			if !slices.Equal(got, want) {
				t.Errorf("seed %d, %s:\n got %v\n git %v", seed, file, got, want)
			}
			compared += len(want)
		}
	}
	if compared < 500 {
		t.Errorf("only %d versions compared", compared)
	}
}

func TestFileLogFollowsRecords(t *testing.T) { bothWays(t, testFileLogFollowsRecords) }

func testFileLogFollowsRecords(t *testing.T) {
	r := newRepository(t)
	r.write("sessions/a.md", "one\n")
	r.write("sessions/other.md", "other\n")
	first := r.commit("Record")
	r.write("sessions/a.md", "two\n")
	second := r.commit("Amend")
	// The record moves into a folder and changes: the file name is the id.
	r.write("sessions/2026/a.md", "three\n")
	r.git("rm", "-q", "sessions/a.md")
	third := r.commit("Sort by year, and amend")
	// A new id with the same content.
	r.git("mv", "sessions/2026/a.md", "sessions/2026/2026-03-04-a.md")
	fourth := r.commit("Rename")
	r.git("rm", "-q", "sessions/2026/2026-03-04-a.md")
	fifth := r.commit("Delete")
	r.write("sessions/2026/2026-03-04-a.md", "four\n")
	sixth := r.commit("Bring back")
	h := open(t, r.dir)
	versions, walked, err := h.FileLog(context.Background(), tipOf(t, h, "HEAD"), "sessions/2026/2026-03-04-a.md")
	if err != nil || walked.Commits != 6 || walked.Shallow {
		t.Fatal(walked, err)
	}
	var got []string
	for _, v := range versions {
		content := ""
		if !v.Blob.IsZero() {
			raw, err := h.Blob(v.Blob)
			if err != nil {
				t.Fatal(err)
			}
			content = strings.TrimSpace(string(raw))
		}
		got = append(got, fmt.Sprintf("%s %s %s<%s %s", v.Hash, v.Kind, v.Path, v.From, content))
	}
	want := []string{
		sixth + " added sessions/2026/2026-03-04-a.md< four",
		fifth + " deleted sessions/2026/2026-03-04-a.md< ",
		fourth + " renamed sessions/2026/2026-03-04-a.md<sessions/2026/a.md three",
		third + " renamed sessions/2026/a.md<sessions/a.md three",
		second + " modified sessions/a.md< two",
		first + " added sessions/a.md< one",
	}
	if !slices.Equal(got, want) {
		t.Errorf("got\n%s\nwant\n%s", strings.Join(got, "\n"), strings.Join(want, "\n"))
	}
	if got := versions[3].Before; len(got) != 1 || got[0] != versions[4].Blob {
		t.Errorf("before the move: %v, want %v", got, versions[4].Blob)
	}
	for _, bad := range []string{"", "/a", "../a", "a/../b", ".."} {
		if _, _, err := h.FileLog(context.Background(), tipOf(t, h, "HEAD"), bad); err == nil {
			t.Errorf("%q: no error", bad)
		}
	}
	changes, err := h.Diff(tipOf(t, h, first), tipOf(t, h, third))
	if err != nil || len(changes) != 1 || changes[0].Kind != Renamed || changes[0].From != "sessions/a.md" {
		t.Errorf("diff %+v, %v", changes, err)
	}
}

func TestShallowBoundary(t *testing.T) { bothWays(t, testShallowBoundary) }

func testShallowBoundary(t *testing.T) {
	r := smallJournal(t, "")
	clone := filepath.Join(t.TempDir(), "clone")
	r.git("clone", "-q", "--depth", "3", "file://"+r.dir, clone)
	h := open(t, clone)
	tip := tipOf(t, h, "HEAD")
	var last Step
	walked, err := h.Walk(context.Background(), tip, WalkOptions{}, func(s Step) error { last = s; return nil })
	if err != nil || walked.Commits != 3 || !walked.Shallow || !last.Boundary || len(last.Changes) != 0 {
		t.Errorf("walk %+v, last %+v, %v", walked, last, err)
	}
	versions, walked, err := h.FileLog(context.Background(), tip, "wj.yaml")
	if err != nil || !walked.Shallow || len(versions) != 1 || !versions[0].Boundary {
		t.Errorf("log %+v, %+v, %v", versions, walked, err)
	}
}

// TestWalkOfFolders: a walk over chosen folders shows what a walk over
// everything shows of them.
func TestWalkOfFolders(t *testing.T) { bothWays(t, testWalkOfFolders) }

func testWalkOfFolders(t *testing.T) {
	for seed := range uint64(4) {
		prefix := []string{"", "water/journal/"}[seed%2]
		r := randomHistory(t, 40+seed, 60, prefix)
		if seed > 1 {
			r.git("gc", "-q")
			r.git("commit-graph", "write", "--reachable")
		}
		h := open(t, r.dir)
		if prefix != "" {
			h.place.Prefix = strings.TrimSuffix(prefix, "/")
		}
		folders := map[string]bool{}
		shown := func(options WalkOptions) (list []string) {
			if _, err := h.Walk(context.Background(), tipOf(t, h, "main"), options, func(s Step) error {
				for _, c := range s.Changes {
					folder, _, _ := strings.Cut(c.Path, "/")
					folders[folder] = true
					if len(options.Folders) == 0 || slices.Contains(options.Folders, folder) {
						list = append(list, fmt.Sprintf("%s %s %s %s %s %v", s.Hash, c.Kind, c.Path, c.From, c.After, s.FirstParent))
					}
				}
				return nil
			}); err != nil {
				t.Fatal(err)
			}
			return list
		}
		everything := shown(WalkOptions{})
		for folder := range folders {
			var want []string
			for _, line := range everything {
				if f := strings.Fields(line); strings.HasPrefix(f[2], folder+"/") || f[2] == folder {
					want = append(want, line)
				}
			}
			if got := shown(WalkOptions{Folders: []string{folder}}); !slices.Equal(got, want) {
				t.Errorf("seed %d, folder %s:\n%s\nwant\n%s", seed, folder, strings.Join(got, "\n"), strings.Join(want, "\n"))
			}
		}
	}
}
