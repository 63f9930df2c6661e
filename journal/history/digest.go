package history

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"io/fs"
)

// Digest gives the SHA-256 of a record's bytes with LF line ends, in
// hexadecimal as sha256sum prints it: CR LF counts as LF, so that a checkout on
// any system has the digests of what was committed.
func Digest(content []byte) string {
	sum := sha256.Sum256(withLF(content))
	return hex.EncodeToString(sum[:])
}

// DigestFile gives the [Digest] of a file: of a working file with
// os.DirFS(journal), of one at a revision with [History.FS].
func DigestFile(fsys fs.FS, name string) (string, error) {
	content, err := fs.ReadFile(fsys, name)
	if err != nil {
		return "", fmt.Errorf("digest of %s: %w", name, err)
	}
	return Digest(content), nil
}

func withLF(content []byte) []byte {
	if bytes.IndexByte(content, '\r') < 0 {
		return content
	}
	return bytes.ReplaceAll(content, []byte("\r\n"), []byte("\n"))
}
