package journal

import (
	"crypto/sha256"
	"encoding/hex"
	"io/fs"
	"path"
	"regexp"
	"strings"
	"sync"
)

// MaxAttachment is how large a file may be that a record names, in bytes.
const MaxAttachment = 64 << 20

// IsAttachment reports whether a file of the journal, by its path, belongs to a record and is
// none itself.
func IsAttachment(path string) bool { return strings.HasPrefix(path, "attachments/") }

// Attachment is a file that a record names under attachments.
type Attachment struct {
	Name   string // as the record writes it
	Path   string // where it is, from the journal's root
	Size   int    // bytes; 0 where only a pointer of Git LFS is here
	SHA256 string // of the content that is here, or that the pointer names
}

// Attachment finds a file that a record names: from the journal's root, or beside the
// record.
func (j *Journal) Attachment(record *Record, name string) (Attachment, error) {
	a := Attachment{Name: name, Path: path.Clean(name)}
	content, err := fs.ReadFile(j.FS, a.Path)
	if err != nil {
		beside := path.Join(path.Dir(record.Path), name)
		var other error
		if content, other = fs.ReadFile(j.FS, beside); other != nil {
			return a, err
		}
		a.Path = beside
	}
	if m := lfsPointer().FindSubmatch(content); m != nil {
		a.SHA256 = string(m[1])
		return a, nil
	}
	sum := sha256.Sum256(content)
	a.Size, a.SHA256 = len(content), hex.EncodeToString(sum[:])
	return a, nil
}

// Holds reports whether the content has the digest that the record gives.
func (a Attachment) Holds(record *Record) bool {
	return strings.EqualFold(a.SHA256, record.Attachments[a.Name])
}

// lfsPointer is what Git LFS keeps in place of a file that is not fetched (its
// specification of pointers).
var lfsPointer = sync.OnceValue(func() *regexp.Regexp {
	return regexp.MustCompile(`\Aversion https://git-lfs\.github\.com/spec/v1\n(?:ext-[^\n]*\n)*oid sha256:([0-9a-f]{64})\nsize [0-9]+\n\z`)
})
