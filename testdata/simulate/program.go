package main

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"time"
)

// call is one command: what a process would be started with.
type call struct {
	Dir   string
	Args  []string
	Env   []string
	Stdin string
	Ask   bool

	answer func(screen string) string // with Ask: what the person types
}

// reply is what became of a call.
type reply struct {
	Status    int
	Out, Talk string
	Ask       bool
	Own, Git  time.Duration // processor time, of the serving process and of the git that it started
	Memory    int64         // KiB, the most so far of the serving process
}

// program runs wj: in one process that serves many commands, or the built binary.
type program struct {
	built   string // the built program
	serving *exec.Cmd
	hangUp  io.Closer
	asked   *json.Encoder
	answers *json.Decoder
	calls   int
	spent   time.Duration
}

// build builds the program and the test binary that serves commands in process, into folder.
func build(folder string) (binary, server string, err error) {
	binary, server = filepath.Join(folder, "wj"), filepath.Join(folder, "wj-serve")
	for _, args := range [][]string{
		{"build", "-buildvcs=false", "-o", binary, "wj/cmd/wj"},
		{"test", "-c", "-vet=off", "-o", server, "wj/cmd/wj"},
	} {
		if out, err := exec.Command("go", args...).CombinedOutput(); err != nil {
			return "", "", fmt.Errorf("go %s: %w\n%s", strings.Join(args, " "), err, out)
		}
	}
	return binary, server, os.Chmod(folder, 0o755) // somebody without rights starts it too
}

func start(binary, server string) (*program, error) {
	p := &program{built: binary, serving: exec.Command(server)}
	p.serving.Env = append(os.Environ(), "WJ_SERVE=1", "GOGC=off", "GOMEMLIMIT=256MiB", "GOMAXPROCS=1")
	p.serving.Stderr = os.Stderr
	in, err := p.serving.StdinPipe()
	if err != nil {
		return nil, err
	}
	out, err := p.serving.StdoutPipe()
	if err != nil {
		return nil, err
	}
	p.hangUp, p.asked, p.answers = in, json.NewEncoder(in), json.NewDecoder(out)
	return p, p.serving.Start()
}

func (p *program) end() {
	if p.serving.Process != nil {
		_ = p.hangUp.Close() // it ends when nobody asks
		_ = p.serving.Wait()
	}
}

// run runs one command in the serving process.
func (p *program) run(c call) (reply, error) {
	began := time.Now()
	defer func() { p.calls, p.spent = p.calls+1, p.spent+time.Since(began) }()
	if err := p.asked.Encode(c); err != nil {
		return reply{}, fmt.Errorf("wj %s: the serving process has ended: %w", strings.Join(c.Args, " "), err)
	}
	talk := ""
	for {
		var r reply
		if err := p.answers.Decode(&r); err != nil {
			return reply{}, fmt.Errorf("wj %s: the serving process has ended: %w", strings.Join(c.Args, " "), err)
		}
		talk += r.Talk
		if !r.Ask {
			r.Talk = talk
			return r, nil
		}
		if err := p.asked.Encode(c.answer(r.Talk)); err != nil {
			return reply{}, err
		}
	}
}

// process runs the built program, or another one, as a process of its own. kill ends it after a while, 0 never.
func process(name string, c call, kill time.Duration) (reply, error) {
	cmd := exec.Command(name, c.Args...)
	cmd.Dir, cmd.Env, cmd.Stdin = c.Dir, c.Env, strings.NewReader(c.Stdin)
	var out, talk bytes.Buffer
	cmd.Stdout, cmd.Stderr = &out, &talk
	cmd.WaitDelay = time.Second // a git that outlives its killed parent holds the output open
	if err := cmd.Start(); err != nil {
		return reply{}, err
	}
	if kill > 0 {
		time.AfterFunc(kill, func() { _ = cmd.Process.Kill() })
	}
	err := cmd.Wait()
	var exit *exec.ExitError
	if err != nil && !errors.As(err, &exit) && !errors.Is(err, exec.ErrWaitDelay) {
		return reply{}, fmt.Errorf("%s %s: %w", filepath.Base(name), strings.Join(c.Args, " "), err)
	}
	return reply{Status: cmd.ProcessState.ExitCode(), Out: out.String(), Talk: talk.String()}, nil
}

// lines are the lines of a text that are not empty.
func lines(s string) []string {
	var out []string
	for line := range strings.SplitSeq(s, "\n") {
		if line != "" {
			out = append(out, line)
		}
	}
	return out
}

// processorTime is that of this process and of all that it started and waited for.
func processorTime() (sum time.Duration) {
	for _, who := range []int{syscall.RUSAGE_SELF, syscall.RUSAGE_CHILDREN} {
		var u syscall.Rusage
		_ = syscall.Getrusage(who, &u)
		sum += time.Duration(u.Utime.Nano() + u.Stime.Nano())
	}
	return sum
}
