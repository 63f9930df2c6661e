package history

import (
	"context"
	"fmt"
	"io/fs"
	"path"
	"slices"
	"strings"
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

// Mainline shows the first-parent line of tip to f, the newest commit first,
// each with its raw bytes. At the boundary of a shallow copy boundary is true:
// the parents that the commit names are not here.
func (h *History) Mainline(ctx context.Context, tip Hash, f func(r Revision, raw []byte, boundary bool) error) error {
	return h.explainMissing(h.store.log(ctx, logQuery{tip: tip, firstParent: true, raw: true}, func(c *commit) error {
		r, err := parseRevision(c.name, c.raw)
		if err != nil {
			return err
		}
		return f(r, c.raw, h.shallow[c.name])
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
// Mode tells. A folder that is not there has no files.
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
