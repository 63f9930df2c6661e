// Package screen shows a sitting at the bench to a person: on the whole screen of a terminal, key
// by key, or line by line where there is none.
//
//	s := &screen.Screen{Out: render.Detect(os.Stdout, os.Getenv, "auto"), In: os.Stdin, Talk: os.Stderr, Clock: time.Now, Save: save}
//	done, err := s.Hold(machine, os.Stdin, os.Stdout)
package screen

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

// Screen is where a sitting is shown. Save is called after each change.
type Screen struct {
	Out   render.Output
	In    io.Reader
	Talk  io.Writer
	Bell  bool // when a timer ends
	Clock func() time.Time
	Save  func() error
}

func (s *Screen) say(text string) error {
	_, err := io.WriteString(s.Talk, render.Inert(text))
	return err
}

// over reports whether nothing is left to ask.
func over(m *bench.Machine) bool {
	return m.State.Phase == bench.Record || m.State.Phase == bench.Ended
}

// Lines holds a sitting line by line. Timers do not hold it up: it says how long to wait, and the
// next line goes on. done is false where it was left for later.
func (s *Screen) Lines(m *bench.Machine) (done bool, err error) {
	in := bufio.NewReaderSize(s.In, 4096)
	shown := ""
	for !over(m) {
		v := m.View(s.Clock())
		if text := lineView(v); text != shown || v.Message != "" {
			if err := s.say(s.Out.Fit(text)); err != nil {
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
		if err := s.say(render.Line(prompt)); err != nil {
			return false, err
		}
		line, err := in.ReadString('\n')
		if err != nil && line == "" {
			_ = s.say("\n")
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
		m.Line(text, s.Clock())
		if err := s.Save(); err != nil {
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
