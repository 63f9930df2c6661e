package history

import (
	"bytes"
	"crypto/sha1"
	"errors"
	"fmt"
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

// Dirty gives the journal's files in dir that differ from the last commit,
// sorted by path: committed ones that were changed or deleted, and new records
// (.md files, and wj.yaml). It compares contents, so neither git's index nor a
// program is needed; where line ends are all that differs, the file is clean.
// Files or folders whose names begin with a dot are left out, and what
// .gitignore names is not. In a repository without a commit everything is new.
func Dirty(dir string) ([]Change, error) {
	h, err := Open(dir)
	if err != nil {
		return nil, err
	}
	defer h.Close()
	committed := map[string]Hash{}
	head, err := h.Head()
	if err != nil && !errors.Is(err, ErrUnborn) {
		return nil, err
	}
	if err == nil {
		reader := h.objects.reader()
		root, ok, err := reader.entryAt(head.Tree, h.place.Prefix)
		if err != nil {
			return nil, h.explainMissing(err)
		}
		if ok && root.isTree() {
			err = reader.compareTrees(Hash{}, root.hash, nil, nil, func(path []byte, _, e rawEntry) error {
				if name := string(path); (treeEntry{mode: e.mode}).isFile() && !hidden(name) {
					committed[name] = e.object()
				}
				return nil
			})
			if err != nil {
				return nil, h.explainMissing(err)
			}
		}
	}
	working, err := workingFiles(h.place.Journal, committed)
	if err != nil {
		return nil, err
	}
	changes, err := h.compareWorking(committed, working)
	if err != nil {
		return nil, err
	}
	for name, e := range committed {
		if _, found := slices.BinarySearch(working, name); !found {
			changes = append(changes, Change{Kind: Deleted, Path: name, Before: e})
		}
	}
	return pairRenames(changes), nil
}

func hidden(name string) bool {
	return strings.HasPrefix(name, ".") || strings.Contains(name, "/.")
}

// workingFiles lists the regular files that are committed or look like
// records, sorted. Other repositories inside the journal are left out.
func workingFiles(journal string, committed map[string]Hash) ([]string, error) {
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
		if _, ok := committed[name]; ok || path.Ext(name) == ".md" || name == "wj.yaml" {
			files = append(files, name)
		}
		return nil
	})
	if err != nil {
		return nil, fmt.Errorf("look for uncommitted records: %w", err)
	}
	slices.Sort(files)
	return files, nil
}

// compareWorking reads the working files on several processors and compares
// each with what is committed.
func (h *History) compareWorking(committed map[string]Hash, working []string) ([]Change, error) {
	workers := runtime.GOMAXPROCS(0)
	changes := make([][]Change, workers)
	errs := make([]error, workers)
	var running sync.WaitGroup
	for w := range workers {
		running.Go(func() {
			for _, name := range working[len(working)*w/workers : len(working)*(w+1)/workers] {
				raw, err := os.ReadFile(filepath.Join(h.place.Journal, filepath.FromSlash(name)))
				if err != nil {
					errs[w] = fmt.Errorf("look for uncommitted records: %w", err)
					return
				}
				e, ok := committed[name]
				after := blobName(raw)
				switch {
				case !ok:
					changes[w] = append(changes[w], Change{Kind: Added, Path: name, After: after})
				case after != e && blobName(withLF(raw)) != e && !h.sameButForLineEnds(e, raw):
					changes[w] = append(changes[w], Change{Kind: Modified, Path: name, Before: e, After: after})
				}
			}
		})
	}
	running.Wait()
	return slices.Concat(changes...), errors.Join(errs...)
}

// sameButForLineEnds compares with a blob that itself has CR LF line ends.
func (h *History) sameButForLineEnds(blob Hash, raw []byte) bool {
	data, err := h.objects.want(blob, blobKind)
	return err == nil && bytes.IndexByte(data, '\r') >= 0 && bytes.Equal(withLF(data), withLF(raw))
}

// blobName is the name that git gives to a file's content.
func blobName(content []byte) Hash {
	sum := sha1.New()
	sum.Write([]byte("blob " + strconv.Itoa(len(content)) + "\x00"))
	sum.Write(content)
	return Hash(sum.Sum(nil))
}

func withLF(content []byte) []byte {
	if bytes.IndexByte(content, '\r') < 0 {
		return content
	}
	return bytes.ReplaceAll(content, []byte("\r\n"), []byte("\n"))
}
