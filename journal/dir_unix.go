//go:build unix

package journal

import (
	"errors"
	"io/fs"
	"os"
	"strings"

	"golang.org/x/sys/unix"

	"wj/journal/frontmatter"
)

// openNoFollow opens a file that is not a symbolic link. A FIFO does not block.
func openNoFollow(name string) (*os.File, error) {
	return os.OpenFile(name, os.O_RDONLY|unix.O_NOFOLLOW|unix.O_NONBLOCK|unix.O_CLOEXEC, 0)
}

// ReadInto reads a regular file into buf, growing it when it must.
func (d Dir) ReadInto(name string, buf []byte) ([]byte, error) {
	if !fs.ValidPath(name) {
		return nil, &fs.PathError{Op: "open", Path: name, Err: fs.ErrInvalid}
	}
	return readAt(unix.AT_FDCWD, string(d)+"/"+name, name, buf)
}

// dirReader reads files of one folder after another. It keeps the folder open,
// so that the kernel need not walk the whole path for each file. Names are those
// that a listing gave.
type dirReader struct {
	dir    Dir
	folder string
	fd     int // -1 is none
}

func (d Dir) reader() fileReader { return &dirReader{dir: d, fd: -1} }

func (r *dirReader) read(name string, buf []byte) ([]byte, error) {
	slash := strings.LastIndexByte(name, '/') + 1
	folder, base := name[:slash], name[slash:]
	if folder != r.folder || r.fd < 0 {
		r.close()
		fd, err := openRetrying(unix.AT_FDCWD, string(r.dir)+"/"+folder, unix.O_RDONLY|unix.O_DIRECTORY|unix.O_CLOEXEC)
		if err != nil {
			return r.dir.ReadInto(name, buf) // which says what is wrong
		}
		r.folder, r.fd = folder, fd
	}
	return readAt(r.fd, base, name, buf)
}

func (r *dirReader) close() {
	if r.fd >= 0 {
		_ = unix.Close(r.fd)
		r.fd = -1
	}
}

func openRetrying(at int, p string, flags int) (int, error) {
	for {
		fd, err := unix.Openat(at, p, flags, 0)
		if err != unix.EINTR {
			return fd, err
		}
	}
}

// readAt reads the regular file p, as seen from the open folder at, into buf;
// name is what errors call it. Plain system calls into a kept buffer read a
// hundred thousand small files in half the time of os.ReadFile.
func readAt(at int, p, name string, buf []byte) ([]byte, error) {
	fd, err := openRetrying(at, p, unix.O_RDONLY|unix.O_NOFOLLOW|unix.O_NONBLOCK|unix.O_CLOEXEC)
	if err != nil {
		if err == unix.ELOOP {
			return nil, &fs.PathError{Op: "open", Path: name, Err: errors.New("is a symbolic link")}
		}
		return nil, &fs.PathError{Op: "open", Path: name, Err: err}
	}
	defer unix.Close(fd)
	if cap(buf) < 4096 {
		buf = make([]byte, 0, 64<<10)
	}
	buf = buf[:0]
	for {
		if len(buf) == cap(buf) {
			buf = append(buf, 0)[:len(buf)]
		}
		n, err := unix.Read(fd, buf[len(buf):cap(buf)])
		switch {
		case err == unix.EINTR:
			continue
		case err != nil:
			return nil, &fs.PathError{Op: "read", Path: name, Err: err}
		case n == 0:
			if len(buf) == 0 {
				// An empty file, or a FIFO or device that has nothing to say.
				var st unix.Stat_t
				if unix.Fstat(fd, &st) == nil && st.Mode&unix.S_IFMT != unix.S_IFREG {
					return nil, &fs.PathError{Op: "read", Path: name, Err: errors.New("is not a regular file")}
				}
			}
			return buf, nil
		}
		full := len(buf)+n == cap(buf)
		buf = buf[:len(buf)+n]
		if len(buf) > frontmatter.MaxFile {
			return nil, &fs.PathError{Op: "read", Path: name, Err: errTooLarge}
		}
		if !full {
			// A short read of a regular file is its end, but a device may go on.
			return buf, nil
		}
	}
}
