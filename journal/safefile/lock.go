package safefile

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"sync"
	"time"

	"github.com/gofrs/flock"
)

// LockName is the name of the lock file in the root folder of a journal.
const LockName = ".wj.lock"

// lockWait is how long [Lock] waits for another process. A write holds the lock for
// milliseconds; whoever holds it longer waits for a person or hangs.
const lockWait = 5 * time.Second

// ErrLocked says that another process holds the lock.
var ErrLocked = errors.New("the journal is locked")

// Lock takes the advisory lock of the journal in folder: the operating system's lock
// (flock, LockFileEx) on the file .wj.lock, which says who holds it. It waits up to five
// seconds for another holder. The lock ends with its process, however that ends, and a
// file that was left behind blocks nobody. The error wraps [ErrLocked]. unlock may be
// called twice.
func Lock(folder string) (unlock func(), err error) {
	return lock(folder, lockWait)
}

func lock(folder string, wait time.Duration) (func(), error) {
	path := filepath.Join(folder, LockName)
	deadline := time.Now().Add(wait)
	for pause := 5 * time.Millisecond; ; pause = min(2*pause, 250*time.Millisecond) {
		held, err := acquire(path)
		if err == nil {
			return sync.OnceFunc(func() { release(path, held) }), nil
		}
		left := time.Until(deadline)
		if !errors.Is(err, ErrLocked) || left <= 0 {
			return nil, fmt.Errorf("lock the journal in %s: %w", folder, err)
		}
		time.Sleep(min(pause, left))
	}
}

// acquire tries once. The holder before may have removed the file between its opening and
// its locking here; whoever then holds a lock on a file that is no longer at path has none.
func acquire(path string) (*flock.Flock, error) {
	if info, err := os.Lstat(path); err == nil && !info.Mode().IsRegular() {
		return nil, fmt.Errorf("%s is not a regular file; remove it", path)
	}
	held := flock.New(path, flock.SetPermissions(0o644))
	ok, err := held.TryLock()
	switch {
	case err != nil:
		return nil, err
	case !ok:
		return nil, heldBy(path)
	}
	mine, err := held.Stat()
	if at, atErr := os.Lstat(path); err != nil || atErr != nil || !os.SameFile(at, mine) {
		return nil, errors.Join(ErrLocked, held.Close())
	}
	host, _ := os.Hostname()
	text := fmt.Sprintf("process %d on %s since %s\n", os.Getpid(), host, time.Now().UTC().Format(time.RFC3339))
	if err := os.WriteFile(path, []byte(text), 0o644); err != nil && !errors.Is(err, fs.ErrPermission) {
		return nil, errors.Join(err, held.Close())
	}
	return held, nil
}

// heldBy says who holds the lock: the first line of its file, where it can be read.
func heldBy(path string) error {
	file, err := os.Open(path)
	if err != nil {
		return ErrLocked
	}
	defer file.Close()
	var who string
	buffer := make([]byte, 256)
	n, _ := file.Read(buffer)
	for _, r := range string(buffer[:n]) {
		if r < ' ' || r > '~' {
			break
		}
		who += string(r)
	}
	if who == "" {
		return fmt.Errorf("%w by another process", ErrLocked)
	}
	return fmt.Errorf("%w by %s; wait for it, or end it", ErrLocked, who)
}

// release removes the file while the lock is held, so that nobody removes the next
// holder's. Where an open file cannot be removed it stays, and blocks nobody.
func release(path string, held *flock.Flock) {
	_ = os.Remove(path)
	_ = held.Close()
}
