//go:build unix

package history

import (
	"os"
	"strconv"
	"syscall"
)

// ownedByUser says whether the file belongs to the user who runs the program,
// by git's rule: the effective user, or under sudo also the user who called it
// (git-config(1), safe.directory).
func ownedByUser(name string) bool {
	info, err := os.Lstat(name)
	if err != nil {
		return true
	}
	stat, ok := info.Sys().(*syscall.Stat_t)
	if !ok {
		return true
	}
	uid := os.Geteuid()
	if int(stat.Uid) == uid {
		return true
	}
	if sudo, err := strconv.Atoi(os.Getenv("SUDO_UID")); err == nil && uid == 0 {
		return int(stat.Uid) == sudo
	}
	return false
}
