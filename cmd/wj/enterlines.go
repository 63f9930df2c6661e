package main

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"strings"
	"time"

	"wj/journal/bench"
	"wj/render"
)

// hold holds a session at the terminal or line by line; done is false where it
// was left for later.
func (a *app) hold(m *bench.Machine, plain, bell bool, clock func() time.Time, save func() error) (done bool, err error) {
	if err := save(); err != nil {
		return false, err
	}
	if in, out, ok := a.terminal(); ok && !plain {
		return a.holdScreen(m, in, out, bell, clock, save)
	}
	return a.holdLines(m, clock, save)
}

func over(m *bench.Machine) bool {
	return m.State.Phase == bench.Record || m.State.Phase == bench.Ended
}

// holdLines asks line by line. Timers do not hold it up: it says how long to
// wait, and the next line goes on.
func (a *app) holdLines(m *bench.Machine, clock func() time.Time, save func() error) (bool, error) {
	in := bufio.NewReaderSize(a.stdin, 4096)
	shown := ""
	for !over(m) {
		v := m.View(clock())
		if text := lineView(v); text != shown || v.Message != "" {
			if err := a.printTalk(text); err != nil {
				return false, err
			}
			shown = text
		}
		prompt := "> "
		if v.Ask != "" {
			prompt = v.Ask + " > "
			if v.Typed != "" && !v.Wrong {
				prompt = v.Ask + " (enter takes " + v.Typed + ") > "
			}
		}
		if err := a.printTalk(render.Line(prompt)); err != nil {
			return false, err
		}
		line, err := in.ReadString('\n')
		if err != nil && line == "" {
			_ = a.printTalk("\n")
			if errors.Is(err, io.EOF) {
				return false, nil
			}
			return false, fmt.Errorf("read the answer: %w", err)
		}
		text := strings.TrimSpace(line)
		bare := *m
		bare.State.Typed, bare.State.Wrong = "", false // a line stands for itself
		if r := []rune(text); len(r) == 1 && bare.Leaves(bench.Input{Key: bench.Rune, Rune: r[0]}) {
			return false, nil
		}
		m.Line(text, clock())
		if err := save(); err != nil {
			return false, err
		}
	}
	return true, nil
}

func lineView(v bench.View) string {
	var b strings.Builder
	b.WriteString("\n" + render.Line(strings.Join(nonEmpty(v.Where, v.Count, v.Test), " · ")) + "\n")
	if len(v.Done) > 0 {
		b.WriteString("  done: " + render.Line(doneText(v.Done)) + "\n")
	}
	for _, l := range append(v.Lines, v.Then...) {
		b.WriteString("  " + render.Line(strings.TrimSpace(l.Head+" "+l.Text)) + "\n")
	}
	if v.Timer > 0 {
		b.WriteString("  wait " + clockText(v.Timer) + "\n")
	}
	if v.Message != "" {
		b.WriteString("  ! " + render.Line(v.Message) + "\n")
	}
	b.WriteString("  [" + keyLine(v) + "]\n")
	return b.String()
}

// doneText lists tests in few words.
func doneText(cells []bench.Cell) string {
	var parts []string
	for _, c := range cells {
		parts = append(parts, c.Name+" "+c.Text)
	}
	return strings.Join(parts, ", ")
}

func keyLine(v bench.View) string {
	var parts []string
	for _, k := range v.Keys {
		switch { // lines are not erased: another one takes their place
		case k.Key == "backspace", k.Key == "ctrl-u":
			continue
		case k.Key == "ctrl-c" && v.Typed != "":
			k.Key = "q"
		}
		parts = append(parts, k.Key+" "+render.Line(k.Does))
	}
	return strings.Join(parts, " · ")
}

func nonEmpty(parts ...string) []string {
	var out []string
	for _, p := range parts {
		if p != "" {
			out = append(out, p)
		}
	}
	return out
}

func clockText(d time.Duration) string {
	sec := int((d + time.Second - 1) / time.Second)
	return fmt.Sprintf("%d:%02d", sec/60, sec%60)
}
