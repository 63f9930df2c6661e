package safefile

import (
	"bufio"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
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
	if !errors.Is(err, ErrLocked) || !strings.Contains(err.Error(), fmt.Sprintf("process %d", os.Getpid())) {
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

// A lock file that was left behind blocks nobody: not one that names a process that is
// gone, nor one whose process id another process has now, nor one of another host. Of
// several that find it, one at a time holds the lock.
func TestStaleLock(t *testing.T) {
	for _, text := range []string{
		fmt.Sprintf("process %d on here since 2026-01-01T00:00:00Z\n", os.Getpid()), fmt.Sprintf("process %d on here since 2026-01-01T00:00:00Z\n", os.Getppid()),
		"process 1 on another-host since 2026-01-01T00:00:00Z\n", "", "\x00\xff", strings.Repeat("x", 1<<20),
	} {
		folder := t.TempDir()
		if err := os.WriteFile(filepath.Join(folder, LockName), []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
		inside := atomic.Int32{}
		var group sync.WaitGroup
		for range 4 {
			group.Go(func() {
				unlock, err := lock(folder, 20*time.Second)
				if err != nil {
					t.Error(err)
					return
				}
				if inside.Add(1) != 1 {
					t.Error("two hold the lock")
				}
				time.Sleep(2 * time.Millisecond)
				inside.Add(-1)
				unlock()
			})
		}
		group.Wait()
	}
}

// A process that is killed while it holds the lock leaves the file and no lock.
func TestLockEndsWithItsProcess(t *testing.T) {
	if folder := os.Getenv("SAFEFILE_LOCK_HERE"); folder != "" {
		if _, err := Lock(folder); err != nil {
			t.Fatal(err)
		}
		fmt.Println("locked")
		time.Sleep(time.Minute)
		return
	}
	folder := t.TempDir()
	holder := exec.Command(os.Args[0], "-test.run=^TestLockEndsWithItsProcess$")
	holder.Env = append(os.Environ(), "SAFEFILE_LOCK_HERE="+folder)
	out, err := holder.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := holder.Start(); err != nil {
		t.Fatal(err)
	}
	if line, err := bufio.NewReader(out).ReadString('\n'); line != "locked\n" {
		t.Fatalf("%q, %v", line, err)
	}
	if _, err := lock(folder, 0); !errors.Is(err, ErrLocked) || !strings.Contains(err.Error(), fmt.Sprintf("process %d on ", holder.Process.Pid)) {
		t.Errorf("while another process holds it: %v", err)
	}
	_ = holder.Process.Kill()
	_ = holder.Wait()
	unlock, err := lock(folder, time.Second)
	if err != nil {
		t.Fatal(err)
	}
	unlock()
}

// What is no regular file is neither locked nor written to.
func TestLockOnSomethingElse(t *testing.T) {
	folder := t.TempDir()
	victim := filepath.Join(t.TempDir(), "victim")
	if err := os.WriteFile(victim, []byte("kept"), 0o644); err != nil {
		t.Fatal(err)
	}
	if err := os.Symlink(victim, filepath.Join(folder, LockName)); err != nil {
		t.Skip(err)
	}
	if _, err := lock(folder, 0); err == nil || errors.Is(err, ErrLocked) {
		t.Errorf("a link was taken for a lock: %v", err)
	}
	if text, _ := os.ReadFile(victim); string(text) != "kept" {
		t.Errorf("written through the link: %q", text)
	}
}
