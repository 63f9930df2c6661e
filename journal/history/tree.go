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
func (o *objects) entryAt(root Hash, path string) (treeEntry, bool, error) {
	entry := treeEntry{mode: modeTree, hash: root}
	for path != "" {
		var first string
		first, path, _ = strings.Cut(path, "/")
		if !entry.isTree() {
			return treeEntry{}, false, nil
		}
		tree, err := o.want(entry.hash, treeKind)
		if err != nil {
			return treeEntry{}, false, err
		}
		var ok bool
		if entry, ok, err = entryNamed(tree, first); err != nil || !ok {
			return treeEntry{}, false, err
		}
	}
	return entry, true, nil
}

// compareTrees calls changed for every file below prefix that differs between
// two trees; a zero hash stands for an empty tree, a zero entry for absence.
// Equal subtrees are not opened.
func (o *objects) compareTrees(a, b Hash, prefix string, changed func(path string, before, after treeEntry) error) error {
	if a == b {
		return nil
	}
	if len(prefix) > maxPath {
		return fmt.Errorf("tree: path longer than %d bytes: %w", maxPath, ErrCorrupt)
	}
	var before, after []byte
	var err error
	if !a.IsZero() {
		if before, err = o.want(a, treeKind); err != nil {
			return err
		}
	}
	if !b.IsZero() {
		if after, err = o.want(b, treeKind); err != nil {
			return err
		}
	}
	return compareTreeBytes(before, after, func(x, y treeEntry) error {
		name := x.name
		if name == "" {
			name = y.name
		}
		var inX, inY Hash
		fileX, fileY := x, y
		if x.name != "" && x.isTree() {
			inX, fileX = x.hash, treeEntry{}
		}
		if y.name != "" && y.isTree() {
			inY, fileY = y.hash, treeEntry{}
		}
		if !inX.IsZero() || !inY.IsZero() {
			if err := o.compareTrees(inX, inY, prefix+name+"/", changed); err != nil {
				return err
			}
		}
		if fileX.name != "" || fileY.name != "" {
			return changed(prefix+name, fileX, fileY)
		}
		return nil
	})
}

// compareTreeBytes calls f with the entries that differ between two tree
// objects. A folder and a file of one name are told apart by their place in
// git's order and come in two calls.
func compareTreeBytes(a, b []byte, f func(x, y treeEntry) error) error {
	// What the two begin with in common is skipped; the entry in which they part
	// is found by stepping through one of them.
	same := commonPrefix(a, b)
	for at := 0; ; {
		_, _, _, rest, err := nextEntry(a)
		if err != nil || at+len(a)-len(rest) > same {
			break
		}
		at += len(a) - len(rest)
		a, b = rest, b[len(a)-len(rest):]
	}
	tail := commonSuffix(a, b)
	for len(a) > 0 || len(b) > 0 {
		if len(a) == len(b) && len(a) <= tail {
			return nil
		}
		var x, y treeEntry
		var restA, restB []byte
		if len(a) > 0 {
			mode, name, hash, rest, err := nextEntry(a)
			if err != nil {
				return err
			}
			x, restA = treeEntry{mode, string(name), Hash(hash)}, rest
		}
		if len(b) > 0 {
			mode, name, hash, rest, err := nextEntry(b)
			if err != nil {
				return err
			}
			y, restB = treeEntry{mode, string(name), Hash(hash)}, rest
		}
		order := 0
		switch {
		case len(a) == 0:
			order = 1
		case len(b) == 0:
			order = -1
		default:
			order = strings.Compare(x.sortName(), y.sortName())
		}
		var err error
		switch {
		case order < 0:
			err = f(x, treeEntry{})
			a = restA
		case order > 0:
			err = f(treeEntry{}, y)
			b = restB
		default:
			if x != y {
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

// sortName is what git orders entries by: folders as if their name ended in a
// slash.
func (e treeEntry) sortName() string {
	if e.isTree() {
		return e.name + "/"
	}
	return e.name
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
