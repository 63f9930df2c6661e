package history

import (
	"bytes"
	"compress/zlib"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"sync"
)

// Hash is the SHA-1 name of a Git object; the zero Hash names none.
type Hash [20]byte

// String gives the 40 hexadecimal digits.
func (h Hash) String() string { return hex.EncodeToString(h[:]) }

// Short gives the first ten digits, for people.
func (h Hash) Short() string { return h.String()[:10] }

// IsZero says that h names no object.
func (h Hash) IsZero() bool { return h == Hash{} }

// ParseHash reads 40 hexadecimal digits.
func ParseHash(s string) (Hash, error) {
	var h Hash
	if len(s) != 40 {
		return h, fmt.Errorf("object name %q does not have 40 digits", s)
	}
	if _, err := hex.Decode(h[:], []byte(s)); err != nil {
		return Hash{}, fmt.Errorf("object name %q is not hexadecimal", s)
	}
	return h, nil
}

// kind is an object's type, numbered as in packs (gitformat-pack(5)).
type kind byte

const (
	commitKind kind = 1
	treeKind   kind = 2
	blobKind   kind = 3
	tagKind    kind = 4
)

var kindNames = map[string]kind{"commit": commitKind, "tree": treeKind, "blob": blobKind, "tag": tagKind}

const (
	// maxObject bounds one object in memory. Records are kilobytes; the largest
	// legitimate thing in a journal is a photograph.
	maxObject = 256 << 20
	// cacheBytes bounds what is kept of objects that others are built from.
	cacheBytes = 64 << 20
	// maxAlternates bounds how many borrowed object folders are followed.
	maxAlternates = 32
)

// objects reads Git objects from packs and loose files, those of alternates
// included. It is safe for several goroutines. What read returns is shared and
// must not be changed.
//
// It exists beside go-git's object store because a whole-journal audit reads
// some 400,000 objects, and that store needed more than twice the time of
// git log --raw for them.
type objects struct {
	dirs  []string
	mu    sync.RWMutex
	packs []*pack
	cache cache
}

// openObjects opens the objects folder of a repository.
func openObjects(dir string) (*objects, error) {
	o := &objects{}
	o.cache.limit = cacheBytes
	o.addDir(dir)
	if err := o.findPacks(); err != nil {
		o.close()
		return nil, err
	}
	return o, nil
}

// addDir adds an objects folder and, depth first, those that it borrows from
// (gitrepository-layout(5), objects/info/alternates).
func (o *objects) addDir(dir string) {
	for _, known := range o.dirs {
		if known == dir {
			return
		}
	}
	if len(o.dirs) >= maxAlternates {
		return
	}
	if info, err := os.Stat(dir); len(o.dirs) > 0 && (err != nil || !info.IsDir()) {
		return // borrowed from what is no folder here: git goes on as well
	}
	o.dirs = append(o.dirs, dir)
	raw, err := readRegular(filepath.Join(dir, "info", "alternates"))
	if err != nil {
		return
	}
	for line := range strings.Lines(string(raw)) {
		line = strings.TrimRight(line, "\r\n")
		if line == "" || strings.HasPrefix(line, "#") {
			continue
		}
		if unquoted, err := strconv.Unquote(line); err == nil && line[0] == '"' {
			line = unquoted
		}
		if !filepath.IsAbs(line) {
			line = filepath.Join(dir, line)
		}
		o.addDir(filepath.Clean(line))
	}
}

// findPacks opens the packs that are not open yet.
func (o *objects) findPacks() error {
	open := map[string]bool{}
	for _, p := range o.packs {
		open[p.name] = true
	}
	for _, dir := range o.dirs {
		names, err := filepath.Glob(filepath.Join(globEscape(dir), "pack", "pack-*.idx"))
		if err != nil {
			return fmt.Errorf("list packs: %w", err)
		}
		for _, name := range names {
			name = strings.TrimSuffix(name, ".idx")
			if open[name] {
				continue
			}
			p, err := openPack(name)
			if errors.Is(err, fs.ErrNotExist) {
				continue // repacked away between listing and opening
			}
			if err != nil {
				return err
			}
			o.packs = append(o.packs, p)
		}
	}
	return nil
}

// globEscape makes the characters of a folder name mean themselves.
func globEscape(s string) string {
	return strings.NewReplacer(`\`, `\\`, "[", `\[`, "*", `\*`, "?", `\?`).Replace(s)
}

func (o *objects) close() error {
	var errs []error
	for _, p := range o.packs {
		errs = append(errs, p.file.Close())
	}
	return errors.Join(errs...)
}

// read gives an object's kind and content. The error satisfies errors.Is with
// ErrMissing or ErrCorrupt where that is the reason.
func (o *objects) read(h Hash) (kind, []byte, error) {
	k, data, err := o.readOnce(h)
	if !errors.Is(err, ErrMissing) {
		return k, data, err
	}
	// Another program may have packed the loose objects meanwhile.
	o.mu.Lock()
	before := len(o.packs)
	err = o.findPacks()
	grown := len(o.packs) > before
	o.mu.Unlock()
	if err == nil && grown {
		return o.readOnce(h)
	}
	return 0, nil, fmt.Errorf("object %s: %w", h, ErrMissing)
}

func (o *objects) readOnce(h Hash) (kind, []byte, error) {
	o.mu.RLock()
	packs := o.packs
	o.mu.RUnlock()
	for _, p := range packs {
		if offset, ok := p.find(h); ok {
			k, data, err := p.read(offset, o)
			if err != nil {
				return 0, nil, fmt.Errorf("object %s in %s: %w", h, filepath.Base(p.name), err)
			}
			return k, data, nil
		}
	}
	key := cacheKey{hash: h}
	if k, data, ok := o.cache.get(key); ok {
		return k, data, nil
	}
	for _, dir := range o.dirs {
		k, data, err := readLoose(dir, h)
		if errors.Is(err, fs.ErrNotExist) {
			continue
		}
		if err != nil {
			return 0, nil, fmt.Errorf("object %s: %w", h, err)
		}
		if k == treeKind {
			o.cache.put(key, k, data)
		}
		return k, data, nil
	}
	return 0, nil, ErrMissing
}

// want reads an object that must be of one kind.
func (o *objects) want(h Hash, k kind) ([]byte, error) {
	got, data, err := o.read(h)
	if err != nil {
		return nil, err
	}
	if got != k {
		return nil, fmt.Errorf("object %s: is not of the expected kind: %w", h, ErrCorrupt)
	}
	return data, nil
}

// readLoose reads objects/ab/cdef…: zlib over "kind size\0content".
func readLoose(dir string, h Hash) (kind, []byte, error) {
	name := h.String()
	file, err := openRegular(filepath.Join(dir, name[:2], name[2:]))
	if err != nil {
		return 0, nil, err
	}
	defer file.Close()
	z := inflaters.Get().(*inflater)
	defer inflaters.Put(z)
	z.buffered.Reset(file)
	if err := z.reset(); err != nil {
		return 0, nil, err
	}
	var head [32]byte
	n := 0
	for ; n < len(head); n++ {
		if _, err := io.ReadFull(z.zlib, head[n:n+1]); err != nil {
			return 0, nil, corrupt(err)
		}
		if head[n] == 0 {
			break
		}
	}
	word, digits, ok := bytes.Cut(head[:n], []byte(" "))
	size, err := strconv.ParseInt(string(digits), 10, 64)
	k := kindNames[string(word)]
	if !ok || err != nil || k == 0 {
		return 0, nil, fmt.Errorf("loose object header %q: %w", head[:n], ErrCorrupt)
	}
	data, err := z.readAll(size)
	return k, data, err
}

// named gives the objects whose names begin with the hexadecimal prefix, at
// most two of them: a second is enough to call the prefix ambiguous.
func (o *objects) named(prefix string) []Hash {
	seen := map[Hash]bool{}
	o.mu.RLock()
	for _, p := range o.packs {
		p.eachNamed(prefix, func(h Hash) bool {
			seen[h] = true
			return len(seen) < 64
		})
	}
	o.mu.RUnlock()
	for _, dir := range o.dirs {
		entries, _ := os.ReadDir(filepath.Join(dir, prefix[:2]))
		for _, e := range entries {
			if h, err := ParseHash(prefix[:2] + e.Name()); err == nil && strings.HasPrefix(h.String(), prefix) {
				seen[h] = true
			}
		}
	}
	var found []Hash
	for h := range seen {
		found = append(found, h)
	}
	return found
}

func corrupt(err error) error { return fmt.Errorf("%w: %w", ErrCorrupt, err) }

// cacheKey names an object by its place in a pack, or by its hash where it is
// loose.
type cacheKey struct {
	pack   *pack
	offset int64
	hash   Hash
}

type cached struct {
	kind kind
	data []byte
}

// cache keeps recently used objects in two generations: when the young one is
// half the limit it becomes the old one, and what was old and unused goes.
type cache struct {
	mu         sync.Mutex
	limit      int
	size       int
	young, old map[cacheKey]cached
}

func (c *cache) get(key cacheKey) (kind, []byte, bool) {
	c.mu.Lock()
	defer c.mu.Unlock()
	if v, ok := c.young[key]; ok {
		return v.kind, v.data, true
	}
	if v, ok := c.old[key]; ok {
		c.add(key, v)
		return v.kind, v.data, true
	}
	return 0, nil, false
}

func (c *cache) put(key cacheKey, k kind, data []byte) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.add(key, cached{k, data})
}

func (c *cache) forget() {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.young, c.old, c.size = nil, nil, 0
}

func (c *cache) add(key cacheKey, v cached) {
	if len(v.data) > c.limit/8 {
		return
	}
	if c.young == nil || c.size > c.limit/2 {
		c.old, c.young, c.size = c.young, map[cacheKey]cached{}, 0
	}
	c.young[key] = v
	c.size += len(v.data) + 96 // and about what the map entry itself takes
}

var inflaters = sync.Pool{New: func() any { return newInflater() }}

// readAll inflates exactly size bytes and checks that nothing follows, which
// also makes zlib compare its checksum.
func (z *inflater) readAll(size int64) ([]byte, error) {
	if size < 0 || size > maxObject {
		return nil, fmt.Errorf("object of %d bytes is larger than the limit of %d: %w", size, maxObject, ErrCorrupt)
	}
	// A large size is believed only as far as there is content.
	data := make([]byte, min(size, 1<<20))
	if _, err := io.ReadFull(z.zlib, data); err != nil {
		return nil, corrupt(err)
	}
	if more := size - int64(len(data)); more > 0 {
		rest, err := io.ReadAll(io.LimitReader(z.zlib, more))
		if err != nil || int64(len(rest)) < more {
			return nil, corrupt(errors.Join(io.ErrUnexpectedEOF, err))
		}
		data = append(data, rest...)
	}
	var one [1]byte
	if n, err := z.zlib.Read(one[:]); n != 0 || err != io.EOF {
		if err == nil || err == io.EOF {
			err = errors.New("more content than announced")
		}
		return nil, corrupt(err)
	}
	return data, nil
}

func (z *inflater) reset() error {
	if z.zlib == nil {
		r, err := zlib.NewReader(z.buffered)
		if err != nil {
			return corrupt(err)
		}
		z.zlib = r
		return nil
	}
	if err := z.zlib.(zlib.Resetter).Reset(z.buffered, nil); err != nil {
		return corrupt(err)
	}
	return nil
}
