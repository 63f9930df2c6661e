package evidence

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io/fs"
	"slices"
	"strings"
	"time"

	"wj/journal/history"
)

// Repository is what is asked of Git: [history.History] is one.
type Repository interface {
	Head() (history.Revision, error)
	Revision(history.Hash) (history.Revision, error)
	Resolve(rev string, zone *time.Location) (history.Revision, error)
	References() ([]history.Reference, error)
	Candidates(short string) ([]history.Reference, error)
	FullReference(name string) (history.Reference, error)
	Mainline(ctx context.Context, tip history.Hash) ([]history.Link, error)
	Brought(ctx context.Context, tip history.Hash, folders []string, f func(commit history.Hash, changes []history.Change) error) error
	Walk(ctx context.Context, tip history.Hash, options history.WalkOptions, f func(history.Step) error) (history.Walked, error)
	Diff(a, b history.Hash) ([]history.Change, error)
	List(commit history.Hash, folder string) ([]history.Entry, error)
	Blob(history.Hash) ([]byte, error)
	FS(commit history.Hash) (fs.FS, error)
	IsAncestor(ctx context.Context, a, b history.Hash) (bool, error)
	Verify(commit history.Hash, ring *history.Keyring, at time.Time) (history.SignatureCheck, error)
	Tags() ([]history.Tag, error)
	VerifyTag(tag history.Tag, ring *history.Keyring, at time.Time) (history.SignatureCheck, error)
	MovedFrom(commit history.Hash) (older *history.History, parent history.Hash, err error)
	Shallow() bool
	Place() history.Place
}

// branchOf is a repository with another commit in the place of the one that is
// checked out.
type branchOf struct {
	Repository
	tip history.Revision
}

func (b branchOf) Head() (history.Revision, error) { return b.tip, nil }

// Base is the branch that judges: its people, keys, roles and policy count.
type Base struct {
	Ref    string // in full, refs/heads/main; "" where a commit was named or HEAD is taken
	Commit history.Revision
}

// String names the base for people.
func (b Base) String() string {
	if b.Ref == "" {
		return "the last commit, " + b.Commit.Hash.Short()
	}
	return b.Ref + ", " + b.Commit.Hash.Short()
}

// ErrBase says that a name of a base could mean several things, or nothing.
var ErrBase = errors.New("not one base")

// FindBase finds the branch that judges. A name must mean one reference, or be a
// commit: a tag, a branch and a remote branch of one name are refused, since
// programs differ in which they take. Without a name it is the branch main, or
// master, where that is checked out; else the remote's main as it was fetched
// last, else the local one; where there is none of these, the last commit.
func FindBase(repo Repository, name string, zone *time.Location) (Base, error) {
	if name != "" {
		return namedBase(repo, name, zone)
	}
	head, err := repo.Head()
	if err != nil {
		return Base{}, err
	}
	for _, branch := range []string{"main", "master"} {
		if err := Ambiguous(repo, branch); err != nil {
			return Base{}, err
		}
		refs := []string{"refs/remotes/origin/" + branch, "refs/heads/" + branch}
		if repo.Place().Branch == branch {
			refs = refs[1:]
		}
		for _, ref := range refs {
			if r, err := repo.FullReference(ref); err == nil && !r.Commit.IsZero() {
				commit, err := repo.Revision(r.Commit)
				return Base{Ref: ref, Commit: commit}, err
			}
		}
	}
	return Base{Commit: head}, nil
}

func namedBase(repo Repository, name string, zone *time.Location) (Base, error) {
	if strings.HasPrefix(name, "refs/") {
		r, err := repo.FullReference(name)
		if err != nil {
			return Base{}, err
		}
		commit, err := repo.Revision(r.Commit)
		return Base{Ref: name, Commit: commit}, err
	}
	if err := Ambiguous(repo, name); err != nil {
		return Base{}, err
	}
	found, err := repo.Candidates(name)
	if err != nil {
		return Base{}, err
	}
	if len(found) == 1 && !found[0].Commit.IsZero() {
		commit, err := repo.Revision(found[0].Commit)
		return Base{Ref: found[0].Name, Commit: commit}, err
	}
	commit, err := repo.Resolve(name, zone)
	return Base{Commit: commit}, err
}

// Ambiguous refuses a short name that several references share. Where all name
// the same commit it is refused as well: they will part.
func Ambiguous(repo Repository, name string) error {
	found, err := repo.Candidates(name)
	if err != nil || len(found) < 2 {
		return err
	}
	var names []string
	for _, r := range found {
		names = append(names, r.Name)
	}
	return fmt.Errorf("find the branch %q that judges: it could be %s: %w", name, strings.Join(names, " or "), ErrBase)
}

// BranchesAside are the branches of this copy and those of remotes as they were fetched
// last that hold commits of which neither the branch that judges nor the checked-out
// one knows, the newest first. Of a branch that is here and at a remote it is the one
// that is ahead, or both where they parted.
func BranchesAside(ctx context.Context, repo Repository, base Base) ([]history.Reference, error) {
	all, err := repo.References()
	if err != nil {
		return nil, err
	}
	head, err := repo.Head()
	if err != nil {
		return nil, err
	}
	var out []history.Reference
	when := map[string]time.Time{}
	for _, r := range all {
		branch := strings.HasPrefix(r.Name, "refs/heads/") || strings.HasPrefix(r.Name, "refs/remotes/") && !strings.HasSuffix(r.Name, "/HEAD")
		if !branch || r.Commit.IsZero() {
			continue
		}
		known := false
		for _, tip := range []history.Hash{base.Commit.Hash, head.Hash} {
			held, err := repo.IsAncestor(ctx, r.Commit, tip)
			if err != nil {
				return nil, err
			}
			known = known || held
		}
		for i := 0; i < len(out) && !known; i++ {
			if onItsOwn(out[i].Name) != onItsOwn(r.Name) {
				continue
			}
			if known, err = repo.IsAncestor(ctx, r.Commit, out[i].Commit); err != nil {
				return nil, err
			}
			ahead, err := repo.IsAncestor(ctx, out[i].Commit, r.Commit)
			if err != nil {
				return nil, err
			}
			if ahead && !known {
				out = slices.Delete(out, i, i+1)
				i--
			}
		}
		if known {
			continue
		}
		tip, err := repo.Revision(r.Commit)
		if err != nil {
			return nil, err
		}
		when[r.Name] = tip.Committer.When
		out = append(out, r)
	}
	slices.SortStableFunc(out, func(a, b history.Reference) int { return when[b.Name].Compare(when[a.Name]) })
	return out, nil
}

// Had reports whether the mainline holds this content of a file that judges, or held it
// once: a branch that was squashed brings nothing more.
func (m *Mainline) Had(path string, content []byte) bool {
	t := m.files[recordKey(path)]
	return t != nil && slices.ContainsFunc(t.versions, func(v fileVersion) bool {
		if v.at >= Pending || v.blob.IsZero() {
			return false
		}
		there, err := m.repo.Blob(v.blob)
		return err == nil && bytes.Equal(there, content)
	})
}

// onItsOwn is a branch's name without the remote that it is at.
func onItsOwn(ref string) string {
	if name, here := strings.CutPrefix(ref, "refs/heads/"); here {
		return name
	}
	_, name, _ := strings.Cut(strings.TrimPrefix(ref, "refs/remotes/"), "/")
	return name
}
