//go:build unix

package main

import (
	"os"
	"runtime"
	"syscall"
)

// peakMemory is the most memory that a process (of several that follow each other, the largest) held, in KiB.
func peakMemory(p *os.ProcessState) int64 {
	usage, ok := p.SysUsage().(*syscall.Rusage)
	if !ok {
		return 0
	}
	if runtime.GOOS == "darwin" { // which counts bytes
		return int64(usage.Maxrss) >> 10
	}
	return int64(usage.Maxrss)
}
