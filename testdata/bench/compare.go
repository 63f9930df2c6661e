package main

import (
	"bytes"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"time"
)

// bench is what is timed.
type bench struct {
	binary string
	runs   int
	yq     []string // empty: no general YAML tools
}

// command is one program as it is typed.
type command struct {
	name string
	args []string
	once bool // takes too long to be run again and again
	grow bool // is shown for all journals together
	seed bool // its lines are the sessions that match
	null bool // prints into /dev/null: a program that writes each line by itself pays for a pipe
}

// measured is what came of it.
type measured struct {
	time  time.Duration // the median
	cpu   time.Duration // of the processor, user and system, the least of all runs
	peak  int64         // KiB, the most of all runs; 0 where it cannot be told
	lines int
}

// commands are all that is timed over a journal; the first is what the others are compared with.
func (b bench) commands(dir string) []command {
	sessions := filepath.Join(dir, "sessions")
	out := []command{
		{name: "rg -c sulfate", args: []string{"rg", "-c", "--no-ignore", "sulfate", sessions}, grow: true},
		{name: "git --version", args: []string{"git", "--version"}},
		{name: "wj version", args: []string{b.binary, "version"}},
		{name: "rg -c sulfate > /dev/null", args: []string{"rg", "-c", "--no-ignore", "sulfate", sessions}, null: true},
		{name: "wj query 'sulfate > 300'", args: []string{b.binary, "-C", dir, "query", "sulfate > 300", "--columns", "id,sulfate", "--format", "jsonl"}, grow: true, seed: true},
		{name: "wj ls sessions", args: []string{b.binary, "-C", dir, "ls", "sessions"}, grow: true},
		{name: "wj ls sessions > /dev/null", args: []string{b.binary, "-C", dir, "ls", "sessions"}, null: true},
		{name: "wj ls", args: []string{b.binary, "-C", dir, "ls"}, grow: true},
		{name: "wj lint --no-history", args: []string{b.binary, "-C", dir, "lint", "--no-history"}, grow: true},
	}
	if _, err := os.Stat(filepath.Join(dir, ".git")); err == nil {
		// Each beside what Git itself takes for the same question.
		id, file := newest(dir)
		wj := func(args ...string) []string { return append([]string{b.binary, "-C", dir}, args...) }
		git := func(args ...string) []string { return append([]string{"git", "-C", dir}, args...) }
		out = append(out,
			command{name: "wj lint", args: wj("lint")},
			command{name: "git log -- path", args: git("log", "--oneline", "--", file)},
			command{name: "wj log of a record", args: wj("log", id, "--record")},
			command{name: "wj blame of a record", args: wj("blame", id)},
			command{name: "git log --raw", args: git("log", "--raw")},
			command{name: "wj verify", args: wj("verify")},
			command{name: "git grep -c sulfate HEAD~3", args: git("grep", "-c", "sulfate", "HEAD~3")},
			command{name: "wj query --at HEAD~3", args: wj("query", "--at", "HEAD~3", "sulfate > 300")},
			command{name: "git diff HEAD~1..HEAD", args: git("diff", "HEAD~1..HEAD")},
			command{name: "wj diff HEAD~1..HEAD", args: wj("diff", "HEAD~1..HEAD")},
			command{name: "wj lint --since HEAD~1 --base HEAD~1", args: wj("lint", "--since", "HEAD~1", "--base", "HEAD~1")},
			command{name: "wj show of a record", args: wj("show", id)},
			command{name: "wj status", args: wj("status")})
	}
	return append(out, b.peers(sessions)...)
}

// newest is the record of the journal that was sampled last.
func newest(dir string) (id, file string) {
	files, _ := filepath.Glob(filepath.Join(dir, "sessions", "*", "*", "*.md"))
	for _, f := range files {
		if name := strings.TrimSuffix(filepath.Base(f), ".md"); name > id {
			id = name
			file, _ = filepath.Rel(dir, f)
		}
	}
	return id, filepath.ToSlash(file)
}

// compare times the commands over each journal, and shows how they grow with it.
func (b bench) compare(dirs []string) error {
	var sizes []int
	var all []map[string]measured
	for _, dir := range dirs {
		n, err := sessionCount(dir)
		if err != nil {
			return err
		}
		results, err := b.timeAll(b.commands(dir), n)
		if err != nil {
			return err
		}
		sizes, all = append(sizes, n), append(all, results)
	}
	if len(dirs) > 1 {
		growth(b.commands(dirs[0]), sizes, all)
	}
	return nil
}

// timeAll runs every command in turn, so that a slow moment of the machine meets all of them, and prints the median of
// each and its ratio to the first's.
func (b bench) timeAll(commands []command, n int) (map[string]measured, error) {
	times := make([][]time.Duration, len(commands))
	results := make([]measured, len(commands))
	for run := range b.runs + 1 {
		for i, c := range commands {
			if c.once && run > 0 {
				continue
			}
			took, cpu, peak, lines, err := c.run()
			if err != nil {
				return nil, fmt.Errorf("compare: %s: %w", c.name, err)
			}
			times[i] = append(times[i], took)
			results[i].peak, results[i].lines = max(results[i].peak, peak), lines
			if run == 0 || cpu < results[i].cpu {
				results[i].cpu = cpu
			}
		}
	}
	fmt.Printf("\n%d sessions, median of %d\n%10s %7s %10s %7s %8s\n", n, b.runs, "ms", "× rg", "cpu ms", "× rg", "peak MB")
	out := map[string]measured{}
	matches := -1
	for i, c := range commands {
		measured := times[i]
		if !c.once {
			measured = measured[1:] // the first run warms the cache of the file system
		}
		slices.Sort(measured)
		results[i].time = measured[len(measured)/2]
		out[c.name] = results[i]
		remark := ""
		if c.once {
			remark = " (1 run)"
		}
		if c.seed && matches >= 0 && results[i].lines != matches {
			remark += fmt.Sprintf(" ANOTHER ANSWER than %d", matches)
		} else if c.seed {
			matches = results[i].lines
		}
		fmt.Printf("%10.1f %7.2f %10.1f %7.2f %8.0f  %s: %d lines%s\n", milliseconds(results[i].time), float64(results[i].time)/float64(results[0].time),
			milliseconds(results[i].cpu), float64(results[i].cpu)/float64(results[0].cpu),
			float64(results[i].peak)/1024, c.name, results[i].lines, remark)
	}
	if query := out["wj query 'sulfate > 300'"].time; len(b.yq) > 0 && query > 0 {
		for i, c := range commands {
			if c.once {
				fmt.Printf("%10.0f × wj query  %s\n", float64(results[i].time)/float64(query), c.name)
			}
		}
	}
	return out, nil
}

// growth shows a command in a line, a journal in a column: milliseconds, microseconds for each session, and the peak.
func growth(commands []command, sizes []int, all []map[string]measured) {
	fmt.Printf("\n%-26s", "")
	for _, n := range sizes {
		fmt.Printf(" %27s", fmt.Sprintf("%d sessions", n))
	}
	fmt.Println()
	for _, c := range commands {
		if !c.grow {
			continue
		}
		fmt.Printf("%-26s", c.name)
		for k, n := range sizes {
			m := all[k][c.name]
			fmt.Printf(" %8.1f ms %5.1f µs %4.0f MB", milliseconds(m.time), 1000*milliseconds(m.time)/float64(n), float64(m.peak)/1024)
		}
		fmt.Println()
	}
}

func milliseconds(d time.Duration) float64 { return float64(d.Microseconds()) / 1000 }

// run runs the command and counts the lines that it prints.
func (c command) run() (took, cpu time.Duration, peak int64, lines int, err error) {
	var out lineCount
	process := exec.Command(c.args[0], c.args[1:]...)
	if !c.null {
		process.Stdout = &out
	}
	begin := time.Now()
	err = process.Run()
	took = time.Since(begin)
	var status *exec.ExitError
	if errors.As(err, &status) && status.ExitCode() == 1 { // findings, or nothing matched
		err = nil
	}
	if process.ProcessState != nil {
		peak = peakMemory(process.ProcessState)
		cpu = process.ProcessState.UserTime() + process.ProcessState.SystemTime()
	}
	return took, cpu, peak, int(out), err
}

// lineCount counts lines and keeps none.
type lineCount int

func (n *lineCount) Write(b []byte) (int, error) {
	*n += lineCount(bytes.Count(b, []byte("\n")))
	return len(b), nil
}

// sessionCount counts the session files of a journal.
func sessionCount(dir string) (int, error) {
	files, err := filepath.Glob(filepath.Join(dir, "sessions", "*", "*", "*.md"))
	if err == nil && len(files) == 0 {
		err = fmt.Errorf("compare: %s has no sessions; write it with -o", dir)
	}
	return len(files), err
}

// installed finds a program and what it says its version is.
func installed(name string) (version string, ok bool) {
	out, err := exec.Command(name, "--version").CombinedOutput()
	return strings.TrimSpace(string(out)), err == nil
}
