// Package overlay lays files held in memory over a folder: what an editor has
// not saved yet, or what Git's index holds, is read as if it were on disk.
//
//	fsys := overlay.New(os.DirFS(root), map[string][]byte{"sites/tap.md": typed})
//	j, err := journal.Load(fsys, journal.Options{Check: true}) // as if the editor had saved
package overlay

import (
	"bytes"
	"fmt"
	"io"
	"io/fs"
	"path"
	"slices"
	"strings"
	"time"

	"wj/journal/frontmatter"
)

// FS is a folder with files laid over it. It is read-only and safe for several
// goroutines.
type FS struct {
	base  fs.FS
	files map[string][]byte
	dirs  map[string]map[string]bool // folder → names in it, true for a folder
}

// New lays files, by their slash-separated paths, over base; a nil base is an
// empty folder. Neither the map nor its contents may change afterwards. Paths
// that are none (fs.ValidPath) are left out.
func New(base fs.FS, files map[string][]byte) *FS {
	f := &FS{base: base, files: map[string][]byte{}, dirs: map[string]map[string]bool{".": {}}}
	for name, content := range files {
		if !fs.ValidPath(name) || name == "." {
			continue
		}
		f.files[name] = content
		folder := false
		for at := name; at != "."; at = path.Dir(at) {
			parent := path.Dir(at)
			if f.dirs[parent] == nil {
				f.dirs[parent] = map[string]bool{}
			}
			f.dirs[parent][path.Base(at)] = folder
			folder = true
		}
	}
	return f
}

// Open opens a file or a folder.
func (f *FS) Open(name string) (fs.File, error) {
	if !fs.ValidPath(name) {
		return nil, &fs.PathError{Op: "open", Path: name, Err: fs.ErrInvalid}
	}
	if content, ok := f.files[name]; ok {
		return NewFile(info{name: path.Base(name), size: int64(len(content))}, content), nil
	}
	if f.dirs[name] != nil {
		entries, err := f.ReadDir(name)
		if err != nil {
			return nil, err
		}
		return NewFolder(info{name: path.Base(name), dir: true}, entries), nil
	}
	if f.base == nil {
		return nil, &fs.PathError{Op: "open", Path: name, Err: fs.ErrNotExist}
	}
	return f.base.Open(name)
}

// ReadDir lists a folder, sorted by name.
func (f *FS) ReadDir(name string) ([]fs.DirEntry, error) {
	if !fs.ValidPath(name) {
		return nil, &fs.PathError{Op: "readdir", Path: name, Err: fs.ErrInvalid}
	}
	above, laid := f.dirs[name]
	var entries []fs.DirEntry
	if f.base != nil {
		below, err := fs.ReadDir(f.base, name)
		if err != nil && !laid {
			return nil, err
		}
		for _, e := range below {
			if folder, hidden := above[e.Name()]; !hidden || folder && e.IsDir() {
				entries = append(entries, e)
			}
		}
	} else if !laid {
		return nil, &fs.PathError{Op: "readdir", Path: name, Err: fs.ErrNotExist}
	}
	for base, isFolder := range above {
		if slices.ContainsFunc(entries, func(e fs.DirEntry) bool { return e.Name() == base }) {
			continue
		}
		content := f.files[path.Join(name, base)]
		entries = append(entries, fs.FileInfoToDirEntry(info{name: base, size: int64(len(content)), dir: isFolder}))
	}
	slices.SortFunc(entries, func(a, b fs.DirEntry) int { return strings.Compare(a.Name(), b.Name()) })
	return entries, nil
}

// ReadInto reads a regular file into buf, growing it when it must, and no more
// than a record may hold.
func (f *FS) ReadInto(name string, buf []byte) ([]byte, error) {
	content, laid := f.files[name]
	if b, ok := f.base.(interface {
		ReadInto(string, []byte) ([]byte, error)
	}); ok && !laid {
		return b.ReadInto(name, buf)
	}
	if laid {
		if len(content) > frontmatter.MaxFile {
			return nil, tooLarge(name)
		}
		return append(buf[:0], content...), nil
	}
	r, err := f.Open(name)
	if err != nil {
		return nil, err
	}
	defer r.Close()
	if info, err := r.Stat(); err == nil && !info.Mode().IsRegular() {
		return nil, &fs.PathError{Op: "read", Path: name, Err: fmt.Errorf("is not a regular file")}
	}
	out := bytes.NewBuffer(buf[:0])
	if n, err := io.Copy(out, io.LimitReader(r, frontmatter.MaxFile+1)); err != nil {
		return nil, &fs.PathError{Op: "read", Path: name, Err: err}
	} else if n > frontmatter.MaxFile {
		return nil, tooLarge(name)
	}
	return out.Bytes(), nil
}

func tooLarge(name string) error {
	return &fs.PathError{Op: "read", Path: name, Err: fmt.Errorf("it is larger than %d KiB", frontmatter.MaxFile>>10)}
}

// info describes a file or folder in memory.
type info struct {
	name string
	size int64
	dir  bool
}

func (i info) Name() string       { return i.name }
func (i info) Size() int64        { return i.size }
func (i info) ModTime() time.Time { return time.Time{} }
func (i info) IsDir() bool        { return i.dir }
func (i info) Sys() any           { return nil }
func (i info) Mode() fs.FileMode {
	if i.dir {
		return fs.ModeDir | 0o555
	}
	return 0o444
}

// NewFile is an open file that is held in memory.
func NewFile(info fs.FileInfo, content []byte) fs.File {
	return &file{Reader: bytes.NewReader(content), info: info}
}

// NewFolder is an open folder with these entries, which it keeps.
func NewFolder(info fs.FileInfo, entries []fs.DirEntry) fs.ReadDirFile {
	return &folder{info: info, entries: entries}
}

type file struct {
	*bytes.Reader
	info fs.FileInfo
}

func (f *file) Stat() (fs.FileInfo, error) { return f.info, nil }
func (f *file) Close() error               { return nil }

type folder struct {
	info    fs.FileInfo
	entries []fs.DirEntry
}

func (d *folder) Stat() (fs.FileInfo, error) { return d.info, nil }
func (d *folder) Close() error               { return nil }
func (d *folder) Read([]byte) (int, error) {
	return 0, &fs.PathError{Op: "read", Path: d.info.Name(), Err: fmt.Errorf("is a folder: %w", fs.ErrInvalid)}
}

// ReadDir gives the next n entries, all that are left where n is not positive.
func (d *folder) ReadDir(n int) ([]fs.DirEntry, error) {
	if n <= 0 {
		n = len(d.entries)
	} else if len(d.entries) == 0 {
		return nil, io.EOF
	}
	n = min(n, len(d.entries))
	next := d.entries[:n]
	d.entries = d.entries[n:]
	return next, nil
}
