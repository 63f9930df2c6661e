// Command bench writes a large synthetic journal and times a query over it against ripgrep on the same files.
//
//	go run ./testdata/bench -n 100000 -o DIR            writes the journal
//	go run ./testdata/bench -n 100000 -history -o DIR   and commits it, each session by itself
//	go run ./testdata/bench -compare DIR -wj ./wj       times wj, ripgrep, git and a general YAML reader in turn, median of 5,
//	                                                    and prints the ratios
//
// The journal is invented and the same on every machine: sites, lots that follow each other, month folders,
// sessions of about 850 bytes with notes.
package main

import (
	"flag"
	"fmt"
	"os"
)

func main() {
	n := flag.Int("n", 100_000, "number of sessions")
	to := flag.String("o", "", "folder to write the journal to; it must not exist yet")
	history := flag.Bool("history", false, "commit the journal, each session by itself")
	compare := flag.String("compare", "", "folder of a journal to time")
	binary := flag.String("wj", "", "a built wj to time as well, as a process")
	runs := flag.Int("runs", 5, "runs of each command")
	expression := flag.String("query", "sulfate > 300", "the expression to time")
	flag.Parse()
	var err error
	switch {
	case *to != "":
		if err = write(*to, *n); err == nil && *history {
			err = commit(*to)
		}
	case *compare != "":
		err = timeAll(*compare, *expression, *binary, *runs)
	default:
		flag.Usage()
		os.Exit(2)
	}
	if err != nil {
		fmt.Fprintln(os.Stderr, "bench:", err)
		os.Exit(2)
	}
}
