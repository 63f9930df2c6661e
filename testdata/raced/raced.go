// Package raced tells a test whether the race detector is on. Arithmetic that one
// goroutine does thousands of times is then tried less often: the detector finds
// nothing in it and makes it ten times as long.
package raced

import (
	"runtime/debug"
	"slices"
)

// On is true in a binary that was built with -race.
func On() bool {
	build, ok := debug.ReadBuildInfo()
	return ok && slices.Contains(build.Settings, debug.BuildSetting{Key: "-race", Value: "true"})
}
