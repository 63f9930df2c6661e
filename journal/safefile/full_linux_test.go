package safefile

import (
	"bytes"
	"errors"
	"os"
	"path/filepath"
	"slices"
	"syscall"
	"testing"
)

// A disk without room reports an error and keeps the old bytes. The disk is a file system
// of 64 KiB in memory.
func TestFullDisk(t *testing.T) {
	folder := t.TempDir()
	if err := syscall.Mount("tmpfs", folder, "tmpfs", 0, "size=64k"); err != nil {
		t.Skip("cannot mount a small file system, which takes root:", err)
	}
	defer syscall.Unmount(folder, 0)
	path := filepath.Join(folder, "a.md")
	old := []byte("old\n")
	if err := Write(path, nil, old); err != nil {
		t.Fatal(err)
	}
	big := bytes.Repeat([]byte("x"), 128<<10)
	if err := Write(path, old, big); !errors.Is(err, syscall.ENOSPC) {
		t.Errorf("writing over: %v", err)
	}
	if err := Write(filepath.Join(folder, "b.md"), nil, big); !errors.Is(err, syscall.ENOSPC) {
		t.Errorf("creating: %v", err)
	}
	if got, _ := os.ReadFile(path); !bytes.Equal(got, old) {
		t.Errorf("the old bytes are gone: %q", got)
	}
	if list := names(t, folder); !slices.Equal(list, []string{"a.md"}) {
		t.Errorf("left behind: %q", list)
	}
}
