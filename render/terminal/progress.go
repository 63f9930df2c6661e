package terminal

import (
	"fmt"
	"io"
	"strings"
	"sync"
	"time"
)

// patience is after how long a person is shown that work goes on.
const patience = time.Second

// Waiting shows on a terminal, after a second, what a program is at and for how long, until it
// prints something. A nil Waiting shows nothing.
type Waiting struct {
	mu    sync.Mutex
	to    io.Writer
	doing string
	width int // of what is shown; 0 for nothing
	done  chan struct{}
}

// Wait begins to show how long it takes. What is written through [Waiting.Before] takes it away.
func Wait(to io.Writer, doing string) *Waiting {
	w := &Waiting{to: to, doing: doing, done: make(chan struct{})}
	go w.show(time.Now(), w.done)
	return w
}

func (w *Waiting) show(began time.Time, done <-chan struct{}) {
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
func (w *Waiting) tick(began, now time.Time) {
	w.mu.Lock()
	defer w.mu.Unlock()
	if w.done != nil {
		line := fmt.Sprintf("%s, %d s", w.doing, int(now.Sub(began).Seconds()+.5))
		fmt.Fprintf(w.to, "\r%-*s", w.width, line)
		w.width = len(line)
	}
}

// At says what the program is at.
func (w *Waiting) At(doing string) {
	if w != nil {
		w.mu.Lock()
		w.doing = doing
		w.mu.Unlock()
	}
}

// End wipes the line.
func (w *Waiting) End() {
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

// Before is a writer whose first byte ends the waiting.
func (w *Waiting) Before(to io.Writer) io.Writer { return after{to, w} }

type after struct {
	to io.Writer
	w  *Waiting
}

func (a after) Write(p []byte) (int, error) {
	a.w.End()
	return a.to.Write(p)
}

// Meter shows how far a long work is, and only after a moment.
type Meter struct {
	to      io.Writer
	all     string
	started time.Time
	shown   bool
}

// NewMeter shows of how much in all, such as "200 records"; nothing where to is nil.
func NewMeter(to io.Writer, all string) *Meter {
	return &Meter{to: to, all: all, started: time.Now()}
}

// At says how many are done.
func (m *Meter) At(done int) {
	if m.to == nil || !m.shown && time.Since(m.started) < 400*time.Millisecond {
		return
	}
	m.shown = true
	fmt.Fprintf(m.to, "\r%d of %s", done, m.all)
}

// End wipes the line.
func (m *Meter) End() {
	if m.shown {
		fmt.Fprintf(m.to, "\r%s\r", strings.Repeat(" ", 40))
	}
}
