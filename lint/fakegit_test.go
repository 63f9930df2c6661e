package lint

import (
	"iter"
	"slices"
	"strings"
	"testing"
)

// fakeGit is a history as a fixture tells it.
type fakeGit struct {
	added    map[string]Commit
	versions map[string][]struct {
		c    Commit
		text string
	}
	gone    []Gone
	lost    []Lost
	shallow bool
}

func parseGit(t *testing.T, text string, versions map[string]string) *fakeGit {
	t.Helper()
	g := &fakeGit{added: map[string]Commit{}, versions: map[string][]struct {
		c    Commit
		text string
	}{}}
	for _, line := range strings.Split(text, "\n") {
		f := strings.Fields(line)
		if len(f) == 0 {
			continue
		}
		commit := func(f []string) Commit {
			when := at(t, f[2])
			return Commit{ID: "c0ffee1", Name: f[0], Email: f[1], Written: when, Authored: when}
		}
		switch f[0] {
		case "added":
			g.added[f[1]] = commit(f[2:])
		case "gone":
			g.gone = append(g.gone, Gone{f[1], commit(f[2:])})
		case "lost":
			g.lost = append(g.lost, Lost{f[1], f[2]})
		case "shallow":
			g.shallow = true
		case "version": // version N PATH NAME EMAIL TIME, the text in version/N/PATH
			g.versions[f[2]] = append(g.versions[f[2]], struct {
				c    Commit
				text string
			}{commit(f[3:]), versions[f[1]+"/"+f[2]]})
		default:
			t.Fatalf("git: %q is not known", line)
		}
	}
	return g
}

func (g *fakeGit) Added(path string) (Commit, bool) { c, ok := g.added[path]; return c, ok }
func (g *fakeGit) Changed() []string {
	var out []string
	for p := range g.versions {
		out = append(out, p)
	}
	slices.Sort(out)
	return out
}
func (g *fakeGit) Versions(path string) iter.Seq2[Commit, []byte] {
	return func(yield func(Commit, []byte) bool) {
		for _, v := range g.versions[path] {
			if !yield(v.c, []byte(v.text)) {
				return
			}
		}
	}
}
func (g *fakeGit) Gone() []Gone  { return g.gone }
func (g *fakeGit) Lost() []Lost  { return g.lost }
func (g *fakeGit) Shallow() bool { return g.shallow }
