//go:build race

package treat

const raceEnabled = true
