//go:build darwin || dragonfly || freebsd || linux || netbsd || openbsd

package history

import (
	"os"
	"syscall"
)

// lockFile waits for the exclusive lock of the open file, flock(2).
func lockFile(file *os.File) error {
	for {
		err := syscall.Flock(int(file.Fd()), syscall.LOCK_EX)
		if err != syscall.EINTR {
			return err
		}
	}
}
