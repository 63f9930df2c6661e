package history

import (
	"errors"
	"fmt"
	"io/fs"
	"path"
	"slices"
	"strings"
	"sync"
	"time"

	"wj/journal"
	"wj/journal/frontmatter"
	"wj/journal/overlay"
)

// snapshot is the journal as one commit holds it.
type snapshot struct {
	history *History
	root    treeEntry
	when    time.Time
	mu      sync.Mutex
	folders map[Hash]*folder
}

// folder is one tree, parsed once.
type folder struct {
	sorted []treeEntry // by name, as io/fs wants them
	byName map[string]treeEntry
}

// FS gives the journal's files as they are in a commit: read-only, safe for
// several goroutines, contents fetched when a file is opened. It implements
// fs.ReadFileFS, fs.ReadDirFS and fs.StatFS; modification times are the
// commit's, Sys of a FileInfo is the object's [Hash]. Symbolic links and
// submodules are listed as such and cannot be opened. The error satisfies
// errors.Is with fs.ErrNotExist where the journal's folder is not in the commit.
func (h *History) FS(commit Hash) (fs.FS, error) {
	r, err := h.Revision(commit)
	if err != nil {
		return nil, err
	}
	root, err := h.trees.at(r.Tree, h.place.Prefix)
	if err != nil {
		return nil, h.explainMissing(err)
	}
	if !root.isTree() {
		return nil, fmt.Errorf("open the journal at %s: the folder %s was not there: %w", r.Hash.Short(), h.place.Prefix, fs.ErrNotExist)
	}
	root.name = "."
	return &snapshot{history: h, root: root, when: r.Committer.When, folders: map[Hash]*folder{}}, nil
}

func (s *snapshot) folder(tree Hash) (*folder, error) {
	s.mu.Lock()
	f := s.folders[tree]
	s.mu.Unlock()
	if f != nil {
		return f, nil
	}
	raw, err := s.history.trees.read(tree)
	if err != nil {
		return nil, s.history.explainMissing(err)
	}
	entries, err := parseTree(raw, int(tree.size))
	if err != nil {
		return nil, err
	}
	f = &folder{byName: make(map[string]treeEntry, len(entries))}
	for _, e := range entries {
		// A tree made by hand may hold names that no file system has.
		if e.name == "." || e.name == ".." || strings.ContainsAny(e.name, "/") {
			continue
		}
		if _, twice := f.byName[e.name]; !twice {
			f.byName[e.name] = e
			f.sorted = append(f.sorted, e)
		}
	}
	slices.SortFunc(f.sorted, func(a, b treeEntry) int { return strings.Compare(a.name, b.name) })
	s.mu.Lock()
	s.folders[tree] = f
	s.mu.Unlock()
	return f, nil
}

func (s *snapshot) entry(op, name string) (treeEntry, error) {
	fail := func(err error) (treeEntry, error) {
		return treeEntry{}, &fs.PathError{Op: op, Path: name, Err: err}
	}
	if !fs.ValidPath(name) {
		return fail(fs.ErrInvalid)
	}
	entry := s.root
	if name == "." {
		return entry, nil
	}
	for part := range strings.SplitSeq(name, "/") {
		if !entry.isTree() {
			return fail(fs.ErrNotExist)
		}
		f, err := s.folder(entry.hash)
		if err != nil {
			return fail(err)
		}
		var ok bool
		if entry, ok = f.byName[part]; !ok {
			return fail(fs.ErrNotExist)
		}
	}
	return entry, nil
}

// Open opens a file or folder.
func (s *snapshot) Open(name string) (fs.File, error) {
	entry, err := s.entry("open", name)
	if err != nil {
		return nil, err
	}
	if entry.isTree() {
		entries, err := s.ReadDir(name)
		if err != nil {
			return nil, err
		}
		return overlay.NewFolder(fileInfo{s, entry}, entries), nil
	}
	data, err := s.content("open", name, entry)
	if err != nil {
		return nil, err
	}
	return overlay.NewFile(fileInfo{s, entry}, data), nil
}

func (s *snapshot) content(op, name string, entry treeEntry) ([]byte, error) {
	var err error
	var data []byte
	switch {
	case entry.isFile():
		data, err = s.history.Blob(entry.hash)
	case entry.isTree():
		err = fmt.Errorf("is a folder: %w", fs.ErrInvalid)
	default:
		err = fmt.Errorf("is not a regular file: %w", fs.ErrInvalid)
	}
	if err != nil {
		return nil, &fs.PathError{Op: op, Path: name, Err: err}
	}
	return data, nil
}

// ReadFile gives a file's content; the caller may change it.
func (s *snapshot) ReadFile(name string) ([]byte, error) {
	entry, err := s.entry("read", name)
	if err != nil {
		return nil, err
	}
	return s.content("read", name, entry)
}

// ReadInto reads a record into buf, growing it when it must, and no more than a
// record may hold. Where the working file has the very content that the commit
// names, it is read instead: a hundred thousand of them cost git several times as
// much.
func (s *snapshot) ReadInto(name string, buf []byte) ([]byte, error) {
	entry, err := s.entry("read", name)
	if err != nil {
		return nil, err
	}
	if !entry.isFile() {
		_, err := s.content("read", name, entry)
		return nil, err
	}
	if working := s.history.place.Journal; !s.history.place.Bare {
		if content, err := journal.Dir(working).ReadInto(name, buf); err == nil && objectName(blobKind, content, entry.hash.size) == entry.hash {
			return content, nil
		}
	}
	k, content, err := s.history.store.object(entry.hash, frontmatter.MaxFile)
	switch {
	case errors.Is(err, ErrTooLarge):
		err = fmt.Errorf("it is larger than %d KiB: %w", frontmatter.MaxFile>>10, err)
	case err == nil && k != blobKind:
		err = fmt.Errorf("object %s: is a %s: %w", entry.hash, k, ErrCorrupt)
	}
	if err != nil {
		return nil, &fs.PathError{Op: "read", Path: name, Err: s.history.explainMissing(err)}
	}
	return content, nil
}

// ReadDir lists a folder by name.
func (s *snapshot) ReadDir(name string) ([]fs.DirEntry, error) {
	entry, err := s.entry("readdir", name)
	if err != nil {
		return nil, err
	}
	if !entry.isTree() {
		return nil, &fs.PathError{Op: "readdir", Path: name, Err: fmt.Errorf("is not a folder: %w", fs.ErrInvalid)}
	}
	f, err := s.folder(entry.hash)
	if err != nil {
		return nil, &fs.PathError{Op: "readdir", Path: name, Err: err}
	}
	list := make([]fs.DirEntry, len(f.sorted))
	for i, e := range f.sorted {
		list[i] = fs.FileInfoToDirEntry(fileInfo{s, e})
	}
	return list, nil
}

// Stat describes a file or folder.
func (s *snapshot) Stat(name string) (fs.FileInfo, error) {
	entry, err := s.entry("stat", name)
	if err != nil {
		return nil, err
	}
	entry.name = path.Base(name)
	return fileInfo{s, entry}, nil
}

type fileInfo struct {
	snapshot *snapshot
	entry    treeEntry
}

func (i fileInfo) Name() string       { return i.entry.name }
func (i fileInfo) Mode() fs.FileMode  { return i.entry.fileMode() }
func (i fileInfo) ModTime() time.Time { return i.snapshot.when }
func (i fileInfo) IsDir() bool        { return i.entry.isTree() }
func (i fileInfo) Sys() any           { return i.entry.hash }

// Size reads the object, since packs keep no sizes of results; 0 where that
// fails or the entry is no regular file.
func (i fileInfo) Size() int64 {
	if !i.entry.isFile() {
		return 0
	}
	_, data, err := i.snapshot.history.store.object(i.entry.hash, maxObject)
	if err != nil {
		return 0
	}
	return int64(len(data))
}
