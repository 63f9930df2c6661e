//go:build unix

package history

import (
	"context"
	"os"
	"path/filepath"
	"syscall"
	"testing"
	"time"
)

// A pipe in the place of a file of the repository would hold its reader for
// ever; it must be refused or passed over.
func TestPipesInRepository(t *testing.T) {
	for _, name := range []string{"HEAD", "config", "commondir", "index", "packed-refs", "shallow", "refs/heads/main", "objects/info/alternates", "objects/info/commit-graph", "objects/info/commit-graphs/commit-graph-chain", "../.git"} {
		t.Run(filepath.Base(name), func(t *testing.T) {
			r := newRepository(t)
			r.write("wj.yaml", "format: 1\n")
			r.commit("One")
			target := filepath.Join(r.dir, ".git", name)
			if err := os.RemoveAll(target); err != nil {
				t.Fatal(err)
			}
			if err := os.MkdirAll(filepath.Dir(target), 0o777); err != nil {
				t.Fatal(err)
			}
			if err := syscall.Mkfifo(target, 0o666); err != nil {
				t.Skip("no pipes here:", err)
			}
			done := make(chan struct{})
			go func() {
				defer close(done)
				h, err := Open(r.dir)
				if err != nil {
					return
				}
				defer h.Close()
				head, err := h.Head()
				_, _ = Dirty(r.dir, nil)
				if err == nil {
					_, _ = h.Walk(context.Background(), head.Hash, WalkOptions{}, func(Step) error { return nil })
				}
			}()
			select {
			case <-done:
			case <-time.After(20 * time.Second):
				t.Fatal("still reading")
			}
		})
	}
}
