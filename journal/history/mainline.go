package history

import (
	"context"
	"fmt"
	"io/fs"
	"path"
	"slices"
	"strings"
	"time"
)

// Reference is a branch, a tag, a remote branch or another name of the
// repository.
type Reference struct {
	Name   string // in full: refs/heads/main
	Object Hash   // what it names; of an annotated tag the tag object
	Commit Hash   // the commit behind it, zero where there is none in this copy
}

// References gives all references with their full names, sorted by them.
func (h *History) References() ([]Reference, error) {
	h.refsOnce.Do(func() {
		if h.refs, h.refsErr = h.store.references(); h.refsErr != nil {
			h.refsErr = fmt.Errorf("list references: %w", h.refsErr)
			return
		}
		for i := range h.refs {
			if commit, err := h.peel(h.refs[i].Object); err == nil {
				h.refs[i].Commit = commit.Hash
			}
		}
	})
	return slices.Clone(h.refs), h.refsErr
}

// FullReference gives the reference of exactly this full name. The error
// satisfies errors.Is with [ErrRevision] where there is none.
func (h *History) FullReference(name string) (Reference, error) {
	all, err := h.References()
	if err != nil {
		return Reference{}, err
	}
	for _, r := range all {
		if r.Name == name {
			return r, nil
		}
	}
	return Reference{}, &Trouble{Reason: ErrRevision, Doing: "find " + name, Hint: "a full name is meant, such as refs/heads/main"}
}

// Candidates gives every reference that git would consider for a short name
// (gitrevisions(7), "refname"), in git's order. More than one means that the
// short name is ambiguous.
func (h *History) Candidates(short string) ([]Reference, error) {
	all, err := h.References()
	if err != nil {
		return nil, err
	}
	var found []Reference
	for _, full := range []string{short, "refs/" + short, "refs/tags/" + short, "refs/heads/" + short, "refs/remotes/" + short, "refs/remotes/" + short + "/HEAD"} {
		for _, r := range all {
			if r.Name == full {
				found = append(found, r)
			}
		}
	}
	return found, nil
}

// RawCommit gives the bytes of a commit object as they are stored. The caller
// may change them.
func (h *History) RawCommit(name Hash) ([]byte, error) {
	raw, err := want(h.store, name, commitKind)
	return raw, h.explainMissing(err)
}

// Link is a commit's place in history.
type Link struct {
	Hash     Hash
	Parents  []Hash    // as the commit names them; none at the boundary of a shallow copy
	When     time.Time // of the committer, to the second; zero where none can be read
	Boundary bool      // the parents that the commit names are not here
}

// Mainline gives the first-parent line of tip, the newest commit first.
func (h *History) Mainline(ctx context.Context, tip Hash) ([]Link, error) {
	all, err := h.links(ctx, tip, Hash{})
	if err != nil {
		return nil, h.explainMissing(err)
	}
	line := make([]Link, 0, len(all))
	next := tip
	for i := range all { // parents come after children
		l := &all[i]
		if l.Hash != next {
			continue
		}
		line = append(line, *l)
		if len(l.Parents) == 0 {
			break
		}
		next = l.Parents[0]
	}
	return line, nil
}

// links are the commits of EXCLUDE..TIP, children before parents; those that were
// asked for last are kept.
func (h *History) links(ctx context.Context, tip, exclude Hash) ([]Link, error) {
	h.linksMu.Lock()
	defer h.linksMu.Unlock()
	if len(h.linked) > 0 && h.linked[0].Hash == tip && h.unlinked == exclude {
		return h.linked, nil
	}
	var list []Link
	var parents []Hash
	if err := h.store.log(ctx, logQuery{tip: tip, exclude: exclude, links: true}, func(c *commit) error {
		l := Link{Hash: c.name, Boundary: h.shallow[c.name]}
		if n := len(parents); len(c.parents) > 0 {
			parents = append(parents, c.parents...)
			l.Parents = parents[n:len(parents):len(parents)]
		}
		if c.when > 0 && c.when <= maxTime {
			l.When = time.Unix(c.when, 0).UTC()
		}
		list = append(list, l)
		return nil
	}); err != nil {
		return nil, err
	}
	h.linked, h.unlinked = list, exclude
	return list, nil
}

// Brought shows what each commit of the first-parent line of tip changed in the
// outermost folders that are named, against its first parent, the newest first.
// Commits that changed nothing there are left out.
func (h *History) Brought(ctx context.Context, tip Hash, folders []string, f func(commit Hash, changes []Change) error) error {
	q := logQuery{tip: tip, firstParent: true, changes: true, dense: true, below: h.below(folders)}
	return h.explainMissing(h.store.log(ctx, q, func(c *commit) error {
		c.parents = c.parents[:min(1, len(c.parents))]
		changes, err := h.changesIn(c, folders)
		if err != nil || len(changes) == 0 {
			return err
		}
		return f(c.name, changes)
	}))
}

// Entry is one file of the journal in a commit.
type Entry struct {
	Path string // in the journal
	Blob Hash   // content, for [History.Blob]
	Mode fs.FileMode
}

// List gives every file below a folder of the journal ("" or "." is all of it)
// as a commit holds it, sorted by path: symbolic links and submodules too, which
// Mode shows. A folder that is not there has no files.
func (h *History) List(commit Hash, folder string) ([]Entry, error) {
	r, err := h.Revision(commit)
	if err != nil {
		return nil, err
	}
	folder = strings.TrimPrefix(path.Clean("/"+folder), "/")
	root, err := h.trees.at(r.Tree, path.Join(h.place.Prefix, folder))
	if err != nil || !root.isTree() {
		return nil, h.explainMissing(err)
	}
	if folder != "" {
		folder += "/"
	}
	var list []Entry
	err = h.trees.compare(Hash{}, root.hash, folder, nil, func(name string, _, e treeEntry) error {
		list = append(list, Entry{Path: name, Blob: e.hash, Mode: e.fileMode()})
		return nil
	})
	slices.SortFunc(list, func(a, b Entry) int { return strings.Compare(a.Path, b.Path) })
	return list, h.explainMissing(err)
}

// BlobAt gives one file of the journal as a commit holds it. The error satisfies
// errors.Is with fs.ErrNotExist where it is not there.
func (h *History) BlobAt(commit Hash, name string) ([]byte, error) {
	files, err := h.FS(commit)
	if err != nil {
		return nil, err
	}
	return fs.ReadFile(files, path.Clean(name))
}

// ParentChanges gives what a commit changed against each of its parents, in
// their order; a commit without parents in this copy is compared with an empty
// journal, once.
func (h *History) ParentChanges(commit Hash) ([][]Change, error) {
	r, err := h.Revision(commit)
	if err != nil {
		return nil, err
	}
	parents := h.parents(r)
	if len(parents) == 0 {
		parents = []Hash{{}}
	}
	all := make([][]Change, len(parents))
	for i, p := range parents {
		if all[i], err = h.Diff(p, commit); err != nil {
			return nil, err
		}
	}
	return all, nil
}
