package main

import (
	"bytes"
	"io"
	"os"
	"os/exec"
	"slices"
	"strings"

	"golang.org/x/term"
)

// paged are the commands whose answer is read from the top: what does not fit the screen goes through the pager.
var paged = []string{"", "home", "status", "due", "stock", "query", "show", "ls", "chart", "stats", "trace", "lint", "explain", "review", "log", "blame", "diff", "verify", "summary", "schema"}

// pager holds an answer back until it is longer than the screen, and hands it to a program then; a shorter answer is
// printed as it is.
type pager struct {
	out     io.Writer
	height  int
	command []string
	env     []string

	held  bytes.Buffer
	lines int
	run   *exec.Cmd
	to    io.WriteCloser
}

// page puts the pager before standard output where a person reads there: $WJ_PAGER, else $PAGER, else less; none where it
// is empty or cat, with --no-pager, --plain and --untrusted, which runs no program.
func (a *app) page(command string, cl *commandLine) {
	file, ok := a.stdout.(*os.File)
	if !ok || !a.out.Person || cl.NoPager || cl.Plain || bool(cl.Untrusted) || a.env("TERM") == "dumb" || !slices.Contains(paged, command) || !term.IsTerminal(int(file.Fd())) {
		return
	}
	_, height, err := term.GetSize(int(file.Fd()))
	words := pagerCommand(a.env)
	if err != nil || len(words) == 0 {
		return
	}
	if _, err := exec.LookPath(words[0]); err != nil {
		return
	}
	a.pager = &pager{out: a.stdout, height: height, command: words}
	if a.env("LESS") == "" {
		a.pager.env = append(os.Environ(), "LESS=FRX") // as git does: colours shown, a short text left on the screen
	}
	a.stdout, a.out.W = a.pager, a.pager
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
func (p *pager) Write(b []byte) (int, error) {
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

// end prints what was held back, or waits until the person has read.
func (p *pager) end() {
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
