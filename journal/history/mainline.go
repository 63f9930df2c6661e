package history

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"path"
	"slices"
	"strings"

	"github.com/go-git/go-git/v5/plumbing"
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
	all, err := h.refs.IterReferences()
	if err != nil {
		return nil, fmt.Errorf("list references: %w", err)
	}
	var list []Reference
	err = all.ForEach(func(ref *plumbing.Reference) error {
		name := ref.Name().String()
		if !strings.HasPrefix(name, "refs/") {
			return nil
		}
		object, ok, err := h.reference(name)
		if err != nil || !ok {
			return err
		}
		r := Reference{Name: name, Object: object}
		if commit, err := h.peel(object); err == nil {
			r.Commit = commit.Hash
		}
		list = append(list, r)
		return nil
	})
	if err != nil {
		return nil, fmt.Errorf("list references: %w", err)
	}
	slices.SortFunc(list, func(a, b Reference) int { return strings.Compare(a.Name, b.Name) })
	return slices.CompactFunc(list, func(a, b Reference) bool { return a.Name == b.Name }), nil
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
	raw, err := h.objects.want(name, commitKind)
	if err != nil {
		return nil, h.explainMissing(err)
	}
	return slices.Clone(raw), nil
}

// Mainline shows the first-parent line of tip to f, the newest commit first,
// each with its raw bytes, which hold for the call only. At the boundary of a
// shallow copy boundary is true: the parents that the commit names are not here.
func (h *History) Mainline(ctx context.Context, tip Hash, f func(r Revision, raw []byte, boundary bool) error) error {
	for at := tip; ; {
		if err := ctx.Err(); err != nil {
			return err
		}
		raw, err := h.objects.want(at, commitKind)
		if err != nil {
			return h.explainMissing(err)
		}
		r, err := parseRevision(at, raw)
		if err != nil {
			return err
		}
		if err := f(r, raw, h.shallow[at]); err != nil {
			return err
		}
		if h.shallow[at] || len(r.Parents) == 0 {
			return nil
		}
		at = r.Parents[0]
	}
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
	files, err := h.FS(commit)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	if err != nil {
		return nil, err
	}
	var list []Entry
	err = fs.WalkDir(files, path.Clean("./"+folder), func(name string, d fs.DirEntry, err error) error {
		if errors.Is(err, fs.ErrNotExist) {
			return nil
		}
		if err != nil || d.IsDir() {
			return err
		}
		e := files.(*snapshot)
		entry, err := e.entry("list", name)
		list = append(list, Entry{Path: name, Blob: entry.hash, Mode: entry.fileMode()})
		return err
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
	return fs.ReadFile(files, name)
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
