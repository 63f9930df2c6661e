package safefile

import (
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"
)

func TestLock(t *testing.T) {
	folder := t.TempDir()
	unlock, err := Lock(folder)
	if err != nil {
		t.Fatal(err)
	}
	_, err = lock(folder, 30*time.Millisecond)
	if !errors.Is(err, ErrLocked) || !strings.Contains(err.Error(), "remove "+filepath.Join(folder, LockName)) ||
		!strings.Contains(err.Error(), fmt.Sprintf("process %d", os.Getpid())) {
		t.Errorf("second lock: %v", err)
	}
	unlock()
	unlock()
	if list := names(t, folder); len(list) != 0 {
		t.Errorf("left behind: %q", list)
	}
	again, err := lock(folder, 0)
	if err != nil {
		t.Fatal(err)
	}
	unlock() // must not release the lock of the next holder
	if _, err := os.Stat(filepath.Join(folder, LockName)); err != nil {
		t.Error("an old unlock released a new lock")
	}
	again()
}

// Many workers, one counter that only the lock protects.
func TestLockExcludes(t *testing.T) {
	folder := t.TempDir()
	inside, done := atomic.Int32{}, atomic.Int32{}
	var group sync.WaitGroup
	for range 8 {
		group.Go(func() {
			for range 5 {
				unlock, err := lock(folder, 20*time.Second)
				if err != nil {
					t.Error(err)
					return
				}
				if inside.Add(1) != 1 {
					t.Error("two hold the lock")
				}
				time.Sleep(time.Millisecond)
				inside.Add(-1)
				done.Add(1)
				unlock()
			}
		})
	}
	group.Wait()
	if done.Load() != 40 {
		t.Errorf("%d of 40 got the lock", done.Load())
	}
}

// deadProcess returns the id of a process that ran and ended.
func deadProcess(t *testing.T) int {
	t.Helper()
	command := exec.Command(os.Args[0], "-test.run=^$")
	if err := command.Run(); err != nil {
		t.Fatal(err)
	}
	return command.Process.Pid
}

func TestStaleLock(t *testing.T) {
	if runtime.GOOS == "windows" {
		t.Skip("locks are not taken over on this system")
	}
	folder := t.TempDir()
	path := filepath.Join(folder, LockName)
	stale := newHolder()
	stale.pid = deadProcess(t)

	// Eight find the stale lock at once; never two may hold it.
	if err := os.WriteFile(path, []byte(stale.String()), 0o644); err != nil {
		t.Fatal(err)
	}
	inside := atomic.Int32{}
	var group sync.WaitGroup
	for range 8 {
		group.Go(func() {
			unlock, err := lock(folder, 20*time.Second)
			if err != nil {
				t.Error(err)
				return
			}
			if inside.Add(1) != 1 {
				t.Error("two took the stale lock over")
			}
			time.Sleep(5 * time.Millisecond)
			inside.Add(-1)
			unlock()
		})
	}
	group.Wait()

	elsewhere := stale
	elsewhere.host = "another-host"
	for name, text := range map[string]string{
		"of another host": elsewhere.String(), "empty": "", "of something else": "12345", "without token": "pid 1 host x since y\n",
	} {
		if err := os.WriteFile(path, []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
		if _, err := lock(folder, 0); !errors.Is(err, ErrLocked) {
			t.Errorf("a lock %s was taken over: %v", name, err)
		}
	}
}
