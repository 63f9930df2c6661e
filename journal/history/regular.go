package history

import (
	"bytes"
	"fmt"
	"io/fs"
	"os"
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
