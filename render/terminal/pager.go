package terminal

import (
	"bytes"
	"io"
	"os"
	"os/exec"
	"strings"

	"golang.org/x/term"
)

// Pager holds an answer back until it is longer than the screen, and hands it to a program then;
// a shorter answer is printed as it is. A nil Pager holds nothing.
type Pager struct {
	out     io.Writer
	height  int
	command []string
	env     []string

	held  bytes.Buffer
	lines int
	run   *exec.Cmd
	to    io.WriteCloser
}

// NewPager is the program before a terminal: $WJ_PAGER, else $PAGER, else less. It is nil where
// out is no terminal, and where the program is cat or not there.
func NewPager(out io.Writer, env func(string) string) *Pager {
	file, ok := out.(*os.File)
	if !ok || env("TERM") == "dumb" || !term.IsTerminal(int(file.Fd())) {
		return nil
	}
	_, height, err := term.GetSize(int(file.Fd()))
	words := pagerCommand(env)
	if err != nil || len(words) == 0 {
		return nil
	}
	if _, err := exec.LookPath(words[0]); err != nil {
		return nil
	}
	p := &Pager{out: out, height: height, command: words}
	if env("LESS") == "" {
		p.env = append(os.Environ(), "LESS=FRX") // as git does: colours shown, a short text left on the screen
	}
	return p
}

func pagerCommand(env func(string) string) []string {
	for _, name := range []string{"WJ_PAGER", "PAGER"} {
		if words := strings.Fields(env(name)); len(words) > 0 {
			if words[0] == "cat" {
				return nil
			}
			return words
		}
	}
	return []string{"less"}
}

// Write implements io.Writer. A pager that was left early is no error.
func (p *Pager) Write(b []byte) (int, error) {
	if p.to != nil {
		_, _ = p.to.Write(b)
		return len(b), nil
	}
	p.held.Write(b)
	if p.lines += bytes.Count(b, []byte("\n")); p.lines < p.height {
		return len(b), nil
	}
	run := exec.Command(p.command[0], p.command[1:]...)
	run.Stdout, run.Stderr, run.Env = p.out, os.Stderr, p.env
	to, err := run.StdinPipe()
	if err == nil {
		err = run.Start()
	}
	if err != nil { // without it, all at once
		p.height = int(^uint(0) >> 1)
		return len(b), nil
	}
	p.run, p.to = run, to
	_, _ = to.Write(p.held.Bytes())
	p.held.Reset()
	return len(b), nil
}

// End prints what was held back, or waits until the person has read.
func (p *Pager) End() {
	switch {
	case p == nil:
	case p.to != nil:
		_ = p.to.Close()
		_ = p.run.Wait()
		p.to = nil
	default:
		_, _ = p.out.Write(p.held.Bytes())
		p.held.Reset()
	}
}
