package history

import (
	"bufio"
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"path/filepath"
	"slices"
	"strings"
	"sync"

	"github.com/go-git/go-billy/v5/osfs"
	"github.com/go-git/go-git/v5/plumbing"
	gitcache "github.com/go-git/go-git/v5/plumbing/cache"
	gitindex "github.com/go-git/go-git/v5/plumbing/format/index"
	"github.com/go-git/go-git/v5/plumbing/storer"
	"github.com/go-git/go-git/v5/storage/filesystem"
	"github.com/go-git/go-git/v5/storage/filesystem/dotgit"
)

// goStore reads in-process with go-git and starts nothing. Commit-graph files,
// grafts and replacements are not looked at.
type goStore struct {
	mu      sync.Mutex
	storage *filesystem.Storage
	shallow map[Hash]bool
	trees   *trees
}

func newGoStore(place Place, shallow map[Hash]bool) *goStore {
	// The storage is used without go-git's own opening, which would refuse
	// extensions.worktreeConfig (set by sparse checkouts) though it changes
	// nothing about objects and refs.
	files := dotgit.NewRepositoryFilesystem(plainFiles{osfs.New(place.GitDir)}, plainFiles{osfs.New(place.CommonDir)})
	s := &goStore{shallow: shallow}
	s.storage = filesystem.NewStorageWithOptions(files, gitcache.NewObjectLRU(32*gitcache.MiByte), filesystem.Options{
		KeepDescriptors: true, LargeObjectThreshold: 1 << 20, AlternatesFS: plainFiles{osfs.New(string(filepath.Separator))}})
	s.trees = &trees{store: s}
	return s
}

func (s *goStore) close() error {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.storage.Close()
}

// guard turns a panic of the library at a repository that was made to break it
// into an error.
func guard(err *error) {
	if r := recover(); r != nil {
		*err = fmt.Errorf("read history: %v: %w", r, ErrCorrupt)
	}
}

func (s *goStore) object(name Hash, limit int64) (kind, []byte, error) {
	if !inProcess.Load() {
		return s.readObject(name, limit)
	}
	return kept.object(name, func() (kind, []byte, error) { return s.readObject(name, limit) })
}

func (s *goStore) readObject(name Hash, limit int64) (k kind, content []byte, err error) {
	defer guard(&err)
	s.mu.Lock()
	defer s.mu.Unlock()
	if name.size != sha1Size {
		return "", nil, fmt.Errorf("object %s: %w", name, ErrMissing)
	}
	o, err := s.storage.EncodedObject(plumbing.AnyObject, plumbing.Hash(name.sum[:sha1Size]))
	switch {
	case errors.Is(err, plumbing.ErrObjectNotFound):
		return "", nil, fmt.Errorf("object %s: %w", name, ErrMissing)
	case err != nil:
		return "", nil, fmt.Errorf("object %s: %w: %w", name, ErrCorrupt, err)
	}
	switch o.Type() {
	case plumbing.CommitObject:
		k = commitKind
	case plumbing.TreeObject:
		k = treeKind
	case plumbing.BlobObject:
		k = blobKind
	case plumbing.TagObject:
		k = tagKind
	}
	if o.Size() < 0 || o.Size() > limit {
		return k, nil, tooLarge(name, o.Size(), limit)
	}
	r, err := o.Reader()
	if err != nil {
		return k, nil, fmt.Errorf("object %s: %w: %w", name, ErrCorrupt, err)
	}
	defer r.Close()
	var b bytes.Buffer
	if _, err := io.Copy(&b, io.LimitReader(r, limit)); err != nil {
		return k, nil, fmt.Errorf("object %s: %w: %w", name, ErrCorrupt, err)
	}
	return k, b.Bytes(), checkName(name, k, b.Bytes())
}

func (s *goStore) objects(ctx context.Context, names []Hash, f func(i int, k kind, content []byte, err error) error) error {
	for i, name := range names {
		if ctx.Err() != nil {
			return ctx.Err()
		}
		k, content, err := s.object(name, maxObject)
		if err := f(i, k, content, err); err != nil {
			return err
		}
	}
	return nil
}

func (s *goStore) startingWith(digits string) (found []Hash, err error) {
	defer guard(&err)
	s.mu.Lock()
	defer s.mu.Unlock()
	// By all names: the library's search by prefix wants whole bytes.
	seen := map[plumbing.Hash]bool{}
	all, err := s.storage.IterEncodedObjects(plumbing.AnyObject)
	if err != nil {
		return nil, fmt.Errorf("find object %s: %w", digits, err)
	}
	err = all.ForEach(func(o plumbing.EncodedObject) error {
		if h := o.Hash(); strings.HasPrefix(h.String(), digits) && !seen[h] {
			seen[h] = true
			found = append(found, hashOf(h[:]))
		}
		return nil
	})
	if err != nil && !errors.Is(err, storer.ErrStop) {
		return nil, fmt.Errorf("find object %s: %w", digits, err)
	}
	return found, nil
}

// resolve follows symbolic references, which nest at most five deep, as in git.
func (s *goStore) resolve(ref *plumbing.Reference, err error) (Hash, error) {
	for range 5 {
		if err != nil || ref.Type() != plumbing.SymbolicReference {
			break
		}
		ref, err = s.storage.Reference(ref.Target())
	}
	if errors.Is(err, plumbing.ErrReferenceNotFound) || err == nil && ref.Type() != plumbing.HashReference {
		return Hash{}, nil
	}
	if err != nil {
		return Hash{}, fmt.Errorf("read references: %w", err)
	}
	h := ref.Hash()
	return hashOf(h[:]), nil
}

func (s *goStore) head() (h Hash, err error) {
	defer guard(&err)
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.resolve(s.storage.Reference(plumbing.HEAD))
}

func (s *goStore) references() (list []Reference, err error) {
	defer guard(&err)
	s.mu.Lock()
	defer s.mu.Unlock()
	all, err := s.storage.IterReferences()
	if err != nil {
		return nil, fmt.Errorf("list references: %w", err)
	}
	err = all.ForEach(func(ref *plumbing.Reference) error {
		name := ref.Name().String()
		if !strings.HasPrefix(name, "refs/") || !isReferenceName(name) {
			return nil
		}
		object, err := s.resolve(ref, nil)
		if err == nil && !object.IsZero() {
			list = append(list, Reference{Name: name, Object: object})
		}
		return err
	})
	if err != nil {
		return nil, fmt.Errorf("list references: %w", err)
	}
	slices.SortFunc(list, func(a, b Reference) int { return strings.Compare(a.Name, b.Name) })
	return slices.CompactFunc(list, func(a, b Reference) bool { return a.Name == b.Name }), nil
}

// commit reads one commit with what a walk needs of it.
func (s *goStore) commit(name Hash) (*commit, error) {
	raw, err := want(s, name, commitKind)
	if err != nil {
		return nil, err
	}
	c := &commit{name: name, raw: raw}
	if c.tree, c.parents, c.when, err = links(raw); err != nil {
		return nil, fmt.Errorf("commit %s: %w", name, err)
	}
	if s.shallow[name] {
		c.parents = nil
	}
	return c, nil
}

func (s *goStore) index(file string, f func(indexed) error) (err error) {
	defer guard(&err)
	r, err := openRegular(file)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return nil // nothing was added yet
	case err != nil:
		return err
	}
	defer r.Close()
	var index gitindex.Index
	if err := gitindex.NewDecoder(bufio.NewReader(r)).Decode(&index); err != nil {
		return fmt.Errorf("read the index: %w", err)
	}
	for _, e := range index.Entries {
		one := indexed{name: e.Name, mode: uint32(e.Mode), hash: hashOf(e.Hash[:]), stage: int(e.Stage), left: e.SkipWorktree, written: int64(e.Size)}
		if e.ModifiedAt.Unix() > 0 {
			one.noted = e.ModifiedAt
		}
		if err := f(one); err != nil {
			return err
		}
	}
	return nil
}
