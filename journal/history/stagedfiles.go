package history

import (
	"context"
	"io/fs"
	"path"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"time"

	"wj/journal"
	"wj/journal/frontmatter"
	"wj/journal/overlay"
)

// stagedFiles are a journal's files as an index has them. What the working tree holds as
// the index noted it is read there, the rest from the repository.
type stagedFiles struct {
	dir     string // the journal's folder
	noted   time.Time
	entries []indexed // sorted by name
	folders map[string][]fs.DirEntry
	changed map[string][]byte // contents of what differs from the last commit

	once sync.Once
	h    *History
	err  error
}

// newStagedFiles lists the entries, which are sorted by name.
func newStagedFiles(dir string, noted time.Time, entries []indexed) *stagedFiles {
	s := &stagedFiles{dir: dir, noted: noted, entries: entries, folders: map[string][]fs.DirEntry{".": nil}, changed: map[string][]byte{}}
	at := ""
	for i := range entries {
		e := &entries[i]
		folder := path.Dir(e.name)
		if folder != at {
			s.addFolder(folder)
			at = folder
		}
		s.folders[folder] = append(s.folders[folder], fs.FileInfoToDirEntry(stagedInfo{e.name, e.written, 0o444}))
	}
	for _, list := range s.folders {
		slices.SortFunc(list, func(a, b fs.DirEntry) int { return strings.Compare(a.Name(), b.Name()) })
	}
	return s
}

func (s *stagedFiles) addFolder(name string) {
	if _, known := s.folders[name]; known {
		return
	}
	s.folders[name] = nil
	parent := path.Dir(name)
	s.addFolder(parent)
	s.folders[parent] = append(s.folders[parent], fs.FileInfoToDirEntry(stagedInfo{name, 0, fs.ModeDir | 0o555}))
}

func (s *stagedFiles) entry(name string) *indexed {
	at, found := slices.BinarySearchFunc(s.entries, name, func(e indexed, name string) int { return strings.Compare(e.name, name) })
	if !found {
		return nil
	}
	return &s.entries[at]
}

// ReadInto reads a file into buf, growing it when it must.
func (s *stagedFiles) ReadInto(name string, buf []byte) ([]byte, error) {
	if content, ok := s.changed[name]; ok {
		if len(content) > frontmatter.MaxFile {
			return nil, &fs.PathError{Op: "read", Path: name, Err: ErrTooLarge}
		}
		return append(buf[:0], content...), nil
	}
	e := s.entry(name)
	if e == nil {
		return nil, &fs.PathError{Op: "open", Path: name, Err: fs.ErrNotExist}
	}
	if e.asNoted(filepath.Join(s.dir, filepath.FromSlash(name)), s.noted) {
		if src, err := journal.Dir(s.dir).ReadInto(name, buf); err == nil {
			return src, nil
		}
	}
	s.once.Do(func() { s.h, s.err = Open(s.dir) })
	if s.err != nil {
		return nil, &fs.PathError{Op: "read", Path: name, Err: s.err}
	}
	k, content, err := s.h.store.object(e.hash, frontmatter.MaxFile)
	if err == nil && k != blobKind {
		err = ErrCorrupt
	}
	if err != nil {
		return nil, &fs.PathError{Op: "read", Path: name, Err: s.h.explainMissing(err)}
	}
	return append(buf[:0], content...), nil
}

// ReadFile reads a file whole.
func (s *stagedFiles) ReadFile(name string) ([]byte, error) { return s.ReadInto(name, nil) }

// ReadDir lists a folder, sorted by name.
func (s *stagedFiles) ReadDir(name string) ([]fs.DirEntry, error) {
	list, ok := s.folders[name]
	if !ok {
		return nil, &fs.PathError{Op: "readdir", Path: name, Err: fs.ErrNotExist}
	}
	return slices.Clone(list), nil
}

// Open opens a file or a folder.
func (s *stagedFiles) Open(name string) (fs.File, error) {
	if !fs.ValidPath(name) {
		return nil, &fs.PathError{Op: "open", Path: name, Err: fs.ErrInvalid}
	}
	if list, ok := s.folders[name]; ok {
		return overlay.NewFolder(stagedInfo{name, 0, fs.ModeDir | 0o555}, slices.Clone(list)), nil
	}
	content, err := s.ReadInto(name, nil)
	if err != nil {
		return nil, err
	}
	return overlay.NewFile(stagedInfo{name, int64(len(content)), 0o444}, content), nil
}

func (s *stagedFiles) close() {
	if s.h != nil {
		s.h.Close()
	}
}

// read takes contents of the index at once: of what differs from the last commit.
func (s *stagedFiles) read(ctx context.Context, names []string, ask func(ctx context.Context, stdin string, args ...string) (string, error)) error {
	var wanted strings.Builder
	var found []string
	for _, name := range names {
		if e := s.entry(name); e != nil {
			wanted.WriteString(e.hash.String() + "\n")
			found = append(found, name)
		}
	}
	if len(found) == 0 {
		return nil
	}
	contents, err := ask(ctx, wanted.String(), "cat-file", "--batch")
	if err != nil {
		return err
	}
	return eachBatched([]byte(contents), found, func(name string, content []byte) { s.changed[name] = content })
}

type stagedInfo struct {
	name string
	size int64
	mode fs.FileMode
}

func (i stagedInfo) Name() string       { return path.Base(i.name) }
func (i stagedInfo) Size() int64        { return i.size }
func (i stagedInfo) Mode() fs.FileMode  { return i.mode }
func (i stagedInfo) ModTime() time.Time { return time.Time{} }
func (i stagedInfo) IsDir() bool        { return i.mode.IsDir() }
func (i stagedInfo) Sys() any           { return nil }
