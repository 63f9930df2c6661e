package history

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path"
	"path/filepath"
	"strings"

	"wj/journal"
)

// Sparse reports whether the repository of the journal in dir may have a sparse
// checkout, which leaves out of the working tree what is committed.
func Sparse(dir string) bool {
	place, err := Find(dir)
	return err == nil && place.sparse()
}

func (p Place) sparse() bool {
	_, err := os.Stat(filepath.Join(p.GitDir, "info", "sparse-checkout"))
	return err == nil && !p.Bare
}

// Partial says that contents of committed files may be missing in this copy.
func (p Place) Partial() bool {
	for _, l := range p.Limits {
		if l.Name == "partial" {
			return true
		}
	}
	return false
}

// LeftOut gives the records of the last commit, and the signatures beside
// them, that a sparse checkout does not write: they are no less there. absent
// counts those whose contents are not in this copy.
func (h *History) LeftOut(ctx context.Context) (files map[string][]byte, absent int, err error) {
	left, err := h.leftOut()
	if err != nil || len(left) == 0 {
		return nil, 0, err
	}
	head, err := h.Head()
	if err != nil {
		return nil, 0, err
	}
	return h.recordsAt(ctx, head.Hash, func(name string) bool {
		if !left[path.Join(h.place.Prefix, name)] {
			return false
		}
		_, err := os.Lstat(filepath.Join(h.place.Journal, filepath.FromSlash(name)))
		return err != nil
	})
}

// Absent counts the records of a commit whose contents are not in this copy: of
// a partial clone; none can be where the copy is whole.
func (h *History) Absent(ctx context.Context, commit Hash) (int, error) {
	if !h.place.Partial() {
		return 0, nil
	}
	_, absent, err := h.recordsAt(ctx, commit, func(string) bool { return true })
	return absent, err
}

// recordsAt reads the records of a commit that are wanted, and the signatures
// beside them.
func (h *History) recordsAt(ctx context.Context, commit Hash, wanted func(name string) bool) (files map[string][]byte, absent int, err error) {
	all, err := h.List(commit, "")
	if err != nil {
		return nil, 0, err
	}
	var names []string
	var blobs []Hash
	for _, e := range all {
		_, record := journal.FileOf(strings.TrimSuffix(strings.TrimSuffix(e.Path, ".sig"), ".asc"))
		if e.Mode.IsRegular() && record && wanted(e.Path) {
			names, blobs = append(names, e.Path), append(blobs, e.Blob)
		}
	}
	files = map[string][]byte{}
	err = h.store.objects(ctx, blobs, func(i int, _ kind, content []byte, err error) error {
		switch {
		case errors.Is(err, ErrMissing):
			absent++
		case err != nil:
			return fmt.Errorf("read %s: %w", names[i], err)
		default:
			files[names[i]] = append([]byte{}, content...)
		}
		return nil
	})
	return files, absent, err
}
