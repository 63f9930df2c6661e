package evidence

import (
	"context"
	"fmt"
	"maps"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"reflect"
	"slices"
	"strings"
	"testing"
	"time"

	"wj/journal/history"
)

// TestPartKnowsWhatTheWholeKnows: a mainline of which only what judges was read knows of
// that what one of which everything was read knows, over histories with merges that keep,
// drop and make up contents, files that move, records that go and come again, a journal that moves.
func TestPartKnowsWhatTheWholeKnows(t *testing.T) {
	if _, err := exec.LookPath("git"); err != nil {
		t.Skip("git is not installed")
	}
	for seed := range uint64(6) {
		dir := t.TempDir()
		inject(t, dir, seed)
		if seed%2 == 1 {
			run(t, dir, nil, "commit-graph", "write", "--reachable")
		}
		var told [2]string
		for i, all := range []bool{true, false} {
			h, err := history.Open(filepath.Join(dir, "water"))
			if err != nil {
				t.Fatal(err)
			}
			defer h.Close()
			m, err := Open(context.Background(), h, Options{}, time.UTC, all)
			if err != nil {
				t.Fatal(err)
			}
			told[i] = m.tell()
		}
		if told[0] != told[1] {
			t.Errorf("seed %d: the whole knows\n%s\nand a part\n%s", seed, told[0], told[1])
		}
	}
}

// tell is all that a mainline knows of what judges.
func (m *Mainline) tell() string {
	var b strings.Builder
	fmt.Fprintln(&b, m.base, m.head.Hash, m.onLine, m.behind, m.founded, m.cut, len(m.rules))
	for _, c := range m.commits {
		fmt.Fprintln(&b, c.hash, c.parents, c.when.Unix(), c.floor.Unix())
	}
	for _, key := range slices.Sorted(maps.Keys(m.files)) {
		if p := m.files[key].versions[0].path; Judges(p) {
			fmt.Fprintln(&b, key, m.files[key].versions)
		}
	}
	var made []string
	for k, list := range m.origins {
		folder, _, _ := strings.Cut(k.key, " ")
		if Judges(folder) {
			made = append(made, fmt.Sprint(k, list))
		}
	}
	slices.Sort(made)
	fmt.Fprintln(&b, strings.Join(made, "\n"), len(m.acts), reflect.ValueOf(m.aside).Len())
	for _, r := range m.rules {
		fmt.Fprintln(&b, r.after, r.root, r.held, len(r.Journal.People.List), r.Policy())
	}
	return b.String()
}

// inject makes a repository whose journal lies in the folder water at its end.
func inject(t *testing.T, dir string, seed uint64) {
	t.Helper()
	run(t, dir, nil, "init", "-q", "-b", "main")
	r := rand.New(rand.NewPCG(seed, 17))
	names := []string{"people/ines.md", "people/jonas.md", "owners/quillmarsh.md", "sites/well.md", "targets/bitter.md", "instruments/meter.md", "changes/2026-06-01-bitter.md",
		"changes/2026/2026-06-01-bitter.md", "signoffs/2026-06-02-bitter-jonas.md", "signoffs/2026-06-02-bitter-jonas.md.sig", "sessions/2026-06-01-well.md", "sessions/2026/2026-06-01-well.md", "lots/AL-1.md", "people/old/jonas.md"}
	content := func(n int) string {
		return fmt.Sprintf("---\nname: N%d\nemail: [n%d@quillmarsh.example]\nroles: [reviewer]\n---\n", n, n)
	}
	trees := []map[string]string{}
	var in strings.Builder
	commit := func(tree map[string]string, folder string, parents ...int) int {
		n := len(trees)
		trees = append(trees, tree)
		when := 1_780_000_000 + n*1000 - r.IntN(4)*1500
		fmt.Fprintf(&in, "commit refs/heads/b%d\nmark :%d\nauthor A%d <n%d@quillmarsh.example> %d +0200\ncommitter C <c@quillmarsh.example> %d +0200\ndata 2\nc\n", n, n+1, n%3, n%3, when, when)
		for i, p := range parents {
			fmt.Fprintf(&in, "%s :%d\n", []string{"from", "merge"}[min(i, 1)], p+1)
		}
		in.WriteString("deleteall\n")
		for _, name := range slices.Sorted(maps.Keys(tree)) {
			fmt.Fprintf(&in, "M 100644 inline %s%s\ndata %d\n%s\n", folder, name, len(tree[name]), tree[name])
		}
		return n
	}
	tree := map[string]string{"wj.yaml": "format: 1\nname: Quillmarsh\n", names[0]: content(0)}
	folder := "water/"
	if seed%3 == 2 {
		folder = "old/" // until it moves
	}
	tips := []int{commit(tree, folder)} // of main, then of branches
	for i := range 40 {
		at := r.IntN(len(tips))
		next := maps.Clone(trees[tips[at]])
		for range 1 + r.IntN(2) {
			switch name := names[r.IntN(len(names))]; r.IntN(4) {
			case 0:
				delete(next, name)
			case 1: // the same content elsewhere
				for _, from := range slices.Sorted(maps.Keys(next)) {
					if from != "wj.yaml" && r.IntN(3) == 0 {
						next[name] = next[from]
						delete(next, from)
						break
					}
				}
			default:
				next[name] = content(r.IntN(5))
			}
		}
		switch {
		case i == 30 && folder == "old/":
			folder, tips = "water/", tips[:1]
			tips[0] = commit(next, folder, tips[0])
		case len(tips) < 4 && r.IntN(3) == 0:
			tips = append(tips, commit(next, folder, tips[at]))
		case len(tips) > 1 && r.IntN(3) == 0: // merged, with what either has or neither
			side := 1 + r.IntN(len(tips)-1)
			into := (side + 1 + r.IntN(len(tips)-1)) % len(tips)
			kept := []map[string]string{maps.Clone(trees[tips[into]]), maps.Clone(trees[tips[side]]), next}[r.IntN(3)]
			tips[into] = commit(kept, folder, tips[into], tips[side])
			if into != side {
				tips = slices.Delete(tips, side, side+1)
			}
		default:
			tips[at] = commit(next, folder, tips[at])
		}
	}
	fmt.Fprintf(&in, "reset refs/heads/main\nfrom :%d\n\n", tips[0]+1)
	run(t, dir, strings.NewReader(in.String()), "fast-import", "--quiet")
	run(t, dir, nil, "reset", "-q", "--hard", "main")
}

func run(t *testing.T, dir string, in *strings.Reader, args ...string) {
	t.Helper()
	c := exec.Command("git", append([]string{"-C", dir}, args...)...)
	c.Env = append(os.Environ(), "GIT_CONFIG_GLOBAL="+os.DevNull, "GIT_CONFIG_NOSYSTEM=1")
	if in != nil {
		c.Stdin = in
	}
	if out, err := c.CombinedOutput(); err != nil {
		t.Fatalf("git %v: %v\n%s", args, err, out)
	}
}
