package history

import (
	"context"
	"testing"
	"time"
)

// readEverything calls every reading function, for TestReadingRunsNothing.
func readEverything(t *testing.T, h *History, head Revision) {
	t.Helper()
	ctx := context.Background()
	check := func(what string, err error) {
		if err != nil {
			t.Errorf("%s: %v", what, err)
		}
	}
	_, err := Find(h.Place().Journal)
	check("find", err)
	_, err = Dirty(h.Place().Journal, nil)
	check("dirty", err)
	_, err = h.Walk(ctx, head.Hash, WalkOptions{}, func(s Step) error {
		_, err := h.Verify(s.Hash, &Keyring{}, time.Time{})
		return err
	})
	check("walk", err)
	_, _, err = h.FileLog(ctx, head.Hash, "sites/north-well.md")
	check("log", err)
	_, err = h.Tags()
	check("tags", err)
	_, err = h.Diff(Hash{}, head.Hash)
	check("diff", err)
	_, _, err = h.MergeBase(ctx, head.Hash, head.Hash)
	check("merge base", err)
	_, err = h.IsAncestor(ctx, head.Hash, head.Hash)
	check("ancestor", err)
}
