package history

import (
	"bytes"
	"fmt"
	"io/fs"
	"strings"
)

// treeEntry is one entry of a tree object.
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

func (e treeEntry) isTree() bool { return e.mode&modeKindMask == modeTree }

// isFile says that the entry is a regular file; a symbolic link is not.
func (e treeEntry) isFile() bool { return e.mode&modeKindMask == modeRegular&modeKindMask }

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

// nextEntry cuts the first entry "mode name\0hash" off tree bytes. name is a
// part of tree.
func nextEntry(tree []byte) (mode uint32, name, hash, rest []byte, err error) {
	i := 0
	for ; i < len(tree) && i < 7 && tree[i] != ' '; i++ {
		if tree[i] < '0' || tree[i] > '7' {
			return 0, nil, nil, nil, fmt.Errorf("tree: mode: %w", ErrCorrupt)
		}
		mode = mode<<3 | uint32(tree[i]-'0')
	}
	if i == 0 || i >= len(tree) || tree[i] != ' ' {
		return 0, nil, nil, nil, fmt.Errorf("tree: mode: %w", ErrCorrupt)
	}
	tree = tree[i+1:]
	end := bytes.IndexByte(tree, 0)
	if end <= 0 || len(tree) < end+21 {
		return 0, nil, nil, nil, fmt.Errorf("tree: entry: %w", ErrCorrupt)
	}
	return mode, tree[:end], tree[end+1 : end+21], tree[end+21:], nil
}

// parseTree gives all entries, in git's order.
func parseTree(tree []byte) ([]treeEntry, error) {
	entries := make([]treeEntry, 0, len(tree)/48)
	for len(tree) > 0 {
		mode, name, hash, rest, err := nextEntry(tree)
		if err != nil {
			return nil, err
		}
		entries = append(entries, treeEntry{mode, string(name), Hash(hash)})
		tree = rest
	}
	return entries, nil
}

// entryNamed finds one entry. The name is searched as bytes; since the bytes of
// a hash could imitate a name, a hit counts only where stepping from entry to
// entry leads to it.
func entryNamed(tree []byte, name string) (treeEntry, bool, error) {
	wanted := []byte(" " + name + "\x00")
	for at, hit := 0, -1; ; {
		if hit < at {
			i := bytes.Index(tree[at:], wanted)
			if i < 0 {
				return treeEntry{}, false, nil
			}
			hit = at + i
		}
		end := bytes.IndexByte(tree[at:], 0)
		if end < 0 || at+end+21 > len(tree) {
			return treeEntry{}, false, fmt.Errorf("tree: entry: %w", ErrCorrupt)
		}
		if hit < at+end {
			mode, found, hash, _, err := nextEntry(tree[at:])
			if err != nil {
				return treeEntry{}, false, err
			}
			if string(found) == name {
				return treeEntry{mode, name, Hash(hash)}, true, nil
			}
		}
		at += end + 21
	}
}

// entryAt follows a slash path from a root tree. A path through something that
// is no folder, or that does not exist, is not found.
func (r *reader) entryAt(root Hash, path string) (treeEntry, bool, error) {
	entry := treeEntry{mode: modeTree, hash: root}
	for path != "" {
		var first string
		first, path, _ = strings.Cut(path, "/")
		if !entry.isTree() {
			return treeEntry{}, false, nil
		}
		tree, err := r.tree(entry.hash)
		if err != nil {
			return treeEntry{}, false, err
		}
		var ok bool
		if entry, ok, err = entryNamed(tree.data, first); err != nil || !ok {
			return treeEntry{}, false, err
		}
	}
	return entry, true, nil
}

// rawEntry is one entry of a tree object, as parts of its bytes; the zero entry
// stands for absence.
type rawEntry struct {
	mode       uint32
	name, hash []byte
}

func (e rawEntry) absent() bool { return e.name == nil }
func (e rawEntry) isTree() bool { return e.mode&modeKindMask == modeTree }

// object is the entry's hash, zero where it is absent.
func (e rawEntry) object() Hash {
	if e.absent() {
		return Hash{}
	}
	return Hash(e.hash)
}

// compareTrees calls changed for every file below path that differs between two
// trees; a zero hash stands for an empty tree. Equal subtrees are not opened,
// nor those that skip, which may be nil, says to leave out by their name at the
// top. What changed is given holds for the call only.
func (r *reader) compareTrees(a, b Hash, path []byte, skip func(name []byte) bool, changed func(path []byte, before, after rawEntry) error) error {
	if a == b {
		return nil
	}
	if len(path) > maxPath {
		return fmt.Errorf("tree: path longer than %d bytes: %w", maxPath, ErrCorrupt)
	}
	before, after := &treeItem{}, &treeItem{}
	var err error
	depth := bytes.Count(path, []byte("/"))
	if !b.IsZero() {
		if after, err = r.treeAgain(b, depth); err != nil {
			return err
		}
	}
	if !a.IsZero() {
		if before, err = r.tree(a); err != nil {
			return err
		}
		if depth < len(r.recent) {
			r.recent[depth] = recentTree{a, before}
		}
	}
	return compareItems(before, after, func(x, y rawEntry) error {
		name := x.name
		if x.absent() {
			name = y.name
		}
		if skip != nil && skip(name) {
			return nil
		}
		full := append(path, name...)
		var inX, inY Hash
		fileX, fileY := x, y
		if x.isTree() {
			inX, fileX = x.object(), rawEntry{}
		}
		if y.isTree() {
			inY, fileY = y.object(), rawEntry{}
		}
		if inX != inY {
			if err := r.compareTrees(inX, inY, append(full, '/'), nil, changed); err != nil {
				return err
			}
		}
		if !fileX.absent() || !fileY.absent() {
			return changed(full, fileX, fileY)
		}
		return nil
	})
}

// markSpacing is how far apart marks are at least: less than this is stepped
// through to find where two trees part.
const markSpacing = 2 << 10

// upTo gives the marks that are at most n.
func upTo(marks []int32, n int) []int32 {
	i := len(marks)
	for i > 0 && int(marks[i-1]) > n {
		i--
	}
	return marks[:i:i]
}

// begin finds the entry in which two trees part that have their first same
// bytes in common. Where an entry begins can only be told from the one before;
// so the places that were found are marked, for the next tree that begins alike.
func begin(a, b *treeItem, same int) int {
	marks := upTo(a.marks, same)
	if other := upTo(b.marks, same); len(other) > 0 && (len(marks) == 0 || other[len(other)-1] > marks[len(marks)-1]) {
		marks = other
	}
	at, last := 0, 0
	if n := len(marks); n > 0 {
		at, last = int(marks[n-1]), int(marks[n-1])
	}
	data := a.data
	for {
		end := bytes.IndexByte(data[at:], 0)
		if end < 0 || at+end+21 > same {
			break
		}
		// The steps are over what both have; a broken entry is told where they part.
		if _, _, _, _, err := nextEntry(data[at : at+end+21]); err != nil {
			break
		}
		if at += end + 21; at-last >= markSpacing {
			marks, last = append(marks, int32(at)), at
		}
	}
	for _, t := range []*treeItem{a, b} {
		if len(marks) > len(t.marks) {
			t.marks = marks
		}
	}
	return at
}

// compareItems calls f with the entries that differ between two tree objects. A
// folder and a file of one name are told apart by their place in git's order and
// come in two calls.
func compareItems(first, second *treeItem, f func(x, y rawEntry) error) error {
	a, b := first.data, second.data
	at := begin(first, second, commonPrefix(a, b))
	a, b = a[at:], b[at:]
	tail := commonSuffix(a, b)
	for len(a) > 0 || len(b) > 0 {
		if len(a) == len(b) && len(a) <= tail {
			return nil
		}
		var x, y rawEntry
		var restA, restB []byte
		var err error
		if len(a) > 0 {
			if x.mode, x.name, x.hash, restA, err = nextEntry(a); err != nil {
				return err
			}
		}
		if len(b) > 0 {
			if y.mode, y.name, y.hash, restB, err = nextEntry(b); err != nil {
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

func commonPrefix(a, b []byte) int {
	n := min(len(a), len(b))
	i := 0
	for ; i+256 <= n && bytes.Equal(a[i:i+256], b[i:i+256]); i += 256 {
	}
	for i < n && a[i] == b[i] {
		i++
	}
	return i
}

func commonSuffix(a, b []byte) int {
	n := min(len(a), len(b))
	i := 0
	for ; i+256 <= n && bytes.Equal(a[len(a)-i-256:len(a)-i], b[len(b)-i-256:len(b)-i]); i += 256 {
	}
	for i < n && a[len(a)-1-i] == b[len(b)-1-i] {
		i++
	}
	return i
}
