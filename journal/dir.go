package journal

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
)

// Dir is a journal's folder on disk as an fs.FS. It follows no symbolic links
// and reads only regular files.
type Dir string

// Open opens a file or folder below the root.
func (d Dir) Open(name string) (fs.File, error) {
	if !fs.ValidPath(name) {
		return nil, &fs.PathError{Op: "open", Path: name, Err: fs.ErrInvalid}
	}
	if err := d.throughFolders("open", name); err != nil {
		return nil, err
	}
	f, err := openNoFollow(filepath.Join(string(d), filepath.FromSlash(name)))
	if err != nil {
		var pe *fs.PathError
		if errors.As(err, &pe) {
			pe.Path = name
		}
		return nil, err
	}
	return f, nil
}

// throughFolders refuses a path that leads through a symbolic link: a record
// may name any file of the journal, and a link would let it name any file.
func (d Dir) throughFolders(op, name string) error {
	if !fs.ValidPath(name) {
		return &fs.PathError{Op: op, Path: name, Err: fs.ErrInvalid}
	}
	for i := range len(name) {
		if name[i] != '/' {
			continue
		}
		info, err := os.Lstat(filepath.Join(string(d), filepath.FromSlash(name[:i])))
		switch {
		case err != nil:
			return &fs.PathError{Op: op, Path: name, Err: fs.ErrNotExist}
		case info.Mode()&fs.ModeSymlink != 0:
			return &fs.PathError{Op: op, Path: name, Err: errors.New("a folder of it is a symbolic link")}
		}
	}
	return nil
}

// ReadFile reads a regular file whole, within what a record or an attachment
// may hold, so that a hostile file costs neither memory nor time.
func (d Dir) ReadFile(name string) ([]byte, error) {
	if err := d.throughFolders("read", name); err != nil {
		return nil, err
	}
	if strings.HasSuffix(name, ".md") || name == SettingsFile {
		return readFile(d, name, make([]byte, 0, 4096))
	}
	f, err := d.Open(name)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	info, err := f.Stat()
	switch {
	case err != nil:
		return nil, err
	case !info.Mode().IsRegular():
		return nil, &fs.PathError{Op: "read", Path: name, Err: errors.New("is not a regular file")}
	case info.Size() > MaxAttachment:
		return nil, &fs.PathError{Op: "read", Path: name, Err: fmt.Errorf("it is larger than %d MiB", MaxAttachment>>20)}
	}
	return io.ReadAll(io.LimitReader(f, MaxAttachment))
}

// ReadIfThere is ReadFile, and nothing where there is no such file.
func (d Dir) ReadIfThere(name string) ([]byte, error) {
	src, err := d.ReadFile(name)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	return src, err
}

// ReadDir lists a folder, sorted by name.
func (d Dir) ReadDir(name string) ([]fs.DirEntry, error) {
	if !fs.ValidPath(name) {
		return nil, &fs.PathError{Op: "readdir", Path: name, Err: fs.ErrInvalid}
	}
	full := filepath.Join(string(d), filepath.FromSlash(name))
	if info, err := os.Lstat(full); err == nil && info.Mode()&fs.ModeSymlink != 0 {
		return nil, &fs.PathError{Op: "readdir", Path: name, Err: errors.New("is a symbolic link")}
	}
	return os.ReadDir(full)
}
