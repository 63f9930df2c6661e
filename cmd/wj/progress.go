package main

import (
	"fmt"
	"io"
	"slices"
	"strings"
	"sync"
	"time"

	"wj/journal"
)

// patience is after how long a person is told that work goes on.
const patience = time.Second

// waiting shows on a terminal, after a second, what a command is at and for how long, until it prints something.
type waiting struct {
	mu    sync.Mutex
	to    io.Writer
	doing string
	width int // of what is shown; 0 for nothing
	done  chan struct{}
}

// wait begins to show how long the command takes, where a person watches. It takes itself away before anything else is written.
func (a *app) wait(command string) {
	if !a.talk.Person || !slices.Contains(append([]string{"export", "site", "bundle"}, paged...), command) {
		return
	}
	w := &waiting{to: a.stderr, doing: "reading the journal", done: make(chan struct{})}
	a.waits = w
	a.stderr, a.stdout = after{a.stderr, w}, after{a.stdout, w}
	a.out.W = after{a.out.W, w}
	go w.show(time.Now(), w.done)
}

func (w *waiting) show(began time.Time, done <-chan struct{}) {
	tick := time.NewTicker(patience)
	defer tick.Stop()
	for {
		select {
		case <-done:
			return
		case now := <-tick.C:
			w.tick(began, now)
		}
	}
}

// tick shows how long it has taken.
func (w *waiting) tick(began, now time.Time) {
	w.mu.Lock()
	defer w.mu.Unlock()
	if w.done != nil {
		line := fmt.Sprintf("%s, %d s", w.doing, int(now.Sub(began).Seconds()+.5))
		fmt.Fprintf(w.to, "\r%-*s", w.width, line)
		w.width = len(line)
	}
}

// at says what the command is at.
func (w *waiting) at(doing string) {
	if w != nil {
		w.mu.Lock()
		w.doing = doing
		w.mu.Unlock()
	}
}

// end wipes the line.
func (w *waiting) end() {
	if w == nil {
		return
	}
	w.mu.Lock()
	defer w.mu.Unlock()
	if w.done == nil {
		return
	}
	close(w.done)
	w.done = nil
	if w.width > 0 {
		fmt.Fprintf(w.to, "\r%*s\r", w.width, "")
	}
}

// after is a writer whose first byte ends the waiting.
type after struct {
	to io.Writer
	w  *waiting
}

func (a after) Write(p []byte) (int, error) {
	a.w.end()
	return a.to.Write(p)
}

// meter shows how far a long work is, on a terminal and only after a moment.
type meter struct {
	w       io.Writer
	what    string
	of      int
	started time.Time
	shown   bool
}

func (a *app) progress(what string, of int) *meter {
	m := &meter{what: what, of: of, started: time.Now()}
	if a.talk.Person {
		m.w = a.stderr
	}
	return m
}

func (m *meter) at(done int) {
	if m.w == nil || !m.shown && time.Since(m.started) < 400*time.Millisecond {
		return
	}
	m.shown = true
	fmt.Fprintf(m.w, "\r%d of %s", done, journal.Count(m.of, m.what))
}

// end wipes the line.
func (m *meter) end() {
	if m.shown {
		fmt.Fprintf(m.w, "\r%s\r", strings.Repeat(" ", 40))
	}
}
