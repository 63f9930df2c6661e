// Command generate writes the example journal of the invented Quillmarsh
// Brewery, always to the same bytes: seeded pseudo-random numbers, no clock.
//
//	go run ./example-journal/generate [DIR]
//
// Records that a person would write by hand stand in written/*.txtar; sessions,
// packs of reagent, changes, batches and sign-offs come from the tables here,
// because their numbers depend on each other.
package main

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"time"
	_ "time/tzdata"
)

var vilnius = func() *time.Location {
	zone, err := time.LoadLocation("Europe/Vilnius")
	if err != nil {
		panic(err) // cannot be: the time zones are built in
	}
	return zone
}()

func main() {
	dir := "example-journal"
	if len(os.Args) > 1 {
		dir = os.Args[1]
	}
	if err := run(dir); err != nil {
		fmt.Fprintln(os.Stderr, "generate:", err)
		os.Exit(2)
	}
}

func run(dir string) error {
	if _, err := os.Stat(filepath.Join(dir, "example.go")); err != nil {
		return fmt.Errorf("find the example journal in %s: run from the top of the repository: %w", dir, err)
	}
	files, err := build()
	if err != nil {
		return err
	}
	if err := clear(dir, files); err != nil {
		return err
	}
	for name, content := range files {
		full := filepath.Join(dir, filepath.FromSlash(name))
		if err := os.MkdirAll(filepath.Dir(full), 0o777); err != nil {
			return fmt.Errorf("write the example journal: %w", err)
		}
		if err := os.WriteFile(full, content, 0o666); err != nil {
			return fmt.Errorf("write the example journal: %w", err)
		}
	}
	return nil
}

// kinds are the folders that belong to this program alone.
var kinds = []string{"people", "owners", "sites", "lots", "instruments", "methods", "sessions", "targets", "changes", "signoffs", "batches", "events", "actions", "reports", "story"}

// clear removes files of an earlier run that are not written any more.
func clear(dir string, keep map[string][]byte) error {
	for _, kind := range kinds {
		root := filepath.Join(dir, kind)
		err := filepath.WalkDir(root, func(full string, d fs.DirEntry, err error) error {
			if errors.Is(err, fs.ErrNotExist) {
				return nil
			}
			if err != nil || d.IsDir() {
				return err
			}
			name, err := filepath.Rel(dir, full)
			if err != nil {
				return err
			}
			if _, ok := keep[filepath.ToSlash(name)]; !ok && strings.HasPrefix(name, kind) {
				return os.Remove(full)
			}
			return nil
		})
		if err != nil {
			return fmt.Errorf("clear what an earlier run wrote: %w", err)
		}
	}
	return nil
}
