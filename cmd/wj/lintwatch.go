package main

import (
	"errors"
	"fmt"
	"hash/fnv"
	"io/fs"
	"path/filepath"
	"strings"
	"time"

	"wj/journal"
)

// between is how long --watch waits between two looks at the files' times and sizes.
const between = 400 * time.Millisecond

// watch looks at the journal again whenever one of its files changes. Interrupted, it
// ends as the last look did.
func (c *lintCmd) watch(a *app) error {
	var last error
	seen := ""
	for {
		root, err := a.root()
		if err != nil {
			return err
		}
		now, err := filesMark(root)
		if err != nil {
			return err
		}
		if now != seen {
			seen = now
			if a.out.Person {
				if err := a.print("\n"); err != nil {
					return err
				}
			}
			again := *c
			if last = again.once(a); last != nil && !errors.Is(last, errFindings) {
				a.complain(last) // a half-saved file is no reason to end
			}
		}
		select {
		case <-a.Context.Done():
			if errors.Is(last, errFindings) {
				return last
			}
			return nil
		case <-time.After(between):
		}
	}
}

// filesMark changes with any record of the journal, and with its settings.
func filesMark(root string) (string, error) {
	h := fnv.New128a()
	err := filepath.WalkDir(root, func(p string, e fs.DirEntry, err error) error {
		if err != nil {
			if errors.Is(err, fs.ErrNotExist) {
				return nil // it went while we looked
			}
			return err
		}
		if e.IsDir() && p != root && strings.HasPrefix(e.Name(), ".") {
			return filepath.SkipDir
		}
		if e.IsDir() || !strings.HasSuffix(p, ".md") && e.Name() != journal.SettingsFile {
			return nil
		}
		if info, err := e.Info(); err == nil {
			fmt.Fprintf(h, "%s %d %d\n", p, info.Size(), info.ModTime().UnixNano())
		}
		return nil
	})
	if err != nil {
		return "", fmt.Errorf("watch the journal: %w", err)
	}
	return string(h.Sum(nil)), nil
}
