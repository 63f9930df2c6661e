//go:build unix && !solaris && !aix

package safefile

import (
	"errors"
	"os"
	"syscall"
)

// processRuns reports whether the process exists; signal 0 only asks (kill(2)).
func processRuns(pid int) bool {
	err := syscall.Kill(pid, 0)
	return err == nil || !errors.Is(err, syscall.ESRCH)
}

// lockOpenFile takes the kernel's lock on the open file without waiting. It ends when the
// file is closed.
func lockOpenFile(file *os.File) bool {
	return syscall.Flock(int(file.Fd()), syscall.LOCK_EX|syscall.LOCK_NB) == nil
}
