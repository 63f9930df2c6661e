package history

import (
	"encoding/hex"
	"fmt"
	"strings"
)

// Hash is the name of a Git object, of SHA-1 or of SHA-256; the zero Hash names
// none. Hashes can be compared and be keys of maps.
type Hash struct {
	size uint8 // bytes, 0, 20 or 32
	sum  [32]byte
}

// sha1Size and sha256Size are the lengths of names in bytes.
const sha1Size, sha256Size = 20, 32

// String gives the 40 or 64 hexadecimal digits; of the zero Hash 40 zeros.
func (h Hash) String() string {
	if h.size == 0 {
		return strings.Repeat("0", 2*sha1Size)
	}
	return hex.EncodeToString(h.sum[:h.size])
}

// Short gives the first ten digits, for people.
func (h Hash) Short() string { return h.String()[:10] }

// IsZero says that h names no object.
func (h Hash) IsZero() bool { return h.size == 0 }

// ParseHash reads 40 or 64 hexadecimal digits. All zeros, by which Git names the
// absent, are the zero Hash.
func ParseHash(s string) (Hash, error) {
	if len(s) != 2*sha1Size && len(s) != 2*sha256Size {
		return Hash{}, fmt.Errorf("object name %q does not have 40 or 64 digits", s)
	}
	h, ok := hexHash([]byte(s))
	if !ok {
		return Hash{}, fmt.Errorf("object name %q is not hexadecimal", s)
	}
	return h, nil
}

func hexHash(digits []byte) (Hash, bool) {
	var h Hash
	if len(digits) != 2*sha1Size && len(digits) != 2*sha256Size {
		return h, false
	}
	if _, err := hex.Decode(h.sum[:], digits); err != nil {
		return Hash{}, false
	}
	h.size = uint8(len(digits) / 2)
	return h.orZero(), true
}

// hashOf takes the 20 or 32 bytes of a name.
func hashOf(b []byte) Hash {
	h := Hash{size: uint8(len(b))}
	copy(h.sum[:], b)
	return h.orZero()
}

func (h Hash) orZero() Hash {
	if h.sum == [32]byte{} {
		return Hash{}
	}
	return h
}

// kind is an object's type, as git cat-file names it.
type kind string

const (
	commitKind kind = "commit"
	treeKind   kind = "tree"
	blobKind   kind = "blob"
	tagKind    kind = "tag"
)

// globEscape makes the characters of a folder name mean themselves.
func globEscape(s string) string {
	return strings.NewReplacer(`\`, `\\`, "[", `\[`, "*", `\*`, "?", `\?`).Replace(s)
}
