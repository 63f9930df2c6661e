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
	_ = a.talking().Show(func(render.Output) string { return render.Inert(render.Line(fmt.Sprintf(format, args...))) + "\n" })
}

// complain prints an error and its hint.
func (a *app) complain(err error) {
	line := func(text string) { _ = a.talking().Show(func(o render.Output) string { return text + "\n" }) }
	line(a.talk.Paint(render.Error, "wj: error:") + " " + render.Line(err.Error()))
	var t *history.Trouble
	if errors.As(err, &t) {
		for _, out := range strings.Split(t.Output, "\n") {
			if out != "" {
				line("  | " + render.Line(out))
			}
		}
		if t.Hint != "" {
			line("hint: " + render.Line(t.Hint))
		}
	}
	if hint := journal.HintOf(err); hint != "" {
		line("hint: " + render.Line(hint))
	}
}

// print writes text.
func (a *app) print(s string) error {
	o := a.out
	o.W = a.stdout
	_, err := io.WriteString(o, render.Inert(s))
	return err
}

// talking is where talk goes.
func (a *app) talking() render.Output {
	o := a.talk
	o.W = a.stderr
	return o
}
