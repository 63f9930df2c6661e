package history

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
)

// takeTurn waits until no other program of this kind commits in the working
// tree and gives the function that ends the turn. It is needed beside git's own
// index.lock: git commit --only reads the index before it takes that lock
// (builtin/commit.c, prepare_index), so that of two at once the later can undo
// what the earlier wrote to the index. The operating system frees the file when
// its holder ends in any way, so it never has to be removed.
func takeTurn(ctx context.Context, place Place) (func(), error) {
	name := filepath.Join(place.GitDir, "wj-commit")
	file, err := os.OpenFile(name, os.O_RDWR|os.O_CREATE, 0o666)
	if err != nil {
		return nil, fmt.Errorf("commit: take turns with other programs: %w", err)
	}
	taken := make(chan error, 1)
	go func() { taken <- lockFile(file) }()
	select {
	case err := <-taken:
		if err != nil {
			file.Close()
			return nil, fmt.Errorf("commit: take turns with other programs: lock %s: %w", name, err)
		}
		return func() { file.Close() }, nil
	case <-ctx.Done():
		// The waiting call cannot be interrupted; it gives its turn back at once.
		go func() { <-taken; file.Close() }()
		return nil, &Trouble{Reason: ErrLocked, Doing: "commit", Hint: "another recording holds " + name + " for too long; the file is written, commit it later"}
	}
}
