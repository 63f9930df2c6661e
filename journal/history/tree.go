package history

import (
	"bytes"
	"fmt"
	"io/fs"
	"strings"
	"sync"
)

// treeEntry is one entry of a tree object; the zero entry stands for absence.
type treeEntry struct {
	mode uint32 // as git stores it, octal in the object
	name string
	hash Hash
}

const (
	modeTree      = 0o040000
	modeRegular   = 0o100644
	modeSymlink   = 0o120000
	modeSubmodule = 0o160000
	modeKindMask  = 0o170000
)

// maxPath bounds the length of a path, as most systems do (PATH_MAX), so that
// folders in folders end.
const maxPath = 4096

func (e treeEntry) absent() bool { return e.mode == 0 }
func (e treeEntry) isTree() bool { return e.mode&modeKindMask == modeTree }

// isFile says that the entry is a regular file; a symbolic link is not.
func (e treeEntry) isFile() bool { return e.mode&modeKindMask == modeRegular&modeKindMask }

// file is the entry where it is a regular file, else the absent one.
func (e treeEntry) file() treeEntry {
	if e.isFile() {
		return e
	}
	return treeEntry{}
}

// fileMode gives the entry's mode as io/fs knows it.
func (e treeEntry) fileMode() fs.FileMode {
	switch e.mode & modeKindMask {
	case modeTree:
		return fs.ModeDir | 0o755
	case modeSymlink:
		return fs.ModeSymlink | 0o777
	case modeSubmodule:
		return fs.ModeIrregular
	}
	return fs.FileMode(e.mode & 0o777)
}

// rawEntry is one entry of a tree object, as parts of its bytes; the zero entry
// stands for absence.
type rawEntry struct {
	mode       uint32
	name, hash []byte
}

func (e rawEntry) absent() bool { return e.name == nil }
func (e rawEntry) isTree() bool { return e.mode&modeKindMask == modeTree }

func (e rawEntry) entry() treeEntry {
	if e.absent() {
		return treeEntry{}
	}
	return treeEntry{e.mode, string(e.name), hashOf(e.hash)}
}

// nextEntry cuts the first entry "mode name\0hash" off tree bytes, whose hashes
// are size bytes long. What it gives are parts of tree.
func nextEntry(tree []byte, size int) (e rawEntry, rest []byte, err error) {
	i := 0
	for ; i < len(tree) && i < 7 && tree[i] != ' '; i++ {
		if tree[i] < '0' || tree[i] > '7' {
			return e, nil, fmt.Errorf("tree: mode: %w", ErrCorrupt)
		}
		e.mode = e.mode<<3 | uint32(tree[i]-'0')
	}
	if i >= len(tree) || tree[i] != ' ' || e.mode == 0 {
		return e, nil, fmt.Errorf("tree: mode: %w", ErrCorrupt)
	}
	tree = tree[i+1:]
	end := bytes.IndexByte(tree, 0)
	if end <= 0 || len(tree) < end+1+size {
		return e, nil, fmt.Errorf("tree: entry: %w", ErrCorrupt)
	}
	e.name, e.hash = tree[:end], tree[end+1:end+1+size]
	return e, tree[end+1+size:], nil
}

// parseTree gives all entries, in git's order.
func parseTree(tree []byte, size int) ([]treeEntry, error) {
	entries := make([]treeEntry, 0, len(tree)/48)
	for len(tree) > 0 {
		e, rest, err := nextEntry(tree, size)
		if err != nil {
			return nil, err
		}
		entries = append(entries, e.entry())
		tree = rest
	}
	return entries, nil
}

// trees reads tree objects of a store and keeps those that were read lately: in
// a history each tree is compared with its neighbours.
type trees struct {
	store      store
	mu         sync.Mutex
	young, old map[Hash][]byte
	size       int // of young
}

// treeMemory bounds each of the two generations of trees that are kept.
const treeMemory = 16 << 20

func (t *trees) read(name Hash) ([]byte, error) {
	t.mu.Lock()
	data, ok := t.young[name]
	if !ok {
		data, ok = t.old[name]
	}
	t.mu.Unlock()
	if !ok {
		var err error
		if data, err = want(t.store, name, treeKind); err != nil {
			return nil, err
		}
	}
	t.mu.Lock()
	defer t.mu.Unlock()
	if _, ok := t.young[name]; !ok {
		if t.young == nil || t.size > treeMemory {
			t.old, t.young, t.size = t.young, map[Hash][]byte{}, 0
		}
		t.young[name] = data
		t.size += len(data)
	}
	return data, nil
}

func (t *trees) forget() {
	t.mu.Lock()
	defer t.mu.Unlock()
	t.young, t.old, t.size = nil, nil, 0
}

// at follows a slash path from a root tree. A path through something that is no
// folder, or that does not exist, leads to the absent entry.
func (t *trees) at(root Hash, path string) (treeEntry, error) {
	entry := treeEntry{mode: modeTree, hash: root}
	for path != "" {
		var first string
		first, path, _ = strings.Cut(path, "/")
		if !entry.isTree() {
			return treeEntry{}, nil
		}
		tree, err := t.read(entry.hash)
		if err != nil {
			return treeEntry{}, err
		}
		size, found := int(entry.hash.size), false
		for len(tree) > 0 && !found {
			e, rest, err := nextEntry(tree, size)
			if err != nil {
				return treeEntry{}, err
			}
			if found = string(e.name) == first; found {
				entry = e.entry()
			}
			tree = rest
		}
		if !found {
			return treeEntry{}, nil
		}
	}
	return entry, nil
}

// compare calls changed for every file that differs between two trees below
// path; a zero hash stands for an empty tree. Equal subtrees are not opened, nor
// those that wanted, which may be nil, does not want: it is asked for the paths
// of folders, with a slash at the end, and of files.
func (t *trees) compare(a, b Hash, path string, wanted func(path string) bool, changed func(path string, before, after treeEntry) error) error {
	if a == b {
		return nil
	}
	if len(path) > maxPath {
		return fmt.Errorf("tree: path longer than %d bytes: %w", maxPath, ErrCorrupt)
	}
	var before, after []byte
	var err error
	if !a.IsZero() {
		if before, err = t.read(a); err != nil {
			return err
		}
	}
	if !b.IsZero() {
		if after, err = t.read(b); err != nil {
			return err
		}
	}
	return compareEntries(before, after, int(max(a.size, b.size)), func(x, y rawEntry) error {
		name := x.name
		if x.absent() {
			name = y.name
		}
		full := path + string(name)
		var inX, inY Hash
		fileX, fileY := x.entry(), y.entry()
		if x.isTree() {
			inX, fileX = fileX.hash, treeEntry{}
		}
		if y.isTree() {
			inY, fileY = fileY.hash, treeEntry{}
		}
		if inX != inY && (wanted == nil || wanted(full+"/")) {
			if err := t.compare(inX, inY, full+"/", wanted, changed); err != nil {
				return err
			}
		}
		if (!fileX.absent() || !fileY.absent()) && (wanted == nil || wanted(full)) {
			return changed(full, fileX, fileY)
		}
		return nil
	})
}

// compareEntries calls f with the entries that differ between two tree objects. A
// folder and a file of one name are distinguished by their place in git's order and
// come in two calls.
func compareEntries(a, b []byte, size int, f func(x, y rawEntry) error) error {
	for len(a) > 0 || len(b) > 0 {
		var x, y rawEntry
		var restA, restB []byte
		var err error
		if len(a) > 0 {
			if x, restA, err = nextEntry(a, size); err != nil {
				return err
			}
		}
		if len(b) > 0 {
			if y, restB, err = nextEntry(b, size); err != nil {
				return err
			}
		}
		order := 0
		switch {
		case len(a) == 0:
			order = 1
		case len(b) == 0:
			order = -1
		default:
			order = compareInTree(x, y)
		}
		switch {
		case order < 0:
			err = f(x, rawEntry{})
			a = restA
		case order > 0:
			err = f(rawEntry{}, y)
			b = restB
		default:
			if x.mode != y.mode || !bytes.Equal(x.hash, y.hash) {
				err = f(x, y)
			}
			a, b = restA, restB
		}
		if err != nil {
			return err
		}
	}
	return nil
}

// compareInTree orders entries as git does: folders as if their name ended in a
// slash.
func compareInTree(x, y rawEntry) int {
	n := min(len(x.name), len(y.name))
	if c := bytes.Compare(x.name[:n], y.name[:n]); c != 0 {
		return c
	}
	next := func(e rawEntry) int {
		switch {
		case len(e.name) > n:
			return int(e.name[n])
		case e.isTree():
			return '/'
		}
		return -1
	}
	if c := next(x) - next(y); c != 0 {
		return c
	}
	return len(x.name) - len(y.name)
}
