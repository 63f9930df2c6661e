package history

import (
	"bytes"
	"fmt"
	"os"
	"path"
	"path/filepath"
	"runtime"
	"strconv"
	"strings"
	"sync"
	"time"
)

// indexed is a file as an index has it.
type indexed struct {
	name    string // from the top of the repository
	mode    uint32 // as in a tree
	hash    Hash
	stage   int  // 1 to 3 of a file with conflicts
	left    bool // a sparse checkout does not write it
	noted   time.Time
	written int64 // bytes of the working file when it was noted; noted is zero where that is not known
}

// isFile says that the entry is a regular file.
func (e *indexed) isFile() bool { return treeEntry{mode: e.mode}.isFile() }

// parseIndex reads what git ls-files -t --stage --debug -z printed: for each file
//
//	H 100644 <object> 0\t<name>\0  ctime: 1:2\n  mtime: 1796056168:767856900\n … \n  size: 131\tflags: 0\n
//
// git promises nothing of the lines after the name: where they are others, nothing is
// known of the working file.
func parseIndex(out []byte, f func(indexed) error) error {
	for len(out) > 0 {
		head, rest, ok := bytes.Cut(out, []byte{0})
		tag, head, tagged := bytes.Cut(head, []byte(" "))
		fields, name, named := bytes.Cut(head, []byte("\t"))
		part := bytes.Split(fields, []byte(" "))
		if !ok || !tagged || !named || len(part) != 3 {
			return fmt.Errorf("read the index: git gave %q", lineOf(out))
		}
		mode, err := strconv.ParseUint(string(part[0]), 8, 32)
		hash, valid := hexHash(part[1])
		if err != nil || !valid || len(part[2]) != 1 {
			return fmt.Errorf("read the index: git gave %q", lineOf(out))
		}
		e := indexed{name: string(name), mode: uint32(mode), hash: hash, stage: int(part[2][0] - '0'), left: string(tag) == "S"}
		sized := false
		for bytes.HasPrefix(rest, []byte("  ")) {
			var line []byte
			line, rest, _ = bytes.Cut(rest, []byte("\n"))
			if text, ok := bytes.CutPrefix(line, []byte("  mtime: ")); ok {
				e.noted = parseNoted(string(text))
			} else if text, ok := bytes.CutPrefix(line, []byte("  size: ")); ok {
				text, _, _ = bytes.Cut(text, []byte("\t"))
				e.written, err = strconv.ParseInt(string(text), 10, 64)
				sized = err == nil
			}
		}
		if !sized {
			e.noted = time.Time{}
		}
		if err := f(e); err != nil {
			return err
		}
		out = rest
	}
	return nil
}

// parseNoted reads seconds and nanoseconds, the zero time where there are none.
func parseNoted(text string) time.Time {
	seconds, nanos, ok := strings.Cut(text, ":")
	s, err := strconv.ParseInt(seconds, 10, 64)
	n, err2 := strconv.ParseInt(nanos, 10, 64)
	if !ok || err != nil || err2 != nil || s == 0 {
		return time.Time{}
	}
	return time.Unix(s, n)
}

// asNoted reports whether a working file is as it was when the index noted it, by its
// size and time, as git itself decides what it need not read again. A file written in
// the moment in which the index was may differ without that showing, and is not.
func (e *indexed) asNoted(file string, index time.Time) bool {
	if e.noted.IsZero() || e.left || e.stage != 0 || !e.isFile() || !e.noted.Before(index) {
		return false
	}
	info, err := os.Lstat(file)
	return err == nil && info.Mode().IsRegular() && info.Size() == e.written && info.ModTime().Equal(e.noted)
}

// Noted are the contents of the working files that git's index knows to be as they were
// when they were added, so that [History.Dirty] reads no other ones. It believes what
// the index notes of sizes and times: it is for a quick look, not for proof. Where there
// is no index that can be read it is empty.
func (h *History) Noted() *Contents {
	c := &Contents{number: map[string]int32{}}
	file := filepath.Join(h.place.GitDir, "index")
	info, err := os.Stat(file)
	if err != nil || !h.Working() {
		return c
	}
	var list []indexed
	err = h.store.index(file, func(e indexed) error {
		if name, inside := within(h.place.Prefix, e.name); inside {
			e.name = name
			list = append(list, e)
		}
		return nil
	})
	if err != nil {
		return c
	}
	clean := make([]bool, len(list))
	workers := runtime.GOMAXPROCS(0)
	var running sync.WaitGroup
	for w := range workers {
		running.Go(func() {
			for i := len(list) * w / workers; i < len(list)*(w+1)/workers; i++ {
				clean[i] = list[i].asNoted(filepath.Join(h.place.Journal, filepath.FromSlash(list[i].name)), info.ModTime())
			}
		})
	}
	running.Wait()
	for i := range list {
		if clean[i] {
			c.number[list[i].name] = int32(len(c.names))
			c.names = append(c.names, list[i].hash)
		}
	}
	return c
}

// leftOut gives the files of the repository that a sparse checkout does not write.
func (h *History) leftOut() (map[string]bool, error) {
	if !h.place.sparse() {
		return nil, nil
	}
	left := map[string]bool{}
	err := h.store.index(filepath.Join(h.place.GitDir, "index"), func(e indexed) error {
		if e.left {
			left[e.name] = true
		}
		return nil
	})
	if err != nil {
		return nil, fmt.Errorf("see what the sparse checkout leaves out: %w", err)
	}
	return left, nil
}

// textFile says that a file is one of those that a journal is made of.
func textFile(name string) bool {
	ext := path.Ext(name)
	return ext == ".md" || ext == ".yaml" || ext == ".json"
}
