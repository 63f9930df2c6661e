package journal

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"runtime"
	"slices"
	"strings"
	"sync"
	"sync/atomic"
	"time"

	"wj/journal/frontmatter"
)

// worker holds what one goroutine reuses from file to file.
type worker struct {
	number int
	files  fileReader
	buf    []byte
	d      frontmatter.Document
	x      *decoder
}

// each reads and parses files on every core. do runs on several goroutines at
// once, each with a worker of its own; err is the file's read error.
func each(fsys fs.FS, files []File, saw func(path string, content []byte), do func(w *worker, i int, err error)) {
	const chunk = 64
	workers := max(1, min(runtime.GOMAXPROCS(0), (len(files)+chunk-1)/chunk))
	var next atomic.Int64
	var wait sync.WaitGroup
	for number := range workers {
		wait.Add(1)
		go func() {
			defer wait.Done()
			w := &worker{number: number, files: readerOf(fsys), buf: make([]byte, 0, 64<<10), x: newDecoder()}
			defer w.files.close()
			w.x.d = &w.d
			for {
				end := int(next.Add(chunk))
				if end-chunk >= len(files) {
					return
				}
				for i := end - chunk; i < min(end, len(files)); i++ {
					src, err := w.files.read(files[i].Path, w.buf[:0])
					if err == nil {
						w.buf = src
						if saw != nil {
							saw(files[i].Path, src)
						}
						w.d.Parse(src)
					}
					do(w, i, err)
				}
			}
		}()
	}
	wait.Wait()
}

// SessionFiles is the part of Files that are sessions.
func (j *Journal) SessionFiles() []File {
	from, _ := slices.BinarySearchFunc(j.Files, KindSession.Folder()+"/", func(f File, folder string) int { return strings.Compare(f.Path, folder) })
	to := from
	for to < len(j.Files) && j.Files[to].Kind == KindSession {
		to++
	}
	return j.Files[from:to:to]
}

// EachSession reads every session without keeping it: do gets a session that
// is only valid during the call, on several goroutines at once; worker numbers
// them from 0. A file that cannot be read or has no front matter gives nil.
func (j *Journal) EachSession(do func(worker, i int, f File, s *Session)) int {
	files := j.SessionFiles()
	sessions := make([]Session, runtime.GOMAXPROCS(0))
	each(j.FS, files, nil, func(w *worker, i int, err error) {
		if err != nil || !w.d.OK() {
			do(w.number, i, files[i], nil)
			return
		}
		s := &sessions[w.number]
		s.Kind, s.ID, s.Path = KindSession, files[i].ID, files[i].Path
		w.x.session(s)
		do(w.number, i, files[i], s)
	})
	return len(files)
}

// SessionHead is what distinguishes sessions in a list.
type SessionHead struct {
	Site, By, Source, Sample string
	Sampled                  time.Time
	Readings                 int
	Void                     *Mark
}

// EachSessionHead is EachSession for a list: it takes no reading apart. The
// fields are those of the Session, Readings its number of readings.
func (j *Journal) EachSessionHead(do func(worker, i int, f File, h *SessionHead)) int {
	files := j.SessionFiles()
	heads := make([]SessionHead, runtime.GOMAXPROCS(0))
	each(j.FS, files, nil, func(w *worker, i int, err error) {
		if err != nil || !w.d.OK() {
			do(w.number, i, files[i], nil)
			return
		}
		h := &heads[w.number]
		w.x.head(h)
		do(w.number, i, files[i], h)
	})
	return len(files)
}

// Clone is a copy of the session that outlives EachSession.
func (s *Session) Clone() *Session {
	c := *s
	c.Readings = append([]Reading(nil), s.Readings...)
	return &c
}

// errTooLarge is returned for files over the size that a record may have.
var errTooLarge = fmt.Errorf("it is larger than %d KiB", frontmatter.MaxFile>>10)

func readError(err error) string {
	var pe *fs.PathError
	if errors.As(err, &pe) {
		return pe.Err.Error()
	}
	return err.Error()
}

// fileReader reads one file after another; it belongs to one goroutine.
type fileReader interface {
	read(name string, buf []byte) ([]byte, error)
	close()
}

func readerOf(fsys fs.FS) fileReader {
	if d, ok := fsys.(Dir); ok {
		return d.reader()
	}
	return plainReader{fsys}
}

// plainReader reads each file by its whole path.
type plainReader struct{ fsys fs.FS }

func (r plainReader) read(name string, buf []byte) ([]byte, error) {
	return readFile(r.fsys, name, buf)
}
func (r plainReader) close() {}

// bufferReader is an fs.FS that can read a file into a buffer.
type bufferReader interface {
	ReadInto(name string, buf []byte) ([]byte, error)
}

// readFile reads a regular file into buf, and no more than a record may hold.
func readFile(fsys fs.FS, name string, buf []byte) ([]byte, error) {
	if b, ok := fsys.(bufferReader); ok {
		return b.ReadInto(name, buf)
	}
	f, err := fsys.Open(name)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	if info, err := f.Stat(); err == nil && !info.Mode().IsRegular() {
		return nil, fmt.Errorf("it is not a regular file")
	}
	buf = buf[:0]
	for {
		if len(buf) == cap(buf) {
			buf = append(buf, 0)[:len(buf)]
		}
		n, err := f.Read(buf[len(buf):cap(buf)])
		buf = buf[:len(buf)+n]
		if len(buf) > frontmatter.MaxFile {
			return nil, errTooLarge
		}
		if err == io.EOF {
			return buf, nil
		}
		if err != nil {
			return nil, err
		}
	}
}
