package history

import (
	"errors"
	"fmt"
	"path/filepath"
	"sync"

	"github.com/go-git/go-billy/v5/osfs"
	"github.com/go-git/go-git/v5/plumbing"
	gitcache "github.com/go-git/go-git/v5/plumbing/cache"
	"github.com/go-git/go-git/v5/storage/filesystem"
	"github.com/go-git/go-git/v5/storage/filesystem/dotgit"
)

// History reads the repository of one journal. It is safe for several
// goroutines and starts no program. Close it when done.
type History struct {
	place   Place
	refs    *filesystem.Storage
	objects *objects
	shallow map[Hash]bool // commits whose parents are not here

	graphOnce   sync.Once
	commitGraph *commitGraph
	graphMu     sync.Mutex
	lastGraph   *graph
}

// Open opens the repository that holds the journal folder dir. The error
// satisfies errors.Is with [ErrNoRepository] where there is none and with
// [ErrUnsupported] where it is of a kind that cannot be read (the hint of the
// [*Trouble] says which); the journal's files can be read in both cases.
func Open(dir string) (*History, error) {
	place, err := Find(dir)
	if err != nil {
		return nil, err
	}
	if err := place.Unreadable(); err != nil {
		return nil, err
	}
	h := &History{place: place, shallow: map[Hash]bool{}}
	// The storage is used without go-git's own opening, which would refuse
	// extensions.worktreeConfig (set by sparse checkouts) though it changes
	// nothing about objects and refs.
	h.refs = filesystem.NewStorage(dotgit.NewRepositoryFilesystem(plainFiles{osfs.New(place.GitDir)}, plainFiles{osfs.New(place.CommonDir)}), gitcache.NewObjectLRU(0))
	if h.objects, err = openObjects(filepath.Join(place.CommonDir, "objects")); err != nil {
		return nil, fmt.Errorf("open the history of %s: %w", dir, err)
	}
	boundary, err := h.refs.Shallow()
	if err != nil {
		h.Close()
		return nil, fmt.Errorf("open the history of %s: read the shallow boundary: %w", dir, err)
	}
	for _, b := range boundary {
		h.shallow[Hash(b)] = true
	}
	return h, nil
}

// Forget gives back the memory of what was read, which is found again when it
// is asked for.
func (h *History) Forget() {
	h.graphMu.Lock()
	h.lastGraph = nil
	h.graphMu.Unlock()
	h.objects.cache.forget()
}

// Close frees the files that are held open.
func (h *History) Close() error { return h.objects.close() }

// Place says where the journal lies and what is limited.
func (h *History) Place() Place { return h.place }

// Shallow says that history before some commits is not in this copy.
func (h *History) Shallow() bool { return len(h.shallow) > 0 }

// Head gives the checked-out commit, [ErrUnborn] where there is none yet.
func (h *History) Head() (Revision, error) {
	ref, err := h.refs.Reference(plumbing.HEAD)
	for range 5 { // symbolic references nest at most five deep, as in git
		if err != nil || ref.Type() != plumbing.SymbolicReference {
			break
		}
		ref, err = h.refs.Reference(ref.Target())
	}
	if errors.Is(err, plumbing.ErrReferenceNotFound) {
		return Revision{}, &Trouble{Reason: ErrUnborn, Doing: "read HEAD", Hint: "record something and commit it first"}
	}
	if err != nil {
		return Revision{}, fmt.Errorf("read HEAD: %w", err)
	}
	return h.Revision(Hash(ref.Hash()))
}

// Revision reads one commit by its full name.
func (h *History) Revision(name Hash) (Revision, error) {
	raw, err := h.objects.want(name, commitKind)
	if err != nil {
		return Revision{}, h.explainMissing(err)
	}
	return parseRevision(name, raw)
}

// Blob gives the content of a file by its object name, as a [Change] or a
// [Version] has it. The caller may change the bytes.
func (h *History) Blob(name Hash) ([]byte, error) {
	data, err := h.objects.want(name, blobKind)
	if err != nil {
		return nil, h.explainMissing(err)
	}
	return append([]byte(nil), data...), nil
}

// explainMissing adds the repository's limit that makes an object's absence
// understandable.
func (h *History) explainMissing(err error) error {
	if errors.Is(err, ErrMissing) {
		for _, l := range h.place.Limits {
			if l.Name == "partial" || l.Name == "shallow" {
				return &Trouble{Reason: err, Doing: "read history", Hint: l.Message}
			}
		}
	}
	return err
}

// parents gives the parents of a commit that are in this copy.
func (h *History) parents(r Revision) []Hash {
	if h.shallow[r.Hash] {
		return nil
	}
	return r.Parents
}
