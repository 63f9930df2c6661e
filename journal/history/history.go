package history

import (
	"context"
	"errors"
	"fmt"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"sync/atomic"
)

// History reads the repository of one journal. It is safe for several
// goroutines. Close it when done.
type History struct {
	place   Place
	store   store
	trees   *trees
	shallow map[Hash]bool // commits whose parents are not here
	pinned  Hash          // read as if this commit were checked out; zero: what HEAD leads to

	linksMu  sync.Mutex
	linked   []Link // see links
	unlinked Hash

	refsOnce sync.Once
	refs     []Reference
	refsErr  error
}

var untrusted atomic.Bool

// TrustNothing makes this process start no program from now on: history is read
// in-process, and what only git can do, committing above all, is refused with
// [ErrUntrusted]. It is for journals from somebody else.
func TrustNothing() { untrusted.Store(true) }

// GitProgram finds the git program for a package that writes, or unpacks, with
// it; see gitProgram for the errors.
func GitProgram(doing string) (string, error) { return gitProgram(doing, "") }

// gitProgram finds the git program. The error is a [*Trouble] with the reason
// ErrNoGit, or ErrUntrusted after [TrustNothing].
func gitProgram(doing, hint string) (string, error) {
	if untrusted.Load() {
		return "", &Trouble{Reason: ErrUntrusted, Doing: doing, Hint: "do it without --untrusted, if you trust the folder"}
	}
	program, err := exec.LookPath("git")
	if err != nil {
		return "", &Trouble{Reason: ErrNoGit, Doing: doing, Hint: hint}
	}
	return program, nil
}

// Open opens the repository that holds the journal folder dir. It is read
// through the git program, or in-process where there is none, after
// [TrustNothing], and where the repository is another user's. The error
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
	shallow, err := readShallow(filepath.Join(place.CommonDir, "shallow"))
	if err != nil {
		return nil, fmt.Errorf("open the history of %s: read the shallow boundary: %w", dir, err)
	}
	// What git cannot be let at is read in-process, with the errors that it gives.
	if program, err := gitProgram("read history", ""); err == nil && !place.foreign() && (!inProcess.Load() || place.needsGit()) {
		s, err := newGitStore(program, place)
		if err == nil && place.needsGit() {
			if _, err = s.head(); err != nil {
				s.close()
			}
		}
		if err == nil {
			return with(place, s, shallow), nil
		}
		if place.needsGit() {
			return nil, fmt.Errorf("open the history of %s: %w", dir, err)
		}
	}
	if place.needsGit() {
		return nil, place.withoutGit()
	}
	return with(place, newGoStore(place, shallow), shallow), nil
}

// with reads a repository by one of the two stores.
func with(place Place, s store, shallow map[Hash]bool) *History {
	return &History{place: place, store: s, trees: &trees{store: s}, shallow: shallow}
}

// readShallow reads the names of the commits whose parents are not here.
func readShallow(name string) (map[Hash]bool, error) {
	raw, err := readRegular(name)
	boundary := map[Hash]bool{}
	if err != nil {
		if isAbsent(err) {
			return boundary, nil
		}
		return nil, err
	}
	for word := range strings.FieldsSeq(string(raw)) {
		hash, err := ParseHash(word)
		if err != nil {
			return nil, err
		}
		boundary[hash] = true
	}
	return boundary, nil
}

// Forget gives back the memory of what was read, which is found again when it
// is asked for.
func (h *History) Forget() { h.trees.forget() }

// Close ends the programs that were started and frees the files held open.
func (h *History) Close() error { return h.store.close() }

// Place says where the journal lies and what is limited.
func (h *History) Place() Place { return h.place }

// Shallow says that history before some commits is not in this copy.
func (h *History) Shallow() bool { return len(h.shallow) > 0 }

// Pin makes h read as if a commit were checked out, whole and with nothing else
// beside it: Head gives it, and nothing is uncommitted.
func (h *History) Pin(commit Hash) { h.pinned, h.place.Branch = commit, "" }

// Working says whether there are working files beside what is committed: not in
// a bare repository, nor where a commit is pinned.
func (h *History) Working() bool { return !h.place.Bare && h.pinned.IsZero() }

// Head gives the checked-out commit, [ErrUnborn] where there is none yet.
func (h *History) Head() (Revision, error) {
	if !h.pinned.IsZero() {
		return h.Revision(h.pinned)
	}
	name, err := h.store.head()
	if err != nil {
		return Revision{}, fmt.Errorf("read HEAD: %w", err)
	}
	if name.IsZero() {
		return Revision{}, &Trouble{Reason: ErrUnborn, Doing: "read HEAD", Hint: "record something and commit it first"}
	}
	return h.Revision(name)
}

// Revision reads one commit by its full name.
func (h *History) Revision(name Hash) (Revision, error) {
	raw, err := want(h.store, name, commitKind)
	if err != nil {
		return Revision{}, h.explainMissing(err)
	}
	return parseRevision(name, raw)
}

// Blob gives the content of a file by its object name, as a [Change] or a
// [Version] has it. The caller may change the bytes.
func (h *History) Blob(name Hash) ([]byte, error) {
	data, err := want(h.store, name, blobKind)
	return data, h.explainMissing(err)
}

// Blobs gives the contents of many files in their order, which is much faster
// than one by one. What f is given holds for the call; an error of f ends it and
// is returned.
func (h *History) Blobs(ctx context.Context, names []Hash, f func(i int, content []byte) error) error {
	return h.store.objects(ctx, names, func(i int, k kind, content []byte, err error) error {
		if err == nil && k != blobKind {
			err = fmt.Errorf("object %s: is a %s, not a %s: %w", names[i], k, blobKind, ErrCorrupt)
		}
		if err != nil {
			return h.explainMissing(err)
		}
		return f(i, content)
	})
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

// IsAncestor says whether commit a is commit b or one of its ancestors, as far
// as history is in this copy.
func (h *History) IsAncestor(ctx context.Context, a, b Hash) (bool, error) {
	if a == b {
		return true, nil
	}
	bases, err := h.store.mergeBases(ctx, a, b)
	return slices.Contains(bases, a), h.explainMissing(err)
}

// MergeBase gives the best common ancestor of two commits: one that no other
// common ancestor descends from, the newest where there are several. Not ok
// where the two have no history in common here.
func (h *History) MergeBase(ctx context.Context, a, b Hash) (Hash, bool, error) {
	bases, err := h.store.mergeBases(ctx, a, b)
	if err != nil || len(bases) == 0 {
		return Hash{}, false, h.explainMissing(err)
	}
	return bases[0], true, nil
}
