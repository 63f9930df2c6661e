package query

import (
	"fmt"
	"strings"
	"unicode/utf8"
)

// Error is a mistake in an expression: where it is and what to write instead.
type Error struct {
	Line, Column int    // from 1; columns count code points
	Message      string // lower case, no full stop
	Help         string // the next step; may be empty
	Source       string // the whole expression
}

// Error is the message with its place and help on one line.
func (e *Error) Error() string {
	text := fmt.Sprintf("%d:%d: %s", e.Line, e.Column, e.Message)
	if e.Help != "" {
		text += "; " + e.Help
	}
	return text
}

// Excerpt is the source line of the mistake and a line with a caret under it. Control characters become blanks,
// so that the caret stands where it should.
func (e *Error) Excerpt() (line, caret string) {
	lines := strings.Split(e.Source, "\n")
	if e.Line < 1 || e.Line > len(lines) {
		return "", ""
	}
	line = strings.Map(func(r rune) rune {
		if r < ' ' || r == utf8.RuneError {
			return ' '
		}
		return r
	}, lines[e.Line-1])
	if n := utf8.RuneCountInString(line); n > 160 {
		return "", ""
	}
	return line, strings.Repeat(" ", max(e.Column-1, 0)) + "^"
}

// errorAt makes an error at an offset in code points.
func errorAt(source string, offset int, message, help string) *Error {
	e := &Error{Line: 1, Column: 1, Message: message, Help: help, Source: source}
	n := 0
	for _, r := range source {
		if n == offset {
			break
		}
		n++
		e.Column++
		if r == '\n' {
			e.Line++
			e.Column = 1
		}
	}
	return e
}

// shorten keeps a piece of somebody's text short enough for a message.
func shorten(s string) string {
	const most = 40
	if utf8.RuneCountInString(s) <= most {
		return s
	}
	return string([]rune(s)[:most]) + "…"
}
