package main

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"strings"

	"wj/journal"
	"wj/journal/workspace"
)

// findJournals sets which journal is worked on, or which several are asked together:
// those of several -C, or of a workspace file.
func (a *app) findJournals(dirs []string) error {
	a.Dir = "."
	if len(dirs) > 0 {
		a.Dir = dirs[0]
	} else {
		dirs = []string{a.Dir}
	}
	if _, ok := workspace.Find(a.Dir); len(dirs) == 1 && !ok && !strings.HasSuffix(a.Dir, workspace.File) {
		return nil
	}
	list, err := workspace.Of(dirs)
	if err == nil && len(list) == 1 {
		a.Dir = list[0].Dir
	} else if err == nil {
		a.members = list
	}
	return err
}

// errSeveral refuses a command that works on one journal.
func (a *app) errSeveral() error {
	var names []string
	for _, m := range a.members {
		names = append(names, m.Name)
	}
	return withHint("wj -C "+a.shown(a.members[0].Dir)+" "+a.command+" …; query, status, due, stock, ls and export take several", "wj %s works on one journal, and here are %d: %s", a.command, len(names), strings.Join(names, ", "))
}

// member is the app for one journal of several; what it says is behind its name.
func (a *app) member(m workspace.Member) *app {
	one := *a
	one.Dir, one.members, one.stderr = m.Dir, nil, &labelled{to: a.stderr, label: m.Name + ": "}
	one.Say = one.say
	return &one
}

// across asks one journal after another and unites their answers. A journal without
// a record that was named, or without anything to list, is left out; the error is
// that of the last where all are.
func across[T any](a *app, one func(*app) (T, error), unite func(journals []string, list []T) T) (T, error) {
	if len(a.members) == 0 {
		return one(a)
	}
	var names []string
	var list []T
	var left error
	for _, m := range a.members {
		answer, err := one(a.member(m))
		var missing *journal.NotFound
		switch {
		case errors.As(err, &missing) && !missing.Ambiguous, errors.Is(err, errFindings) && left == nil:
			left = err
		case errors.Is(err, errFindings):
		case err != nil:
			return answer, fmt.Errorf("%s: %w", m.Name, err)
		default:
			names, list = append(names, m.Name), append(list, answer)
		}
	}
	if len(list) == 0 {
		var none T
		return none, left
	}
	return unite(names, list), nil
}

// labelled writes whole lines behind a label.
type labelled struct {
	to    io.Writer
	label string
	held  []byte
}

// Write implements io.Writer.
func (l *labelled) Write(b []byte) (int, error) {
	l.held = append(l.held, b...)
	for {
		line, rest, ok := bytes.Cut(l.held, []byte("\n"))
		if !ok {
			return len(b), nil
		}
		if _, err := fmt.Fprintf(l.to, "%s%s\n", l.label, line); err != nil {
			return 0, err
		}
		l.held = rest
	}
}
