package screen

import (
	"fmt"
	"os"
	"os/signal"
	"strings"
	"syscall"
	"time"
	"unicode/utf8"

	"golang.org/x/term"

	"wj/journal/bench"
)

// Sequences of ECMA-48 and DEC that every terminal emulator knows.
const (
	otherScreen = "\x1b[?1049h"
	firstScreen = "\x1b[?1049l"
	home        = "\x1b[H"
	clearLine   = "\x1b[K"
	clearBelow  = "\x1b[J"
	hideCursor  = "\x1b[?25l"
	showCursor  = "\x1b[?25h"
)

// Hold holds a sitting on the whole screen of a terminal, key by key. done is false where it was
// left for later.
func (s *Screen) Hold(m *bench.Machine, in, out *os.File) (done bool, err error) {
	before, err := term.MakeRaw(int(in.Fd()))
	if err != nil {
		return false, fmt.Errorf("take the terminal key by key: %w", err)
	}
	fmt.Fprint(out, otherScreen+hideCursor)
	defer func() {
		fmt.Fprint(out, showCursor+firstScreen)
		if e := term.Restore(int(in.Fd()), before); e != nil && err == nil {
			err = fmt.Errorf("give the terminal back: %w", e)
		}
	}()
	ended := make(chan os.Signal, 1)
	signal.Notify(ended, os.Interrupt, syscall.SIGTERM, syscall.SIGHUP)
	defer signal.Stop(ended)
	keys := make(chan []byte)
	go func() {
		defer close(keys)
		for {
			buf := make([]byte, 256)
			n, err := in.Read(buf)
			if err != nil {
				return
			}
			keys <- buf[:n]
		}
	}()
	tick := time.NewTicker(200 * time.Millisecond)
	defer tick.Stop()
	var rest []byte
	shown, rung, skip := "", m.Rings, 0
	for !over(m) {
		frame, more := s.frame(m.View(s.Clock()), out, skip)
		if frame != shown {
			if _, err := out.WriteString(frame); err != nil {
				return false, nil // the terminal is gone; everything is kept
			}
			shown = frame
		}
		if m.Rings > rung && s.Bell {
			_, _ = out.WriteString("\a")
		}
		rung = m.Rings
		changed := false
		select {
		case <-ended:
			return false, nil
		case <-tick.C:
			changed = m.Handle(bench.Input{Key: bench.Tick}, s.Clock())
		case chunk, open := <-keys:
			if !open {
				return false, nil
			}
			var inputs []bench.Input
			inputs, rest = parseKeys(append(rest, chunk...))
			for _, i := range inputs {
				if i.Key == leaveKey || m.Leaves(i) {
					return false, s.Save()
				}
				if over(m) {
					break
				}
				if more > 0 && i == (bench.Input{Key: bench.Rune, Rune: ' '}) { // the next screenful, and after the last the first
					skip += more
					continue
				}
				skip = 0
				changed = m.Handle(i, s.Clock()) || changed
			}
		}
		if changed {
			if err := s.Save(); err != nil {
				return false, err
			}
		}
	}
	return true, nil
}

// leaveKey is Ctrl-C or Ctrl-D.
const leaveKey bench.Key = -1

// parseKeys reads keys from the bytes that a terminal sends; rest is the start
// of a character that has not come whole. Arrow and function keys (ECMA-48
// control sequences) mean nothing here and are passed over.
func parseKeys(b []byte) (out []bench.Input, rest []byte) {
	for len(b) > 0 {
		switch c := b[0]; {
		case c == '\r' || c == '\n':
			out, b = append(out, bench.Input{Key: bench.Enter}), b[1:]
		case c == 0x7f || c == 0x08:
			out, b = append(out, bench.Input{Key: bench.Backspace}), b[1:]
		case c == 0x15:
			out, b = append(out, bench.Input{Key: bench.Clear}), b[1:]
		case c == 0x03 || c == 0x04:
			out, b = append(out, bench.Input{Key: leaveKey}), b[1:]
		case c == 0x1b:
			b = b[escapeLength(b):]
		case c < 0x20:
			b = b[1:]
		case !utf8.FullRune(b):
			return out, b
		default:
			r, n := utf8.DecodeRune(b)
			b = b[n:]
			if r != utf8.RuneError {
				out = append(out, bench.Input{Key: bench.Rune, Rune: r})
			}
		}
	}
	return out, nil
}

// escapeLength is the length of the sequence that an escape byte begins: ESC [
// parameters and a final byte of @ to ~, or ESC O and one byte.
func escapeLength(b []byte) int {
	if len(b) > 2 && b[1] == 'O' {
		return 3
	}
	if len(b) < 2 || b[1] != '[' {
		return 1
	}
	for i := 2; i < len(b); i++ {
		if b[i] >= 0x40 && b[i] <= 0x7e {
			return i + 1
		}
	}
	return len(b)
}

// frame draws a view for a terminal of any size down to 40 by 12. skip lines of it
// are passed over; more is how many a further screenful passes over, 0 where all is
// in sight or something is being typed.
func (s *Screen) frame(v bench.View, out *os.File, skip int) (text string, more int) {
	width, height, err := term.GetSize(int(out.Fd()))
	if err != nil || width < 20 || height < 6 {
		width, height = max(width, 40), max(height, 12)
	}
	lines, cursorRow, cursorColumn, more := s.draw(v, width, height, skip)
	var b strings.Builder
	b.WriteString(hideCursor + home)
	for i, l := range lines {
		b.WriteString(l + clearLine)
		if i < len(lines)-1 {
			b.WriteString("\r\n")
		}
	}
	b.WriteString(clearBelow)
	if cursorRow >= 0 {
		fmt.Fprintf(&b, "\x1b[%d;%dH%s", cursorRow+1, cursorColumn+1, showCursor)
	}
	return b.String(), more
}
