package history

import (
	"bytes"
	"context"
	"crypto/sha1"
	"crypto/sha256"
	"fmt"
	"hash"
	"strconv"
)

// store reads one repository. There are two: gitStore asks the git program,
// goStore reads in-process with go-git and runs nothing. They give the same
// answers, which the tests hold them to; what either cannot know is an error.
// A store is safe for several goroutines.
type store interface {
	// references gives all names below refs/ with the object that each leads to.
	references() ([]Reference, error)
	// head is the object that HEAD leads to, zero where there is none yet.
	head() (Hash, error)
	// startingWith gives the objects whose names begin with these digits.
	startingWith(digits string) ([]Hash, error)
	// object reads one object of at most limit bytes. Its bytes are the caller's. An
	// error is ErrMissing, ErrCorrupt or ErrTooLarge where that is the reason.
	object(name Hash, limit int64) (kind, []byte, error)
	// objects reads many, in their order; what f is given holds for the call.
	objects(ctx context.Context, names []Hash, f func(i int, k kind, content []byte, err error) error) error
	// log shows commits, children before parents and otherwise the newest first.
	log(ctx context.Context, q logQuery, f func(*commit) error) error
	// mergeBases gives the best common ancestors of two commits.
	mergeBases(ctx context.Context, a, b Hash) ([]Hash, error)
	// index reads the entries of an index, sorted by name.
	index(file string, f func(indexed) error) error
	close() error
}

// logQuery says which commits a store shows, and what of them.
type logQuery struct {
	tip         Hash
	exclude     Hash // not this commit nor its ancestors
	limit       int  // 0 is all
	firstParent bool
	raw         bool     // with the commit's bytes
	changes     bool     // with the files in which it differs from every parent
	below       []string // only in these folders and files of the repository; none is everywhere
	// links asks for names, parents and times alone; dense leaves out what differs
	// from no parent in below.
	links, dense bool
	named        string // only files of this name, in any folder; "" is any
	// simplify leaves out what had no part in how the file of below became what
	// it is: at a merge that agrees with one parent there, only that is followed.
	simplify bool
}

// commit is one commit of a log.
type commit struct {
	name    Hash
	tree    Hash
	when    int64  // committer time, Unix seconds
	parents []Hash // those in this copy
	raw     []byte
	changes []pathChange // sorted by path
}

// pathChange is a file in which a commit differs from each of its parents, or,
// where it has none, that it holds.
type pathChange struct {
	path   string
	before []treeEntry // in each parent, the zero entry where it is absent
	after  treeEntry
}

// maxObject bounds one object in memory. Records are kilobytes; the largest
// legitimate thing in a journal is a photograph.
const maxObject = 64 << 20

func tooLarge(name Hash, size, limit int64) error {
	return fmt.Errorf("object %s: its %d bytes are more than %d: %w", name, size, limit, ErrTooLarge)
}

// objectName is the name that git gives to an object, with the hash that names
// of size bytes are made by.
func objectName(k kind, content []byte, size uint8) Hash {
	h := newHash(size)
	head := append(append(make([]byte, 0, 32), k...), ' ')
	h.Write(append(strconv.AppendInt(head, int64(len(content)), 10), 0))
	h.Write(content)
	return hashOf(h.Sum(nil))
}

// newHash is the hash by which names of size bytes are made.
func newHash(size uint8) hash.Hash {
	if size == sha256Size {
		return sha256.New()
	}
	return sha1.New()
}

// checkName holds an object's content against its name: what is evidence is
// believed only so.
func checkName(name Hash, k kind, content []byte) error {
	if objectName(k, content, name.size) != name {
		return fmt.Errorf("object %s: its content has another name: %w", name, ErrCorrupt)
	}
	return nil
}

// want reads an object that must be of one kind.
func want(s store, name Hash, k kind) ([]byte, error) {
	got, data, err := s.object(name, maxObject)
	if err == nil && got != k {
		err = fmt.Errorf("object %s: is a %s, not a %s: %w", name, got, k, ErrCorrupt)
	}
	return data, err
}

// sameEntry says that two entries name the same file.
func sameEntry(a, b treeEntry) bool { return a.mode == b.mode && a.hash == b.hash }

func lineOf(b []byte) string {
	line, _, _ := bytes.Cut(b, []byte("\n"))
	return string(line)
}
