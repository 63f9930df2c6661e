//go:build !unix

package journal

import (
	"io/fs"
	"os"
)

// openNoFollow opens a file that is not a symbolic link.
func openNoFollow(name string) (*os.File, error) {
	info, err := os.Lstat(name)
	if err != nil {
		return nil, err
	}
	if !info.Mode().IsRegular() && !info.IsDir() {
		return nil, &fs.PathError{Op: "open", Path: name, Err: fs.ErrInvalid}
	}
	return os.Open(name)
}

func (d Dir) reader() fileReader { return plainReader{d} }

// ReadInto reads a regular file into buf, growing it when it must.
func (d Dir) ReadInto(name string, buf []byte) ([]byte, error) {
	src, err := d.ReadFile(name)
	return append(buf[:0], src...), err
}
