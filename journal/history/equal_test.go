package history

import (
	"bytes"
	"context"
	"encoding/binary"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"
)

// everything is all that a History says of a repository, as text.
func everything(h *History, revisions ...string) string {
	ctx := context.Background()
	var b strings.Builder
	say := func(format string, args ...any) { fmt.Fprintf(&b, format+"\n", args...) }
	head, err := h.Head()
	say("head %s %s", head.Hash, reasonOf(err))
	say("shallow %v limits %v", h.Shallow(), h.Place().Limits)
	refs, err := h.References()
	say("references %v %s", refs, reasonOf(err))
	tags, err := h.Tags()
	say("tags %v %s", tags, reasonOf(err))
	for _, rev := range append([]string{"HEAD", "HEAD~1", "HEAD^2", "HEAD~3^{commit}", "main", "refs/heads/main", "2026-03-05", "nothing"}, revisions...) {
		r, err := h.Resolve(rev, time.UTC)
		say("resolve %s: %+v %s", rev, r, reasonOf(err))
	}
	if !h.Place().Bare {
		err := h.store.index(filepath.Join(h.Place().GitDir, "index"), func(e indexed) error {
			say("index %+v", e)
			return nil
		})
		say("index %s", reasonOf(err))
	}
	if head.Hash.IsZero() {
		return b.String()
	}
	tips := []Hash{head.Hash}
	for _, r := range refs {
		if !r.Commit.IsZero() && !slices.Contains(tips, r.Commit) {
			tips = append(tips, r.Commit)
		}
	}
	paths := map[string]bool{}
	var all []Hash
	for _, tip := range tips {
		walk := func(what string, options WalkOptions) {
			n := 0
			walked, err := h.Walk(ctx, tip, options, func(s Step) error {
				say("%s %d %s: %+v %v first-parent %v by %s boundary %v", what, n, s.Hash, s.Revision, s.Changes, s.FirstParent, s.MergedBy, s.Boundary)
				n++
				for _, c := range s.Changes {
					paths[c.Path] = true
				}
				if !slices.Contains(all, s.Hash) {
					all = append(all, s.Hash)
				}
				v, err := h.Verify(s.Hash, &Keyring{}, time.Time{})
				say("verdict %+v %s", v, reasonOf(err))
				return nil
			})
			say("%s walked %+v %s", what, walked, reasonOf(err))
		}
		walk("all", WalkOptions{})
		walk("ten", WalkOptions{Limit: 10})
		if len(all) > 0 {
			walk("excluding", WalkOptions{Exclude: all[len(all)/2]})
		}
		walk("folder", WalkOptions{Folders: []string{"archive", "sites"}})
		line, err := h.Mainline(ctx, tip)
		say("mainline %+v", line)
		say("mainline %s", reasonOf(err))
		err = h.Brought(ctx, tip, []string{"archive", "sites"}, func(c Hash, changes []Change) error {
			say("brought %s %+v", c, changes)
			return nil
		})
		say("brought %s", reasonOf(err))
	}
	for i, c := range all {
		if i%5 == 0 {
			list, err := h.List(c, "")
			say("list %s %v %s", c, list, reasonOf(err))
			for _, e := range list {
				raw, err := h.Blob(e.Blob)
				say("blob %s %q %s", e.Blob, raw, reasonOf(err))
				at, err := h.BlobAt(c, e.Path)
				say("at %s %q %s", e.Path, at, reasonOf(err))
			}
			other := all[(i*7+3)%len(all)]
			changes, err := h.Diff(c, other)
			say("diff %v %s", changes, reasonOf(err))
			base, ok, err := h.MergeBase(ctx, c, other)
			say("base %s %v %s", base, ok, reasonOf(err))
			is, err := h.IsAncestor(ctx, other, c)
			say("ancestor %v %s", is, reasonOf(err))
		}
		parts, err := h.ParentChanges(c)
		say("against parents %v %s", parts, reasonOf(err))
	}
	names := make([]string, 0, len(paths))
	for p := range paths {
		names = append(names, p)
	}
	slices.Sort(names)
	for _, p := range names {
		versions, walked, err := h.FileLog(ctx, tips[0], p)
		for _, v := range versions {
			say("%s: %s %s %s<%s %s %v %v", p, v.Hash, v.Kind, v.Path, v.From, v.Blob, v.Before, v.Boundary)
		}
		say("%s walked %+v %s", p, walked, reasonOf(err))
	}
	return b.String()
}

// reasonOf is why something failed, without the words that differ.
func reasonOf(err error) string {
	for _, reason := range []error{ErrRevision, ErrAmbiguous, ErrUnborn, ErrMissing, ErrCorrupt, fs.ErrNotExist, fs.ErrInvalid} {
		if is(err, reason) {
			return reason.Error()
		}
	}
	if err != nil {
		return "error " + err.Error()
	}
	return "well"
}

func is(err, reason error) bool {
	for err != nil {
		if err == reason {
			return true
		}
		switch e := err.(type) {
		case interface{ Unwrap() error }:
			err = e.Unwrap()
		case interface{ Unwrap() []error }:
			return slices.ContainsFunc(e.Unwrap(), func(err error) bool { return is(err, reason) })
		default:
			return false
		}
	}
	return false
}

// sameAnswers holds the two stores against each other.
func sameAnswers(t *testing.T, dir, prefix string, revisions ...string) {
	t.Helper()
	place, err := Find(dir)
	if err != nil {
		t.Fatal(err)
	}
	if prefix != "" {
		place.Prefix = strings.TrimSuffix(prefix, "/")
	}
	shallow, err := readShallow(filepath.Join(place.CommonDir, "shallow"))
	if err != nil {
		t.Fatal(err)
	}
	program, err := gitProgram("test", "")
	if err != nil {
		t.Fatal(err)
	}
	git, err := newGitStore(program, place)
	if err != nil {
		t.Fatal(err)
	}
	var answers [2][]string
	for i, s := range []store{git, newGoStore(place, shallow)} {
		h := with(place, s, shallow)
		answers[i] = strings.Split(everything(h, revisions...), "\n")
		if err := h.Close(); err != nil {
			t.Error(err)
		}
	}
	differ := 0
	for i := range max(len(answers[0]), len(answers[1])) {
		var line [2]string
		for k := range line {
			if i < len(answers[k]) {
				line[k] = answers[k][i]
			}
		}
		if line[0] != line[1] {
			t.Errorf("git:    %s\ngo-git: %s", line[0], line[1])
			if differ++; differ > 4 {
				break
			}
		}
	}
	if len(answers[0]) < 20 {
		t.Errorf("only %d answers compared", len(answers[0]))
	}
}

func TestStoresAgree(t *testing.T) {
	t.Run("merges, renames, evil merges", func(t *testing.T) {
		for seed := range uint64(6) {
			prefix := []string{"", "water/journal/"}[seed%2]
			r := randomHistory(t, 200+seed, 40, prefix)
			if seed%3 == 1 {
				r.git("gc", "-q", "--aggressive")
			}
			r.git("tag", "-a", "-m", "audited", "audited", "main~5")
			r.git("tag", "light", "main~6")
			sameAnswers(t, r.dir, prefix, "audited", "light~1", r.git("rev-parse", "--short=7", "main~4"))
		}
	})
	t.Run("octopus, modes, symbolic links, strange names", func(t *testing.T) {
		r := smallJournal(t, "")
		for _, side := range []string{"a", "b", "c"} {
			r.git("checkout", "-q", "-b", side, "main")
			r.write("sites/"+side+" ä\t\"x\".md", side)
			r.commit("Side " + side)
		}
		r.git("checkout", "-q", "main")
		r.hour++
		r.git("merge", "-q", "--no-ff", "-m", "Octopus", "a", "b", "c")
		os.Chmod(filepath.Join(r.dir, "sites", "north-well.md"), 0o755)
		r.commit("Mode")
		os.Remove(filepath.Join(r.dir, "wj.yaml"))
		os.Symlink("sites/north-well.md", filepath.Join(r.dir, "wj.yaml"))
		r.commit("Link")
		os.Remove(filepath.Join(r.dir, "wj.yaml"))
		r.write("wj.yaml", "format: 1\n")
		r.commit("File again")
		r.git("rm", "-q", "-r", "sites")
		r.write("sites", "a file where a folder was\n")
		r.commit("Folder to file")
		sameAnswers(t, r.dir, "", "HEAD~4^3", "c")
	})
	t.Run("replacements and grafts", func(t *testing.T) {
		r := randomHistory(t, 300, 30, "")
		r.git("replace", "main~3", "main~9")
		os.MkdirAll(filepath.Join(r.dir, ".git", "info"), 0o777)
		os.WriteFile(filepath.Join(r.dir, ".git", "info", "grafts"), []byte(r.git("--no-replace-objects", "rev-parse", "main~5")+" "+r.git("--no-replace-objects", "rev-parse", "main~12")+"\n"), 0o666)
		sameAnswers(t, r.dir, "")
	})
	t.Run("alternates and worktrees", func(t *testing.T) {
		r := smallJournal(t, "")
		r.git("gc", "-q")
		clone := filepath.Join(t.TempDir(), "clone")
		r.git("clone", "-q", "-s", r.dir, clone)
		sameAnswers(t, clone, "", "origin")
		linked := filepath.Join(t.TempDir(), "linked")
		r.git("worktree", "add", "-q", "-b", "review", linked, "HEAD~2")
		sameAnswers(t, linked, "", "review")
	})
	t.Run("submodules", func(t *testing.T) {
		inner, r := smallJournal(t, ""), smallJournal(t, "")
		r.git("-c", "protocol.file.allow=always", "submodule", "add", "-q", inner.dir, "lab")
		r.commit("Add the lab")
		r.git("update-index", "--cacheinfo", "160000,"+inner.git("rev-parse", "HEAD~1")+",lab")
		r.hour++
		r.git("commit", "-q", "-m", "Move the lab")
		sameAnswers(t, r.dir, "")
		sameAnswers(t, filepath.Join(r.dir, "lab"), "")
	})
	t.Run("shallow", func(t *testing.T) {
		r := randomHistory(t, 301, 40, "")
		clone := filepath.Join(t.TempDir(), "clone")
		r.git("clone", "-q", "--depth", "6", "file://"+r.dir, clone)
		sameAnswers(t, clone, "")
	})
	t.Run("partial", func(t *testing.T) {
		r := smallJournal(t, "")
		r.git("config", "uploadpack.allowFilter", "true")
		for _, filter := range []string{"blob:none", "tree:0"} {
			clone := filepath.Join(t.TempDir(), "clone")
			r.git("clone", "-q", "--no-checkout", "--filter="+filter, "file://"+r.dir, clone)
			sameAnswers(t, clone, "")
		}
	})
	t.Run("unborn", func(t *testing.T) {
		r := newRepository(t)
		byGit := everything(open(t, r.dir))
		testInProcess = true
		defer func() { testInProcess = false }()
		if got := everything(open(t, r.dir)); got != byGit {
			t.Errorf("git:\n%s\ngo-git:\n%s", byGit, got)
		}
	})
	t.Run("forged commit-graph", func(t *testing.T) {
		r := smallJournal(t, "")
		r.git("gc", "-q")
		r.git("commit-graph", "write", "--reachable", "--changed-paths")
		name := filepath.Join(r.dir, ".git", "objects", "info", "commit-graph")
		whole, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		sameAnswers(t, r.dir, "")
		if _, err := os.Stat(receipt(graphDigest([]string{name}))); err != nil {
			t.Error("that the file was held against the commits is not kept:", err)
		}
		// The table of contents: 12 bytes each, behind 8 bytes of header.
		place := map[string]int{}
		for at := 8; at+12 <= len(whole) && len(place) < int(whole[6]); at += 12 {
			place[string(whole[at:at+4])] = int(binary.BigEndian.Uint64(whole[at+4:]))
		}
		commits := len(strings.Fields(r.git("rev-list", "--all")))
		forge := map[string]func(b []byte){
			"parents": func(b []byte) {
				for i := range commits { // each commit a child of the one that is first by name
					binary.BigEndian.PutUint32(b[place["CDAT"]+36*i+20:], 0)
				}
			},
			"trees": func(b []byte) {
				first := bytes.Clone(b[place["CDAT"] : place["CDAT"]+20])
				for i := range commits {
					copy(b[place["CDAT"]+36*i:], first)
				}
			},
			"roots": func(b []byte) {
				for i := range commits {
					binary.BigEndian.PutUint32(b[place["CDAT"]+36*i+20:], 0x70000000)
				}
			},
			"changed paths": func(b []byte) { clear(b[place["BDAT"]+12 : len(b)-20]) },
			"cut off":       func(b []byte) { clear(b[len(b)/2:]) },
		}
		for what, change := range forge {
			t.Run(what, func(t *testing.T) {
				forged := bytes.Clone(whole)
				change(forged)
				// With a sound checksum at the end, as somebody who forges would have it.
				copy(forged[len(forged)-20:], sha1Sum(forged[:len(forged)-20]))
				os.Chmod(name, 0o666)
				if err := os.WriteFile(name, forged, 0o666); err != nil {
					t.Fatal(err)
				}
				sameAnswers(t, r.dir, "")
			})
		}
	})
}
