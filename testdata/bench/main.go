// Command bench writes large synthetic journals and times wj over them beside ripgrep, git and general YAML tools.
//
//	go run ./testdata/bench -n 100000 -o DIR            writes a journal
//	go run ./testdata/bench -n 100000 -sites 400 -o DIR writes one with many sites
//	go run ./testdata/bench -n 100000 -history -o DIR   and commits it, each session by itself
//	go run ./testdata/bench -wj ./wj -compare DIR,DIR   times every command in turn, median of 5, and prints the ratios for each
//	                                                    journal, then how time and memory grow from one to the next
//	… -peers                                            general YAML tools too, once each (minutes for 100,000 sessions):
//	                                                    yq (-yq names one or several of them), python3 with PyYAML
//
// The journal is invented and the same on every machine: sites, lots that follow each other, month folders,
// sessions of about 850 bytes with notes.
package main

import (
	"errors"
	"flag"
	"fmt"
	"os"
	"strings"
)

func main() {
	n := flag.Int("n", 100_000, "number of sessions")
	wide := flag.Int("sites", 8, "number of sites: 8 make a dense journal, 400 a wide one")
	to := flag.String("o", "", "folder to write the journal to; it must not exist yet")
	history := flag.Bool("history", false, "commit the journal, each session by itself")
	compare := flag.String("compare", "", "folders of the journals to time, separated by commas")
	binary := flag.String("wj", "", "a built wj, to be timed")
	runs := flag.Int("runs", 5, "runs of each command")
	peers := flag.Bool("peers", false, "time general YAML tools too, once each")
	yq := flag.String("yq", "yq", "the yq programs to time, separated by commas: the one in Go and the one over jq are told apart")
	flag.Parse()
	var err error
	switch {
	case *to != "":
		if err = write(*to, *n, *wide); err == nil && *history {
			err = commit(*to)
		}
	case *compare != "" && *binary == "":
		err = errors.New("compare: build wj and name it with -wj")
	case *compare != "":
		b := bench{binary: *binary, runs: *runs}
		if *peers {
			b.yq = strings.Split(*yq, ",")
		}
		err = b.compare(strings.Split(*compare, ","))
	default:
		flag.Usage()
		os.Exit(2)
	}
	if err != nil {
		fmt.Fprintln(os.Stderr, "bench:", err)
		os.Exit(2)
	}
}
