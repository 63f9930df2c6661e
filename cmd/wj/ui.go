package main

import (
	"errors"
	"fmt"
	"io"
	"strings"

	"wj/journal"
	"wj/journal/history"
	"wj/render"
)

// What a command prints follows one rule. Data go to standard output and
// nothing else does, so that a pipe gets what it asked for. Talk (what was
// done, what was left out, errors, hints) goes to standard error, in lower
// case, without a full stop. Everything that comes from a file, from Git or
// from the command line is cleaned by package render on its way out.

// say prints one line of talk.
func (a *app) say(format string, args ...any) {
	fmt.Fprintln(a.stderr, render.Inert(render.Line(fmt.Sprintf(format, args...))))
}

// complain prints an error and its hint.
func (a *app) complain(err error) {
	fmt.Fprintf(a.stderr, "%s %s\n", a.talk.Paint(render.Error, "wj: error:"), render.Line(err.Error()))
	var t *history.Trouble
	if errors.As(err, &t) {
		for _, line := range strings.Split(t.Output, "\n") {
			if line != "" {
				fmt.Fprintln(a.stderr, "  | "+render.Line(line))
			}
		}
		if t.Hint != "" {
			fmt.Fprintln(a.stderr, "hint: "+render.Line(t.Hint))
		}
	}
	if hint := journal.HintOf(err); hint != "" {
		fmt.Fprintln(a.stderr, "hint: "+render.Line(hint))
	}
}

// print writes text.
func (a *app) print(s string) error {
	_, err := io.WriteString(a.stdout, render.Inert(s))
	return err
}
