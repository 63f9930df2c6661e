package safefile

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"time"
)

// LockName is the name of the lock file in the root folder of a journal.
const LockName = ".wj.lock"

// lockWait is how long [Lock] waits for another process. A write holds the lock for
// milliseconds; whoever holds it longer waits for a person or hangs.
const lockWait = 5 * time.Second

// ErrLocked says that another process holds the lock.
var ErrLocked = errors.New("the journal is locked")

// Lock takes the advisory lock of the journal in folder: the file .wj.lock, which names
// the process, the host and the time. It waits up to five seconds for another holder. A
// lock whose process no longer runs on this host is taken over. The error wraps
// [ErrLocked] and tells how to remove the lock by hand. unlock may be called twice.
func Lock(folder string) (unlock func(), err error) {
	return lock(folder, lockWait)
}

func lock(folder string, wait time.Duration) (func(), error) {
	path := filepath.Join(folder, LockName)
	mine := newHolder()
	deadline := time.Now().Add(wait)
	for pause := 5 * time.Millisecond; ; pause = min(2*pause, 250*time.Millisecond) {
		err := acquire(folder, path, mine)
		if err == nil {
			return func() { release(path, mine) }, nil
		}
		if !errors.Is(err, ErrLocked) {
			return nil, fmt.Errorf("lock the journal in %s: %w", folder, err)
		}
		if left := time.Until(deadline); left <= 0 {
			return nil, fmt.Errorf("lock the journal in %s: %w", folder, err)
		} else if pause > left {
			pause = left
		}
		time.Sleep(pause)
	}
}

// holder is what a lock file says, one line: pid, host, time, and a word that no other
// lock has.
type holder struct {
	pid  int
	host string
	time string
	word string
}

func newHolder() holder {
	host, err := os.Hostname()
	if err != nil || strings.ContainsAny(host, " \t\r\n") || host == "" {
		host = "unknown"
	}
	return holder{os.Getpid(), host, time.Now().UTC().Format(time.RFC3339), randomName()}
}

func (h holder) String() string {
	return fmt.Sprintf("pid %d host %s since %s token %s\n", h.pid, h.host, h.time, h.word)
}

func parseHolder(text string) (holder, bool) {
	f := strings.Fields(text)
	if len(f) != 8 || f[0] != "pid" || f[2] != "host" || f[4] != "since" || f[6] != "token" {
		return holder{}, false
	}
	pid, err := strconv.Atoi(f[1])
	return holder{pid, f[3], f[5], f[7]}, err == nil && pid > 0
}

// acquire tries once. The lock appears with its content at once: a link to a file that is
// written already.
func acquire(folder, path string, mine holder) error {
	temp := filepath.Join(folder, TempPrefix+mine.word)
	if err := os.WriteFile(temp, []byte(mine.String()), 0o644); err != nil {
		return err
	}
	defer os.Remove(temp)
	err := os.Link(temp, path)
	if err == nil {
		return nil
	}
	if !errors.Is(err, fs.ErrExist) {
		return acquireWithoutLinks(path, mine)
	}
	return takeOver(temp, path, mine)
}

// acquireWithoutLinks is for file systems that have no hard links. Another process may see
// the lock empty for a moment; it then waits.
func acquireWithoutLinks(path string, mine holder) error {
	file, err := os.OpenFile(path, os.O_CREATE|os.O_EXCL|os.O_WRONLY, 0o644)
	if errors.Is(err, fs.ErrExist) {
		return heldBy(path, "")
	}
	if err != nil {
		return err
	}
	_, err = file.WriteString(mine.String())
	if err = errors.Join(err, file.Close()); err != nil {
		os.Remove(path)
	}
	return err
}

// takeOver replaces a lock whose process is gone by temp. Of several that try, the one that
// holds the kernel's lock on the very file that is at path wins; the others find another
// file there when their turn comes.
func takeOver(temp, path string, mine holder) error {
	info, err := os.Lstat(path)
	if errors.Is(err, fs.ErrNotExist) {
		return ErrLocked // released just now; the next try may get it
	}
	if err != nil {
		return err
	}
	if !info.Mode().IsRegular() {
		return fmt.Errorf("%s is not a regular file; remove it", path)
	}
	file, err := os.Open(path)
	if err != nil {
		return heldBy(path, "")
	}
	defer file.Close()
	buffer := make([]byte, 512)
	n, _ := file.Read(buffer)
	text := string(buffer[:n])
	theirs, ok := parseHolder(text)
	if !ok || theirs.host != mine.host || mine.host == "unknown" || processRuns(theirs.pid) {
		return heldBy(path, text)
	}
	if !lockOpenFile(file) {
		return heldBy(path, text)
	}
	opened, err := file.Stat()
	if err != nil {
		return err
	}
	if now, err := os.Lstat(path); err != nil || !os.SameFile(now, opened) {
		return ErrLocked
	}
	return os.Rename(temp, path)
}

// heldBy words who holds the lock and what to do about it.
func heldBy(path, text string) error {
	h, ok := parseHolder(text)
	if !ok {
		return fmt.Errorf("%w; if nothing else is writing to it, remove %s", ErrLocked, path)
	}
	return fmt.Errorf("%w by process %d on %s since %s; if that process no longer runs, remove %s", ErrLocked, h.pid, h.host, h.time, path)
}

// release removes the lock if it is still ours.
func release(path string, mine holder) {
	if text, err := os.ReadFile(path); err == nil && string(text) == mine.String() {
		os.Remove(path)
	}
}
