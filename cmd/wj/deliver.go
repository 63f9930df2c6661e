package main

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"

	"wj/journal"
	"wj/journal/exchange"
	"wj/journal/safefile"
)

func isFolder(name string) bool {
	info, err := os.Stat(name)
	return name != "" && err == nil && info.IsDir()
}

// deliver brings finished files to where they are asked for: standard output, a
// file, or a folder. A file is replaced as a whole.
func (a *app) deliver(output string, files []exchange.File) error {
	if len(files) == 1 && files[0].Name == "" {
		if output == "" || output == "-" {
			out := a.out
			out.W = a.stdout
			_, err := out.Write(files[0].Content)
			return err
		}
		if isFolder(output) {
			return withHint("name a file in it", "%s is a folder", output)
		}
		return a.replaceFile(output, files[0].Content)
	}
	for _, f := range files {
		if err := a.replaceFile(filepath.Join(output, f.Name), f.Content); err != nil {
			return err
		}
	}
	return nil
}

// replaceFile writes a file that is made anew at every call, such as an export.
func (a *app) replaceFile(name string, content []byte) error {
	if err := journal.Outside(name); err != nil {
		return withHint("choose another name", "%w", err)
	}
	old, err := os.ReadFile(name)
	if errors.Is(err, os.ErrNotExist) {
		old, err = nil, nil
	} else if err == nil && old == nil {
		old = []byte{}
	}
	if err != nil {
		return fmt.Errorf("write %s: %w", name, err)
	}
	if err := safefile.Write(name, old, content); err != nil {
		return err
	}
	a.say("wrote %s (%s)", name, journal.Count(len(content), "byte"))
	return nil
}

// writeFolder writes files, by their names with slashes, into a folder, which is
// made if it is missing. None is written where one may not be.
func (a *app) writeFolder(dir string, files map[string]string) error {
	names := []string{dir}
	for name := range files {
		names = append(names, filepath.Join(dir, filepath.FromSlash(name)))
	}
	for _, name := range names {
		if err := journal.Outside(name); err != nil {
			return withHint("choose another folder", "%w", err)
		}
	}
	for name, text := range files {
		file := filepath.Join(dir, filepath.FromSlash(name))
		if err := os.MkdirAll(filepath.Dir(file), 0o777); err != nil {
			return err
		}
		if err := os.WriteFile(file, []byte(text), 0o666); err != nil {
			return err
		}
	}
	return nil
}
