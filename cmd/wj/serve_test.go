package main

import (
	"bufio"
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"runtime/pprof"
	"time"

	"wj/journal/history"
)

// served is one command that the simulation in testdata/simulate asks for: what a process would be started with.
type served struct {
	Dir   string
	Args  []string
	Env   []string
	Stdin string
	Ask   bool // what is not in Stdin is asked for, line by line
}

// reply is what became of it, or with Ask what the person has before her.
type reply struct {
	Status    int
	Out, Talk string
	Ask       bool
	Own, Git  time.Duration // processor time, of this process and of the git that it started
	Memory    int64         // KiB, the most so far
}

// serveIfAsked makes this process one that serves the simulation.
func serveIfAsked() {
	if os.Getenv("WJ_SERVE") == "" {
		return
	}
	forbidNetwork()
	history.ReadInProcess()
	if name := os.Getenv("WJ_SERVE_PROFILE"); name != "" {
		if f, err := os.Create(name); err == nil && pprof.StartCPUProfile(f) == nil {
			defer f.Close()
		}
	}
	if err := serve(os.Stdin, os.Stdout); !errors.Is(err, io.EOF) {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(statusFailed)
	}
	pprof.StopCPUProfile()
	os.Exit(statusFine)
}

// serve runs commands in this process, one after another, until in ends. The simulation makes thousands, and starting the
// program takes longer than most of them.
func serve(in io.Reader, out io.Writer) error {
	asked, answers := json.NewDecoder(bufio.NewReader(in)), json.NewEncoder(out)
	for {
		var s served
		if err := asked.Decode(&s); err != nil {
			return err
		}
		os.Clearenv()
		for _, pair := range s.Env {
			name, value, _ := bytes.Cut([]byte(pair), []byte("="))
			os.Setenv(string(name), string(value))
		}
		if err := os.Chdir(s.Dir); err != nil {
			return err
		}
		var stdout, talk bytes.Buffer
		var stdin io.Reader = bytes.NewReader([]byte(s.Stdin))
		if s.Ask {
			stdin = io.MultiReader(stdin, &asker{asked, answers, &talk, nil})
		}
		own, git, _ := spent()
		out := reply{Status: run(s.Args, stdin, &stdout, &talk, os.Getenv)}
		ownNow, gitNow, memory := spent()
		out.Out, out.Talk, out.Own, out.Git, out.Memory = stdout.String(), talk.String(), ownNow-own, gitNow-git, memory
		if err := answers.Encode(out); err != nil {
			return err
		}
	}
}

// asker reads what a person types when she sees what is on the screen.
type asker struct {
	asked   *json.Decoder
	answers *json.Encoder
	talk    *bytes.Buffer
	typed   []byte
}

func (a *asker) Read(p []byte) (int, error) {
	if len(a.typed) == 0 {
		if err := a.answers.Encode(reply{Talk: a.talk.String(), Ask: true}); err != nil {
			return 0, err
		}
		a.talk.Reset()
		var line string
		if err := a.asked.Decode(&line); err != nil {
			return 0, err
		}
		if line == "" { // she has left
			return 0, io.EOF
		}
		a.typed = []byte(line)
	}
	n := copy(p, a.typed)
	a.typed = a.typed[n:]
	return n, nil
}
