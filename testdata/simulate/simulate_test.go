package main

import (
	"flag"
	"os"
	"strings"
	"sync"
	"testing"
)

// TestSeeds runs a few seeds for some weeks: no oracle fails, and a seed is the same run to the byte.
func TestSeeds(t *testing.T) {
	binary, server := programs(t)
	for _, o := range []options{{seed: 1, days: 32, faults: true}, {seed: 2, days: 16, share: 5}, {seed: 6, days: 46}, {seed: 3, days: 47, also: []string{"33:lose"}}} {
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

// TestOracles plants faults: a value that is changed behind the program's back, and an answer that leaves a session out. Each is seen,
// the run shrinks to the acts that it takes, and the command that is printed then is that run.
func TestOracles(t *testing.T) {
	forgets := func(c call, r *reply) {
		if rows := strings.SplitAfter(r.Out, "\n"); c.Args[0] == "query" && len(rows) > 2 {
			r.Out = rows[0] + strings.Join(rows[2:], "")
		}
	}
	for _, o := range []options{{seed: 3, days: 18, sabotage: 15}, {seed: 4, days: 12, planted: forgets}} {
		o.binary, o.server = programs(t)
		_, err := simulate(o)
		if err == nil || !strings.Contains(err.Error(), "changed: conductivity") && !strings.Contains(err.Error(), "wj query leaves the") {
			t.Fatalf("nothing was seen: %v", err)
		}
		short := shrink(o, err, func(string) {})
		if len(short.only) == 0 || len(short.only) > 4 {
			t.Errorf("it shrinks to %q", short.only)
		}
		again := options{binary: o.binary, server: o.server, planted: o.planted}
		flags := flag.NewFlagSet("simulate", flag.ContinueOnError)
		again.flags(flags)
		if err := flags.Parse(strings.Fields(strings.TrimPrefix(short.command(), "go run ./testdata/simulate "))); err != nil {
			t.Fatal(err)
		}
		if _, failed := simulate(again); failed == nil || kindOf(failed) != kindOf(err) {
			t.Errorf("%s: %v, and the run failed with %v", short.command(), failed, err)
		}
	}
}

// programs are the built ones that WJ_BINARY and WJ_SERVER name, or new ones.
func programs(t *testing.T) (binary, server string) {
	if binary, server = os.Getenv("WJ_BINARY"), os.Getenv("WJ_SERVER"); binary != "" && server != "" {
		return binary, server
	}
	built, err := builtOnce()
	if err != nil {
		t.Fatal(err)
	}
	return built[0], built[1]
}

var folder string

var builtOnce = sync.OnceValues(func() ([2]string, error) {
	binary, server, err := build(folder)
	return [2]string{binary, server}, err
})

func TestMain(m *testing.M) {
	var err error
	if folder, err = os.MkdirTemp("", "wj-simulate-"); err != nil {
		panic(err)
	}
	status := m.Run()
	os.RemoveAll(folder)
	os.Exit(status)
}
