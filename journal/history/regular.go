package history

import (
	"bytes"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"syscall"

	"github.com/go-git/go-billy/v5"
)

// openRegular opens a file of a repository for reading. In a folder that was
// handed over any of them can be a pipe or a device, which would hold the
// reader for ever: opening does not wait, and what is no plain file is refused.
func openRegular(name string) (*os.File, error) {
	f, err := os.OpenFile(name, os.O_RDONLY|syscall.O_NONBLOCK, 0)
	if err != nil {
		return nil, err
	}
	info, err := f.Stat()
	if err == nil && !info.Mode().IsRegular() {
		err = notPlain(name)
	}
	if err != nil {
		f.Close()
		return nil, err
	}
	return f, nil
}

// readRegular reads such a file whole.
func readRegular(name string) ([]byte, error) {
	f, err := openRegular(name)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	info, err := f.Stat()
	if err != nil {
		return nil, err
	}
	var b bytes.Buffer
	b.Grow(int(info.Size()) + bytes.MinRead)
	_, err = b.ReadFrom(f)
	return b.Bytes(), err
}

// plainFiles opens plain files alone, for the same reason.
type plainFiles struct{ billy.Filesystem }

func (p plainFiles) Open(name string) (billy.File, error) {
	return p.OpenFile(name, os.O_RDONLY, 0)
}

func (p plainFiles) OpenFile(name string, flag int, mode os.FileMode) (billy.File, error) {
	if info, err := p.Stat(name); err == nil && !info.Mode().IsRegular() && !info.IsDir() {
		return nil, notPlain(name)
	}
	return p.Filesystem.OpenFile(name, flag, mode)
}

func notPlain(name string) error {
	return &fs.PathError{Op: "read", Path: name, Err: fmt.Errorf("%w: it is no plain file", ErrCorrupt)}
}

func isAbsent(err error) bool {
	return errors.Is(err, fs.ErrNotExist) || errors.Is(err, syscall.ENOTDIR)
}

// plainRepository refuses a repository in which something else lies where Git
// keeps a file: the git program would wait for a pipe for ever.
func plainRepository(place Place) error {
	names := []string{filepath.Join(place.GitDir, "HEAD"), filepath.Join(place.GitDir, "index")}
	for _, name := range []string{"config", "packed-refs", "shallow"} {
		names = append(names, filepath.Join(place.CommonDir, name))
	}
	folders := []string{filepath.Join(place.CommonDir, "refs"), filepath.Join(place.CommonDir, "reftable"), filepath.Join(place.GitDir, "reftable")}
	objects := []string{filepath.Join(place.CommonDir, "objects")}
	for i := 0; i < len(objects) && i < maxAlternates; i++ {
		folders = append(folders, objects[i])
		alternates := filepath.Join(objects[i], "info", "alternates")
		raw, err := readRegular(alternates)
		if err != nil && !isAbsent(err) {
			return err
		}
		for line := range strings.Lines(string(raw)) {
			if line = strings.TrimRight(line, "\r\n"); line == "" || line[0] == '#' {
				continue
			}
			if unquoted, err := strconv.Unquote(line); err == nil {
				line = unquoted
			}
			if !filepath.IsAbs(line) {
				line = filepath.Join(objects[i], line)
			}
			if !slices.Contains(objects, line) {
				objects = append(objects, line)
			}
		}
	}
	for _, name := range names {
		if err := plain(name); err != nil {
			return err
		}
	}
	for _, folder := range folders {
		if err := plainBelow(folder, 0); err != nil {
			return err
		}
	}
	return nil
}

// maxAlternates bounds how many borrowed object folders are followed, maxDepth
// how deep folders of references nest.
const maxAlternates, maxDepth = 32, 64

func plainBelow(folder string, depth int) error {
	entries, err := os.ReadDir(folder)
	if isAbsent(err) {
		return nil
	}
	if err != nil || depth > maxDepth {
		return errors.Join(err, fmt.Errorf("%s: %w", folder, ErrCorrupt))
	}
	for _, e := range entries {
		name := filepath.Join(folder, e.Name())
		switch {
		case e.IsDir():
			err = plainBelow(name, depth+1)
		case !e.Type().IsRegular():
			err = plain(name)
		}
		if err != nil {
			return err
		}
	}
	return nil
}

// plain says why a name leads to something else than a file or a folder.
func plain(name string) error {
	info, err := os.Stat(name)
	if err == nil && !info.Mode().IsRegular() && !info.IsDir() {
		return notPlain(name)
	}
	return nil
}
