//go:build !(darwin || dragonfly || freebsd || linux || netbsd || openbsd || windows)

package history

import "os"

// lockFile does nothing where the system has no such lock: git's own locks and
// the retries remain.
func lockFile(*os.File) error { return nil }
