package history

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
)

// Staged gives the journal's files that the next commit would hold otherwise than
// the last one, by Git's index. Files that were only announced, and those in
// conflict, are left out.
func (h *History) Staged() ([]Change, error) {
	if !h.Working() {
		return nil, nil
	}
	head, err := h.Head()
	if err != nil {
		return nil, err
	}
	there, err := h.List(head.Hash, "")
	if err != nil {
		return nil, err
	}
	committed := make(map[string]Hash, len(there))
	for _, e := range there {
		if e.Mode.IsRegular() && !hidden(e.Path) {
			committed[e.Path] = e.Blob
		}
	}
	var changes []Change
	index, entries := filepath.Join(h.place.GitDir, "index"), 0
	err = h.store.index(index, func(e indexed) error {
		entries++
		name, inside := within(h.place.Prefix, e.name)
		if !inside || hidden(name) {
			return nil
		}
		before, known := committed[name]
		delete(committed, name)
		switch {
		case before == e.hash, e.stage != 0:
		case known:
			changes = append(changes, Change{Kind: Modified, Path: name, Before: before, After: e.hash})
		case !slices.Contains(emptyBlobs, e.hash.String()):
			changes = append(changes, Change{Kind: Added, Path: name, After: e.hash})
		}
		return nil
	})
	if err != nil {
		return nil, fmt.Errorf("read what is staged: %w", err)
	}
	if _, err := os.Lstat(index); entries == 0 && errors.Is(err, fs.ErrNotExist) {
		return nil, nil // nothing was ever added here
	}
	for name, before := range committed {
		changes = append(changes, Change{Kind: Deleted, Path: name, Before: before})
	}
	slices.SortFunc(changes, func(a, b Change) int { return strings.Compare(a.Path, b.Path) })
	return changes, nil
}
