package history

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"runtime"
	"slices"
	"strconv"
	"strings"
	"sync"
)

// Contents remembers what was read of a journal's files, so that [Dirty] need
// not read them again. It is safe for several goroutines; nil remembers nothing.
type Contents struct {
	size   uint8 // of the repository's object names
	mu     sync.Mutex
	number map[string]int32
	names  []Hash
}

// NewContents is for the files of the journal in dir, whose repository says how
// contents are named.
func NewContents(dir string) *Contents {
	c := &Contents{size: sha1Size}
	if place, err := Find(dir); err == nil && place.Format == "sha256" {
		c.size = sha256Size
	}
	return c
}

// Saw takes note of a file's content; path is as in a [Change].
func (c *Contents) Saw(path string, content []byte) {
	name := objectName(blobKind, content, c.size)
	c.mu.Lock()
	defer c.mu.Unlock()
	if c.number == nil {
		c.number = map[string]int32{}
	}
	if n, ok := c.number[path]; ok {
		c.names[n] = name
		return
	}
	c.number[path] = int32(len(c.names))
	c.names = append(c.names, name)
}

// Dirty gives the journal's files in dir that differ from the last commit,
// sorted by path: committed ones that were changed or deleted, and new records
// (.md files, and wj.yaml). It compares contents, so neither git's index nor a
// program is needed; where line ends are all that differs, the file is clean.
// Files or folders whose names begin with a dot are left out, and what
// .gitignore names is not. In a repository without a commit everything is new.
// Files that seen has are judged by what was seen of them; it may be nil.
func Dirty(dir string, seen *Contents) ([]Change, error) {
	h, err := Open(dir)
	if err != nil {
		return nil, err
	}
	defer h.Close()
	return h.Dirty(seen)
}

// Dirty is the function of that name for a history that is open.
func (h *History) Dirty(seen *Contents) ([]Change, error) {
	return h.dirty(func() *Contents { return seen })
}

// DirtyNoted is Dirty where nothing was read yet: what git's index notes of the files is
// believed, see [History.Noted].
func (h *History) DirtyNoted() ([]Change, error) { return h.dirty(h.Noted) }

// dirty lists the working files while ask finds what is known of them.
func (h *History) dirty(ask func() *Contents) ([]Change, error) {
	if !h.Working() {
		return nil, nil
	}
	var listed []string
	var errListed error
	var listing sync.WaitGroup
	listing.Go(func() { listed, errListed = workingFiles(h.place.Journal) })
	defer listing.Wait()
	seen := ask()
	if seen == nil {
		seen = &Contents{}
	}
	committed := map[string]Hash{} // but those that were seen to be as committed
	clean := make([]bool, len(seen.names))
	head, err := h.Head()
	if err != nil && !errors.Is(err, ErrUnborn) {
		return nil, err
	}
	if err == nil {
		root, err := h.trees.at(head.Tree, h.place.Prefix)
		if err != nil {
			return nil, h.explainMissing(err)
		}
		if root.isTree() {
			err = h.trees.compare(Hash{}, root.hash, "", nil, func(name string, _, e treeEntry) error {
				if !e.isFile() {
					return nil
				}
				if n, ok := seen.number[name]; ok && seen.names[n] == e.hash {
					clean[n] = true
				} else if !hidden(name) {
					committed[name] = e.hash
				}
				return nil
			})
			if err != nil {
				return nil, h.explainMissing(err)
			}
		}
	}
	listing.Wait()
	if errListed != nil {
		return nil, errListed
	}
	working := slices.DeleteFunc(listed, func(name string) bool {
		if n, ok := seen.number[name]; ok && clean[n] {
			return true
		}
		_, ok := committed[name]
		return !ok && path.Ext(name) != ".md" && name != "wj.yaml"
	})
	slices.Sort(working)
	changes, err := h.compareWorking(committed, working)
	if err != nil {
		return nil, err
	}
	var missing []string
	for name := range committed {
		if _, found := slices.BinarySearch(working, name); !found {
			missing = append(missing, name)
		}
	}
	if len(missing) > 0 {
		// A sparse checkout leaves out what is committed; it is not deleted.
		left, err := h.leftOut()
		if err != nil {
			return nil, err
		}
		for _, name := range missing {
			if !left[path.Join(h.place.Prefix, name)] {
				changes = append(changes, Change{Kind: Deleted, Path: name, Before: committed[name]})
			}
		}
	}
	return pairRenames(changes), nil
}

func hidden(name string) bool {
	return strings.HasPrefix(name, ".") || strings.Contains(name, "/.")
}

// workingFiles lists the regular files. Other repositories inside the journal are left out.
func workingFiles(journal string) ([]string, error) {
	var files []string
	err := fs.WalkDir(os.DirFS(journal), ".", func(name string, d fs.DirEntry, err error) error {
		switch {
		case errors.Is(err, fs.ErrNotExist):
			return nil // gone since its folder was read
		case err != nil:
			return err
		case name == ".":
			return nil
		case strings.HasPrefix(d.Name(), "."):
			if d.IsDir() {
				return fs.SkipDir
			}
			return nil
		case d.IsDir():
			if _, err := os.Lstat(filepath.Join(journal, filepath.FromSlash(name), ".git")); err == nil {
				return fs.SkipDir
			}
			return nil
		case !d.Type().IsRegular():
			return nil
		}
		files = append(files, name)
		return nil
	})
	if err != nil {
		return nil, fmt.Errorf("look for uncommitted records: %w", err)
	}
	return files, nil
}

// compareWorking reads the working files on several processors and compares
// each with what is committed.
func (h *History) compareWorking(committed map[string]Hash, working []string) ([]Change, error) {
	size := uint8(sha1Size)
	if h.place.Format == "sha256" {
		size = sha256Size
	}
	workers := runtime.GOMAXPROCS(0)
	changes := make([][]Change, workers)
	errs := make([]error, workers)
	var running sync.WaitGroup
	for w := range workers {
		running.Go(func() {
			for _, name := range working[len(working)*w/workers : len(working)*(w+1)/workers] {
				after, raw, err := nameOfFile(filepath.Join(h.place.Journal, filepath.FromSlash(name)), size)
				if err != nil {
					errs[w] = fmt.Errorf("look for uncommitted records: %w", err)
					return
				}
				e, ok := committed[name]
				switch {
				case !ok:
					changes[w] = append(changes[w], Change{Kind: Added, Path: name, After: after})
				case after != e && objectName(blobKind, withLF(raw), size) != e && !h.sameToGit(e, name, raw):
					changes[w] = append(changes[w], Change{Kind: Modified, Path: name, Before: e, After: after})
				}
			}
		})
	}
	running.Wait()
	return slices.Concat(changes...), errors.Join(errs...)
}

// textLimit is the largest file of which the content is kept for a comparison,
// hashLimit the largest that is read at all: what is larger differs from what
// is committed.
const textLimit, hashLimit = 4 << 20, 1 << 30

// nameOfFile is the name that git would give to a file's content, and the content
// where that is small. What is too large to be read has no name.
func nameOfFile(name string, size uint8) (Hash, []byte, error) {
	f, err := openRegular(name)
	if err != nil {
		return Hash{}, nil, err
	}
	defer f.Close()
	info, err := f.Stat()
	if err != nil {
		return Hash{}, nil, err
	}
	if info.Size() > hashLimit {
		return Hash{}, nil, nil
	}
	if info.Size() <= textLimit {
		raw, err := io.ReadAll(io.LimitReader(f, textLimit))
		return objectName(blobKind, raw, size), raw, err
	}
	sum := newHash(size)
	fmt.Fprintf(sum, "blob %d\x00", info.Size())
	_, err = io.Copy(sum, io.LimitReader(f, info.Size()))
	return hashOf(sum.Sum(nil)), nil, err
}

// sameToGit says that git would take the working file for what is committed: their
// line ends are all that differs, or what is committed points to the file's
// content, which is kept elsewhere (Git LFS, its specification of pointers).
func (h *History) sameToGit(blob Hash, name string, raw []byte) bool {
	data, err := want(h.store, blob, blobKind)
	if err != nil {
		return false
	}
	if m := lfsPointer().FindSubmatch(data); m != nil {
		f, err := openRegular(filepath.Join(h.place.Journal, filepath.FromSlash(name)))
		if err != nil {
			return false
		}
		defer f.Close()
		info, err := f.Stat()
		if err != nil || strconv.FormatInt(info.Size(), 10) != string(m[2]) || info.Size() > hashLimit {
			return false
		}
		sum := sha256.New()
		_, err = io.Copy(sum, io.LimitReader(f, info.Size()))
		return err == nil && hex.EncodeToString(sum.Sum(nil)) == string(m[1])
	}
	return bytes.IndexByte(data, '\r') >= 0 && bytes.Equal(withLF(data), withLF(raw))
}

var lfsPointer = pattern(`\Aversion https://git-lfs\.github\.com/spec/v1\n(?:ext-[^\n]*\n)*oid sha256:([0-9a-f]{64})\nsize ([0-9]+)\n\z`)

// LineEndsAlone says that a file's content differs from what is committed under
// its name by line ends and nothing else: git made them so at checkout
// (core.autocrlf, or eol in .gitattributes).
func (h *History) LineEndsAlone(commit Hash, name string, content []byte) bool {
	r, err := h.Revision(commit)
	if err != nil {
		return false
	}
	e, err := h.trees.at(r.Tree, path.Join(h.place.Prefix, name))
	return err == nil && e.isFile() && objectName(blobKind, withLF(content), e.hash.size) == e.hash
}

func withLF(content []byte) []byte {
	if bytes.IndexByte(content, '\r') < 0 {
		return content
	}
	return bytes.ReplaceAll(content, []byte("\r\n"), []byte("\n"))
}
