package history

import (
	"os"

	"golang.org/x/sys/windows"
)

// lockFile waits for the exclusive lock of the open file's first byte.
func lockFile(file *os.File) error {
	return windows.LockFileEx(windows.Handle(file.Fd()), windows.LOCKFILE_EXCLUSIVE_LOCK, 0, 1, 0, new(windows.Overlapped))
}
