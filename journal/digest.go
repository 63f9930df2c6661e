package journal

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"io/fs"
)

// Digest is the SHA-256 of a record's bytes with LF line ends, as sha256sum
// prints it: a checkout that converts line ends changes no digest. Sign-offs
// and reports hold it.
func Digest(content []byte) string {
	if bytes.IndexByte(content, '\r') >= 0 {
		content = bytes.ReplaceAll(content, []byte("\r\n"), []byte("\n"))
	}
	sum := sha256.Sum256(content)
	return hex.EncodeToString(sum[:])
}

// DigestFile is the Digest of a file of a journal, on disk or at a revision.
func DigestFile(fsys fs.FS, path string) (string, error) {
	content, err := fs.ReadFile(fsys, path)
	if err != nil {
		return "", fmt.Errorf("take the digest of %s: %w", path, err)
	}
	return Digest(content), nil
}
