package history

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"
)

// graphFiles are the commit-graph files of the repository; none where it has none,
// and where it borrows objects, since git would take theirs too.
func (s *gitStore) graphFiles() (files []string) {
	for _, pair := range s.env {
		if objects, ok := strings.CutPrefix(pair, "GIT_OBJECT_DIRECTORY="); ok {
			if _, err := os.Lstat(filepath.Join(objects, "info", "alternates")); err == nil {
				return nil
			}
			for _, pattern := range []string{"commit-graph", "commit-graphs/*"} {
				found, _ := filepath.Glob(filepath.Join(objects, "info", pattern))
				files = append(files, found...)
			}
		}
	}
	slices.Sort(files)
	return files
}

// graphDigest is the digest of all that they say; empty where they cannot be read.
func graphDigest(files []string) string {
	all := sha256.New()
	for _, name := range files {
		f, err := os.Open(name)
		if err != nil {
			return ""
		}
		n, err := io.Copy(all, f)
		f.Close()
		if err != nil {
			return ""
		}
		fmt.Fprintf(all, " %d\n", n) // two files are not one with the same bytes
	}
	return hex.EncodeToString(all.Sum(nil))
}

// receipt is the file in the user's own cache folder that says that commit-graph files of a
// digest were held against the commits; empty where the user has no such folder. What a
// commit says follows from its hash, so that files that were right once are right for ever,
// in any repository.
func receipt(digest string) string {
	cache, err := os.UserCacheDir()
	if err != nil || digest == "" {
		return ""
	}
	return filepath.Join(cache, "wj", "commit-graphs", digest)
}

// graphHolds reports whether commit-graph files of a digest say what the commits say. git
// holds the one against the other, once for ever: see receipt.
func (s *gitStore) graphHolds(ctx context.Context, digest string) bool {
	s.graph.Lock()
	defer s.graph.Unlock()
	if s.held == nil {
		s.held = map[string]bool{}
	}
	if holds, known := s.held[digest]; known {
		return holds
	}
	kept := receipt(digest)
	if _, err := os.Stat(kept); kept != "" && err == nil {
		s.held[digest] = true
		return true
	}
	_, err := s.run(ctx, nil, "-c", "core.commitGraph=true", "commit-graph", "verify", "--no-progress")
	if ctx.Err() != nil {
		return false
	}
	s.held[digest] = err == nil
	if err == nil && kept != "" { // that it could not be written costs time the next time
		if os.MkdirAll(filepath.Dir(kept), 0o700) == nil {
			_ = os.WriteFile(kept, nil, 0o600)
		}
	}
	return err == nil
}

// byGraph reads by the commit-graph files, which is several times faster, while another
// process holds them against the commits themselves, once. Where they lie, it is read again
// without them.
func byGraph[T any](ctx context.Context, s *gitStore, read func(graph bool) (T, error)) (T, error) {
	files := s.graphFiles()
	digest := graphDigest(files)
	if len(files) == 0 || digest == "" {
		return read(false)
	}
	holds := make(chan bool, 1)
	go func() { holds <- s.graphHolds(ctx, digest) }()
	found, err := read(true)
	if told := <-holds; err == nil && told && graphDigest(files) == digest {
		return found, nil
	}
	return read(false)
}
