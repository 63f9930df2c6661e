// Package terminal has the manners of a program at a terminal: questions that are asked until an
// answer fits, a line that says how long something takes, a pager for what is longer than the
// screen. Where no person watches, nothing of it is seen.
//
//	if pager := terminal.NewPager(os.Stdout, os.Getenv); pager != nil {
//		defer pager.End()
//		fmt.Fprint(pager, answer)
//	}
package terminal

import (
	"bufio"
	"cmp"
	"errors"
	"fmt"
	"io"
	"os"
	"strings"

	"golang.org/x/term"

	"wj/render"
)

// Both gives the two ends of a terminal that can be drawn on, where both are one.
func Both(stdin io.Reader, stdout io.Writer, env func(string) string) (in, out *os.File, ok bool) {
	in, ok1 := stdin.(*os.File)
	out, ok2 := stdout.(*os.File)
	ok = ok1 && ok2 && term.IsTerminal(int(in.Fd())) && term.IsTerminal(int(out.Fd())) && env("TERM") != "dumb"
	return in, out, ok
}

// Questions asks a person line by line.
type Questions struct {
	Print    func(text string) error // a prompt
	Talk     func(format string, args ...any)
	Complain func(err error) // of an answer that does not fit

	in *bufio.Reader
}

// NewQuestions reads the answers from in.
func NewQuestions(in io.Reader) *Questions {
	return &Questions{in: bufio.NewReaderSize(in, 4096)}
}

// Say says something between two questions.
func (q *Questions) Say(format string, args ...any) { q.Talk(format, args...) }

// Ask asks until an answer fits; nothing typed is the answer that is offered.
func (q *Questions) Ask(question, offered string, fits func(string) error) (string, error) {
	for {
		prompt := question
		if offered != "" {
			prompt += " [" + offered + "]"
		}
		if err := q.Print(render.Line(prompt) + ": "); err != nil {
			return "", err
		}
		line, err := q.in.ReadString('\n')
		if err != nil && line == "" {
			_ = q.Print("\n")
			if errors.Is(err, io.EOF) {
				return "", errors.New("the answers ended; nothing was written")
			}
			return "", fmt.Errorf("read the answer: %w", err)
		}
		answer := cmp.Or(strings.TrimSpace(line), offered)
		if fits == nil {
			return answer, nil
		}
		wrong := fits(answer)
		if wrong == nil {
			return answer, nil
		}
		q.Complain(wrong)
	}
}

// List asks for names that stand between commas.
func (q *Questions) List(question, offered string, fits func(string) error) ([]string, error) {
	answer, err := q.Ask(question, offered, func(answer string) error {
		for _, part := range commaList(answer) {
			if err := fits(part); err != nil {
				return err
			}
		}
		return nil
	})
	return commaList(answer), err
}

func commaList(s string) []string {
	var out []string
	for part := range strings.SplitSeq(s, ",") {
		if part = strings.TrimSpace(part); part != "" {
			out = append(out, part)
		}
	}
	return out
}
