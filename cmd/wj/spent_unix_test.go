//go:build unix

package main

import (
	"syscall"
	"time"
)

// spent is the processor time of this process and of those that it started and waited for, and its largest memory, in what the
// system counts it in (KiB on Linux).
func spent() (own, others time.Duration, memory int64) {
	var u, c syscall.Rusage
	_, _ = syscall.Getrusage(syscall.RUSAGE_SELF, &u), syscall.Getrusage(syscall.RUSAGE_CHILDREN, &c)
	return time.Duration(u.Utime.Nano() + u.Stime.Nano()), time.Duration(c.Utime.Nano() + c.Stime.Nano()), int64(u.Maxrss)
}
