package main

import (
	"os"
	"testing"
)

// TestSeeds runs a few seeds for some weeks: no oracle fails, and a seed is the same run to the byte.
func TestSeeds(t *testing.T) {
	binary, server := os.Getenv("WJ_BINARY"), os.Getenv("WJ_SERVER")
	if binary == "" || server == "" {
		var err error
		if binary, server, err = build(t.TempDir()); err != nil {
			t.Fatal(err)
		}
	}
	for _, o := range []options{{seed: 1, days: 40}, {seed: 2, days: 25, share: 5}} {
		o.binary, o.server = binary, server
		first, err := simulate(o)
		if err != nil {
			t.Fatalf("%v\nagain: %s", err, o.command())
		}
		if len(first.ledger.facts) == 0 {
			t.Errorf("seed %d: nothing was recorded", o.seed)
		}
		again, err := simulate(o)
		if err != nil || again.digest() != first.digest() {
			t.Errorf("seed %d is not one run: %s, then %s (%v)", o.seed, first.digest(), again.digest(), err)
		}
	}
}
