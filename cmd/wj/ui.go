package main

import (
	"errors"
	"fmt"
	"io"
	"regexp"
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
	fmt.Fprintln(a.stderr, a.talk.Fit(render.Inert(render.Line(fmt.Sprintf(format, args...)))))
}

// complain prints an error and its hint.
func (a *app) complain(err error) {
	line := func(text string) { fmt.Fprintln(a.stderr, a.talk.Fit(text)) }
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
	_, err := io.WriteString(a.stdout, render.Inert(s))
	return err
}

// helpWriter takes kong's help, which knows its width and keeps the choices of a flag as one word.
type helpWriter struct{ out render.Output }

var choices = regexp.MustCompile(`[^\s,]+(?:,[^\s,]+){2,}`)

func (h helpWriter) Write(p []byte) (int, error) {
	line := string(p)
	if !strings.HasPrefix(strings.TrimSpace(line), "wj ") { // an example is typed as it is
		line = choices.ReplaceAllStringFunc(line, func(s string) string { return strings.ReplaceAll(s, ",", ", ") })
	}
	_, err := io.WriteString(h.out.W, h.out.Fit(line))
	return len(p), err
}
