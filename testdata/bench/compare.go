package main

import (
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"wj/journal"
	"wj/query"
)

// timeAll runs every command in turn, so that a slow moment of the machine meets all of them, and prints the median of
// each and its ratio to ripgrep's.
func timeAll(dir, expression, binary string, runs int) error {
	ripgrep, err := exec.LookPath("rg")
	if err != nil {
		return fmt.Errorf("compare: rg is not installed")
	}
	sessions := filepath.Join(dir, "sessions")
	type command struct {
		name string
		run  func() (string, error)
	}
	commands := []command{
		{"rg -c sulfate", process(ripgrep, "-c", "--no-ignore", "sulfate", sessions)},
		{"rg -c 'site: north-well'", process(ripgrep, "-c", "--no-ignore", "site: north-well", sessions)},
		{"query, in this process", func() (string, error) { return ask(dir, expression) }},
	}
	if binary != "" {
		commands = append(commands, command{"wj query", process(binary, "-C", dir, "query", expression, "--columns", "id,sulfate", "--format", "csv")},
			command{"wj lint, all rules", process(binary, "-C", dir, "lint")}, command{"wj ls", process(binary, "-C", dir, "ls")},
			command{"wj ls sessions", process(binary, "-C", dir, "ls", "sessions")})
	}
	if _, err := os.Stat(filepath.Join(dir, ".git")); err == nil {
		commands = append(commands, command{"git grep -c sulfate", process("git", "-C", dir, "grep", "-c", "sulfate")},
			command{"git log --oneline", process("git", "-C", dir, "log", "--oneline")})
		if binary != "" {
			commands = append(commands, command{"wj log of a record", process(binary, "-C", dir, "log", "north-well", "--record")})
		}
	}
	commands = append(commands, command{"YAML into maps, one core", func() (string, error) { return general(dir, 300) }})
	times := make([][]time.Duration, len(commands))
	found := make([]string, len(commands))
	for range runs + 1 {
		for i, c := range commands {
			begin := time.Now()
			answer, err := c.run()
			if err != nil {
				return fmt.Errorf("compare: %s: %w", c.name, err)
			}
			times[i] = append(times[i], time.Since(begin))
			found[i] = answer
		}
	}
	var base time.Duration
	for i, c := range commands {
		measured := times[i][1:] // the first run warms the cache of the file system
		slices.Sort(measured)
		median := measured[len(measured)/2]
		if i == 0 {
			base = median
		}
		fmt.Printf("%-28s %8.1f ms  %5.2f × rg   %s\n", c.name, float64(median.Microseconds())/1000, float64(median)/float64(base), found[i])
	}
	return nil
}

// process runs a program and counts the lines that it prints.
func process(name string, args ...string) func() (string, error) {
	return func() (string, error) {
		out, err := exec.Command(name, args...).Output()
		var status *exec.ExitError
		if err != nil && !(errors.As(err, &status) && status.ExitCode() == 1) { // 1: findings, or nothing matched
			return "", err
		}
		return fmt.Sprintf("%d lines", strings.Count(string(out), "\n")), nil
	}
}

// ask loads the journal and asks it, as the command does.
func ask(dir, expression string) (string, error) {
	if _, err := os.Stat(dir); err != nil {
		return "", err
	}
	j, err := journal.Load(journal.Dir(dir), journal.Options{})
	if err != nil {
		return "", err
	}
	where, err := query.Compile(expression)
	if err != nil {
		return "", err
	}
	result, err := query.Run(j, query.Request{Where: where, Columns: []string{"id", "sulfate"}})
	if err != nil {
		return "", err
	}
	return fmt.Sprintf("%d of %d sessions, %d without reading, %d only bounds", result.Matched, result.Looked, result.NoReading, result.Censored), nil
}
