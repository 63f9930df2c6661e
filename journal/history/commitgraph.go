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

// graphFiles are the commit-graph files of the repository; none where it has none.
func (s *gitStore) graphFiles() (files []string) {
	for _, pair := range s.env {
		if objects, ok := strings.CutPrefix(pair, "GIT_OBJECT_DIRECTORY="); ok {
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

// logByGraph walks by the commit-graph file, which is several times faster, while another
// process holds that file against the commits themselves, once. Where it lies, the walk is
// done again without it.
func (s *gitStore) logByGraph(ctx context.Context, q logQuery, files []string, f func(*commit) error) error {
	digest := graphDigest(files)
	kept := receipt(digest)
	verified := make(chan error, 1)
	if _, err := os.Stat(kept); kept != "" && err == nil {
		verified <- nil
	} else {
		go func() {
			_, err := s.run(ctx, nil, "-c", "core.commitGraph=true", "commit-graph", "verify", "--no-progress")
			verified <- err
		}()
	}
	var found []*commit
	err := s.logBy(ctx, q, true, func(c *commit) error {
		found = append(found, c)
		return nil
	})
	if lies := <-verified; err != nil || lies != nil || graphDigest(files) != digest {
		if ctx.Err() != nil {
			return ctx.Err()
		}
		return s.logBy(ctx, q, false, f)
	}
	if kept != "" { // that it could not be written costs time the next time
		if os.MkdirAll(filepath.Dir(kept), 0o700) == nil {
			_ = os.WriteFile(kept, nil, 0o600)
		}
	}
	for _, c := range found {
		if err := f(c); err != nil {
			return err
		}
	}
	return nil
}
