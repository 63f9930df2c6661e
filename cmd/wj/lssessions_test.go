package main

import (
	"testing"
	"time"

	"pgregory.net/rapid"
)

// The time of a list is what package time writes, in any year and zone.
func TestMinuteText(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		at := time.Unix(rapid.Int64Range(-100_000_000_000, 300_000_000_000).Draw(t, "seconds"), 0).In(time.FixedZone("", 900*rapid.IntRange(-64, 64).Draw(t, "quarters")))
		if got, want := minuteText(at), at.Format("2006-01-02 15:04"); got != want {
			t.Fatalf("%q, and package time writes %q", got, want)
		}
	})
}
