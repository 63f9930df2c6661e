package main

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
	"wj/render"
)

// terminal gives the terminal that the program talks with, where both ends are
// one.
func (a *app) terminal() (in, out *os.File, ok bool) {
	in, ok1 := a.stdin.(*os.File)
	out, ok2 := a.stdout.(*os.File)
	ok = ok1 && ok2 && term.IsTerminal(int(in.Fd())) && term.IsTerminal(int(out.Fd())) && a.env("TERM") != "dumb"
	return in, out, ok
}

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

// holdScreen holds a session on the whole screen, key by key.
func (a *app) holdScreen(m *bench.Machine, in, out *os.File, bell bool, clock func() time.Time, save func() error) (done bool, err error) {
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
		frame, more := a.frame(m.View(clock()), out, skip)
		if frame != shown {
			if _, err := out.WriteString(frame); err != nil {
				return false, nil // the terminal is gone; everything is kept
			}
			shown = frame
		}
		if m.Rings > rung && bell {
			_, _ = out.WriteString("\a")
		}
		rung = m.Rings
		changed := false
		select {
		case <-ended:
			return false, nil
		case <-tick.C:
			changed = m.Handle(bench.Input{Key: bench.Tick}, clock())
		case chunk, open := <-keys:
			if !open {
				return false, nil
			}
			var inputs []bench.Input
			inputs, rest = parseKeys(append(rest, chunk...))
			for _, i := range inputs {
				if i.Key == leaveKey || m.Leaves(i) {
					return false, save()
				}
				if over(m) {
					break
				}
				if more > 0 && i == (bench.Input{Key: bench.Rune, Rune: ' '}) { // the next screenful, and after the last the first
					skip += more
					continue
				}
				skip = 0
				changed = m.Handle(i, clock()) || changed
			}
		}
		if changed {
			if err := save(); err != nil {
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
func (a *app) frame(v bench.View, out *os.File, skip int) (text string, more int) {
	width, height, err := term.GetSize(int(out.Fd()))
	if err != nil || width < 20 || height < 6 {
		width, height = max(width, 40), max(height, 12)
	}
	lines, cursorRow, cursorColumn, more := a.screen(v, width, height, skip)
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

// screen draws a view: the head, what is done at this tap, the prompt, what helps to judge the
// value, what comes then, and the keys. The prompt and the keys are always in sight; of the rest
// a small terminal shows what matters.
func (a *app) screen(v bench.View, width, height, skip int) (lines []string, cursorRow, cursorColumn, more int) {
	o := a.out
	room := width - 1 // a full last column makes some terminals wrap
	head, right := render.Line(v.Where), render.Line(v.Count)
	if gap := room - render.Width(head) - render.Width(right); gap >= 2 && right != "" {
		head += strings.Repeat(" ", gap) + right
	} else {
		head = cut(strings.Join(nonEmpty(right, head), " · "), room)
	}
	top := []string{o.Paint(render.Heading, head), o.Paint(render.Dim, strings.Repeat("─", room))}
	top = append(top, a.done(v.Done, room, height >= 20)...)
	prompt, asked, column := a.prompt(v, room)
	cursorRow = -1
	var bottom []string
	if v.Test != "" && len(prompt) > 0 {
		if len(v.Done) > 0 && height >= 20 {
			top = append(top, "")
		}
		cursorRow, cursorColumn = len(top)+asked, column
		if top = append(top, prompt...); height >= 20 {
			top = append(top, "")
		}
		prompt = nil
	}
	if v.Timer > 0 {
		bottom = append(bottom, timerLine(v, room))
	}
	below := len(bottom)
	bottom = append(append(bottom, prompt...), o.Paint(render.Dim, strings.Repeat("─", room)))
	for _, l := range keyLines(v, room) {
		bottom = append(bottom, o.Paint(render.Dim, l))
	}

	body, focus := a.body(v.Lines, v.Focus, room)
	space := max(height-len(top)-len(bottom), 1)
	if total := len(body); total > space {
		from := min(max(focus-space/3, 0), len(body)-space)
		paged := v.Ask == "" && v.Timer == 0 && space > 2
		if paged {
			more = space - 1 // the last line of a screenful tells of the rest
			from += skip
			if from >= total { // round
				from = skip % more
			}
			from = min(from, total-space)
		}
		body = body[from : from+space]
		if left := total - from - space; left > 0 {
			text := fmt.Sprintf("… %d more lines", left+1)
			if paged {
				text += ": space"
			}
			body[space-1] = o.Paint(render.Dim, text)
		}
	}
	if then, _ := a.body(v.Then, -1, room); len(then) > 0 && len(body)+1 < space {
		body = append(append(body, ""), then[:min(len(then), space-len(body)-1)]...)
	}
	for len(body) < min(space, 16-len(prompt)) {
		body = append(body, "")
	}
	lines = append(append(top, body...), bottom...)
	if len(prompt) > 0 {
		cursorRow, cursorColumn = len(top)+len(body)+below+asked, column
	}
	return lines, cursorRow, cursorColumn, more
}

// prompt draws the question, what is typed, and below it why it was not taken; at is the line
// that the cursor is in.
func (a *app) prompt(v bench.View, room int) (lines []string, at, column int) {
	if v.Ask != "" {
		question := "▸ " + render.Line(v.Ask) + ": "
		typed := render.Line(v.Typed)
		if render.Width(question)+render.Width(typed) > room-1 {
			lines = append(lines, cut(question, room))
			question = ""
			for render.Width(typed) > room-1 { // the end of what is typed stays in sight
				_, n := utf8.DecodeRuneInString(typed)
				typed = typed[n:]
			}
		}
		state := render.Bold
		if v.Wrong {
			state = render.Warning
		}
		at, column = len(lines), render.Width(question+typed)
		lines = append(lines, question+a.out.Paint(state, typed))
	}
	message := fold(v.Message, room-2)
	for i, l := range message[:min(len(message), 3)] {
		if i == 2 && len(message) > 3 {
			l = cut(l+"…", room-2)
		}
		lines = append(lines, "  "+a.out.Paint(render.Warning, l))
	}
	return lines, at, column
}

// done lists the tests of the tap so far: in two columns where there is room, else on a line.
func (a *app) done(cells []bench.Cell, room int, tall bool) []string {
	if len(cells) == 0 {
		return nil
	}
	half, width := (len(cells)+1)/2, room/2
	texts, fits := make([]string, len(cells)), tall && len(cells) <= 12
	for i, c := range cells {
		mark := " "
		if c.Doubtful {
			mark = "?"
		}
		texts[i] = fmt.Sprintf("%2d %s %-16s %s", c.Number, mark, c.Name, render.Line(c.Text))
		fits = fits && render.Width(texts[i]) < width
	}
	if !fits { // the newest, as many as there is room for
		text, head := "", fmt.Sprintf("done %d  ", len(cells))
		for i := range cells {
			list := doneText(cells[len(cells)-1-i:])
			if render.Width(list)+len(head) > room {
				break
			}
			text = list
		}
		return []string{a.out.Paint(render.Dim, cut(head+render.Line(text), room))}
	}
	var lines []string
	for i := range half {
		line := texts[i]
		if i+half < len(texts) {
			line += strings.Repeat(" ", max(width-render.Width(line), 1)) + texts[i+half]
		}
		lines = append(lines, a.out.Paint(render.Dim, line))
	}
	return lines
}

// headWidth is the column of the words that say what a line is.
const headWidth = 10

// body folds lines; the words before them stand in a column of their own.
func (a *app) body(list []bench.Line, focused, room int) (body []string, focus int) {
	indent := 0
	for _, l := range list {
		if l.Head != "" {
			indent = headWidth
		}
	}
	for i, l := range list {
		if i == focused {
			focus = len(body)
		}
		width := room - indent
		if indent == 0 && render.Width(l.Text) > room {
			width = room - 4 // what follows is set in
		}
		for k, text := range fold(l.Text, width) {
			switch {
			case indent > 0 && k == 0:
				text = render.Line(l.Head) + strings.Repeat(" ", max(indent-render.Width(l.Head), 1)) + text
			case indent > 0:
				text = strings.Repeat(" ", indent) + text
			case k > 0:
				text = "    " + strings.TrimLeft(text, " ")
			}
			body = append(body, a.out.Paint(lineState(l.Style), cut(text, room)))
		}
	}
	return body, focus
}

func lineState(s bench.Style) render.State {
	switch s {
	case bench.Quiet:
		return render.Dim
	case bench.Strong:
		return render.Bold
	case bench.Doubtful:
		return render.Warning
	}
	return render.Plain
}

// fold breaks a text; nothing gives no line.
func fold(text string, width int) []string {
	if text == "" {
		return nil
	}
	return strings.Split(render.Wrap(render.Line(text), max(width, 8)), "\n")
}

func cut(s string, width int) string {
	if render.Width(s) <= width {
		return s
	}
	for render.Width(s) > width-1 && s != "" {
		_, n := utf8.DecodeLastRuneInString(s)
		s = s[:len(s)-n]
	}
	return s + "…"
}

// keyLines lists the keys, never breaking inside one.
func keyLines(v bench.View, width int) []string {
	var lines []string
	line := ""
	for _, k := range v.Keys {
		part := k.Key + " " + render.Line(k.Does)
		switch {
		case line == "":
			line = part
		case render.Width(line)+3+render.Width(part) <= width:
			line += " · " + part
		default:
			lines, line = append(lines, line), part
		}
	}
	return append(lines, line)
}

// timerLine is the time that is left, in figures and as a line that grows
// shorter.
func timerLine(v bench.View, width int) string {
	text := clockText(v.Timer)
	length := max(width-len(text)-1, 4)
	left := 0
	if v.Total > 0 {
		left = min(int(float64(length)*float64(v.Timer)/float64(v.Total)+0.5), length)
	}
	return text + " " + strings.Repeat("━", left) + strings.Repeat("·", length-left)
}
