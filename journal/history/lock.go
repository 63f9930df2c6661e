package history

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"time"
)

// Lock is a lock file of git that has stood for a while.
type Lock struct {
	Path string
	Age  time.Duration
}

// staleAfter is how long git holds a lock at most where no hook or editor keeps
// it waiting. A lock that is older was most likely left by a git that was
// killed; only a person can know. Common practice, no source.
const staleAfter = time.Minute

// String is the lock in words: "…/.git/index.lock, 12 min old".
func (l Lock) String() string { return fmt.Sprintf("%s, %s old", cleanOutput(l.Path), roughly(l.Age)) }

// StaleLocks gives the lock files that a commit in this working tree would wait
// for and that are older than a minute. They are never removed by wj.
func (p Place) StaleLocks() []Lock {
	names := []string{filepath.Join(p.GitDir, "index.lock"), filepath.Join(p.GitDir, "HEAD.lock")}
	if p.Branch != "" {
		names = append(names, filepath.Join(p.CommonDir, "refs", "heads", filepath.FromSlash(p.Branch))+".lock")
	}
	var stale []Lock
	for _, name := range names {
		if l, ok := lockAt(name); ok && l.Age > staleAfter {
			stale = append(stale, l)
		}
	}
	return stale
}

func lockAt(name string) (Lock, bool) {
	info, err := os.Lstat(name)
	if err != nil {
		return Lock{}, false
	}
	return Lock{name, time.Since(info.ModTime())}, true
}

// patience is how long a lock is waited for. What has stood for minutes will
// hardly go in the next seconds.
func patience(lock os.FileInfo) time.Duration {
	if time.Since(lock.ModTime()) > staleAfter {
		return lockPatience / 20
	}
	return lockPatience
}

// stillLocked is the error after the wait: where the lock is, how old, and what
// to do. specs are the files that are not committed.
func stillLocked(trouble *Trouble, specs []string) *Trouble {
	lock, ok := lockAt(lockNamed(trouble.Output))
	if !ok {
		return trouble
	}
	var files []string
	for _, s := range specs {
		files = append(files, strings.TrimPrefix(s, literally))
	}
	named := cleanOutput(strings.Join(files, " "))
	return &Trouble{Reason: ErrLocked, Doing: "commit " + named, Output: "the lock is " + lock.String(),
		Hint: "the file is kept; if no other git is at work (an editor, another window, a hook), a git that was killed left the lock: remove it yourself, then git add " + named + " && git commit"}
}

func roughly(d time.Duration) string {
	switch {
	case d < 2*time.Minute:
		return fmt.Sprintf("%d s", max(int(d/time.Second), 0))
	case d < 2*time.Hour:
		return fmt.Sprintf("%d min", d/time.Minute)
	case d < 48*time.Hour:
		return fmt.Sprintf("%d h", d/time.Hour)
	}
	return fmt.Sprintf("%d days", d/(24*time.Hour))
}
