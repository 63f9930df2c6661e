package bench

import (
	"fmt"
	"strconv"
	"strings"
	"time"
	"unicode"

	"wj/journal"
	"wj/water"
)

// Key is a key that means something; everything else comes as a Rune.
type Key int

// The keys.
const (
	Rune Key = iota
	Enter
	Backspace
	Tick // no key: time has passed
)

// Input is one key.
type Input struct {
	Key  Key
	Rune rune
}

// Machine is a session being held. Judge is asked what is doubtful about the
// newest reading of the current test; nil asks nobody.
type Machine struct {
	Plan  Plan
	State State
	Judge func(*State) []Doubt
	Rings int // how often the bell is to be rung so far
}

// pastLimit bounds what b can go back over; it also bounds the kept file.
const pastLimit = 60

// Handle takes one input at a time and reports whether anything changed that
// must be kept.
func (m *Machine) Handle(in Input, now time.Time) (changed bool) {
	s := &m.State
	if in.Key == Tick {
		return m.tick(now)
	}
	if !s.TimerEnd.IsZero() && !(in.Key == Rune && (in.Rune == 'b' || in.Rune == 's')) {
		m.remember()
		m.timerDone(now)
		return true
	}
	switch {
	case in.Key == Backspace:
		if s.Typed == "" {
			return false
		}
		r := []rune(s.Typed)
		s.Typed, s.Message = string(r[:len(r)-1]), ""
	case in.Key == Rune && m.takesText(in.Rune):
		if len(s.Typed) < 400 {
			s.Typed += string(in.Rune)
		}
		s.Message = ""
	case in.Key == Rune:
		return m.command(unicode.ToLower(in.Rune), now)
	case in.Key == Enter:
		m.enter(now)
	}
	return true
}

// Line takes a whole line, as prompts without a terminal give it: a single
// letter is a command where it would be one as a key.
func (m *Machine) Line(text string, now time.Time) {
	text = strings.TrimSpace(text)
	m.State.Message = ""
	typed := m.State.Typed
	m.State.Typed = "" // a line stands for itself; what was typed before is taken by an empty one
	letter := []rune(text)
	isCommand := len(letter) == 1 && !m.takesText(letter[0])
	m.State.Typed = typed
	if isCommand {
		if !m.command(unicode.ToLower(letter[0]), now) {
			m.State.Message = fmt.Sprintf("%q is not one of the keys here", text)
		}
		return
	}
	if !m.takesAnyText() && text != "" {
		m.State.Message = fmt.Sprintf("%q is not one of the keys here", text)
		return
	}
	if text != "" {
		m.State.Typed = text
	}
	m.enter(now)
	if m.State.Message == "" {
		return
	}
	// A line that was not taken is gone, for a line cannot be erased; what stood
	// there before stays to be taken, unless it is what was refused.
	if m.State.Typed = typed; text == "" {
		m.State.Typed = ""
	}
}

// takesAnyText tells whether something can be typed in this phase.
func (m *Machine) takesAnyText() bool {
	switch m.State.Phase {
	case Start, Reading, Over, Note:
		return true
	}
	return false
}

// takesText tells whether a character is text. Letters are commands until a
// figure or sign was typed, for a reading begins with one.
func (m *Machine) takesText(r rune) bool {
	if !m.takesAnyText() || !unicode.IsPrint(r) {
		return false
	}
	if m.State.Phase == Note {
		return true
	}
	if m.State.Typed != "" {
		return true
	}
	return unicode.IsDigit(r) || strings.ContainsRune("<>.,-+[", r)
}

// Start starts the first step's timer where the plan has nothing but steps.
func (m *Machine) Start(now time.Time) {
	if m.State.Phase == Steps && m.State.Step == 0 {
		m.startWait(now)
	}
}

// Leaves tells whether a key means to leave the session for later.
func (m *Machine) Leaves(in Input) bool {
	return in.Key == Rune && (in.Rune == 'q' || in.Rune == 'Q') && !m.takesText(in.Rune)
}

// remember keeps the present so that b can go back to it.
func (m *Machine) remember() {
	s := &m.State
	past := s.Now.clone()
	past.TimerEnd = time.Time{}
	s.Past = append(s.Past, past)
	if len(s.Past) > pastLimit {
		s.Past = s.Past[len(s.Past)-pastLimit:]
	}
	s.Message = ""
}

func (m *Machine) test() *Test {
	if m.State.Current < len(m.Plan.Tests) {
		return &m.Plan.Tests[m.State.Current]
	}
	return &Test{}
}

func (m *Machine) entry() *Entry {
	if m.State.Current < len(m.State.Tests) {
		return &m.State.Tests[m.State.Current]
	}
	return &Entry{}
}

// command does what a letter means here.
func (m *Machine) command(r rune, now time.Time) bool {
	s := &m.State
	if r == 'b' {
		if len(s.Past) == 0 {
			return false
		}
		s.Now, s.Past = s.Past[len(s.Past)-1], s.Past[:len(s.Past)-1]
		s.Typed, s.Message = "", ""
		return true
	}
	for _, k := range m.View(now).Keys {
		if k.Key != string(r) {
			continue
		}
		m.remember()
		e := m.entry()
		switch string(s.Phase) + " " + k.Key {
		case "lot l":
			m.nextLot()
			s.Past = s.Past[:len(s.Past)-1] // going round the lots is no step to go back over
		case "lot s", "reading s":
			*e = Entry{Analyte: e.Analyte, Skipped: true}
			m.next(now)
		case "steps s":
			s.TimerEnd = time.Time{}
			m.stepsDone(now)
		case "reading u":
			e.Unit = (e.Unit + 1) % max(len(m.test().Units), 1)
			s.Past = s.Past[:len(s.Past)-1]
		case "over k":
			m.check()
		case "check r":
			m.toSteps(now)
		case "check c":
			last := e.Values[len(e.Values)-1]
			e.Values, e.Doubts = e.Values[:len(e.Values)-1], nil
			s.Phase, s.Typed = Reading, strings.TrimSuffix(last, " "+m.unitText())
		case "check n", "summary n":
			s.Back, s.Phase, s.Typed = s.Phase, Note, ""
		case "summary t":
			s.Current = -1
			m.next(now)
		}
		return true
	}
	return false
}

// enter does what the enter key means here.
func (m *Machine) enter(now time.Time) {
	s := &m.State
	switch s.Phase {
	case Start:
		if s.Typed != "" {
			t, err := SamplingTime(s.Typed, now)
			if err != nil {
				s.Message = err.Error()
				return
			}
			m.remember()
			s.Sampled = t
		} else {
			m.remember()
		}
		s.Typed = ""
		m.toTest(now)
	case ChooseLot:
		m.remember()
		e := m.entry()
		if e.Lot == "" && !e.NoLot {
			if lots := m.test().Lots; len(lots) > 0 {
				e.Lot = lots[0].ID
			} else {
				e.NoLot = true
			}
		}
		m.toSteps(now)
	case Steps:
		m.remember()
		step := m.step()
		if step.Mix > 0 && !s.Mixed && s.TimerEnd.IsZero() {
			s.TimerEnd = now.Add(step.Mix)
			return
		}
		m.timerDone(now)
	case Reading:
		m.reading(now)
	case Over:
		m.dilute(now)
	case Check:
		m.remember()
		m.next(now)
	case Note:
		m.remember()
		if text := strings.TrimSpace(s.Typed); text != "" {
			s.Notes = append(s.Notes, text)
		}
		s.Typed, s.Phase = "", s.Back
	case Summary:
		if len(s.Done()) == 0 {
			s.Message = "there is no reading yet: t goes back to the tests, q leaves"
			return
		}
		m.remember()
		s.Phase = Record
	}
}

func (m *Machine) nextLot() {
	e, lots := m.entry(), m.test().Lots
	at := 0
	for i, l := range lots {
		if l.ID == e.Lot {
			at = i
		}
	}
	switch {
	case len(lots) == 0:
	case e.NoLot:
		e.NoLot, e.Lot = false, lots[0].ID
	case at+1 < len(lots):
		e.Lot = lots[at+1].ID
	default: // after the last one: no lot known
		e.Lot, e.NoLot = "", true
	}
}

// toTest goes to the first question of the current test.
func (m *Machine) toTest(now time.Time) {
	s := &m.State
	s.Step, s.Mixed, s.TimerEnd, s.Typed = 0, false, time.Time{}, ""
	if s.Current >= len(s.Tests) {
		s.Phase = Summary
		return
	}
	if m.test().NeedsLot {
		s.Phase = ChooseLot
		return
	}
	m.toSteps(now)
}

// toSteps goes to the method. Two tests in a row by one method on one meter are
// one handling of the sample: its steps are not asked for twice.
func (m *Machine) toSteps(now time.Time) {
	s := &m.State
	s.Phase, s.Step, s.Mixed, s.TimerEnd = Steps, 0, false, time.Time{}
	t := m.test()
	same := s.Current > 0 && t.Method != "" && !t.NeedsLot && m.Plan.Tests[s.Current-1].Method == t.Method &&
		len(s.Tests[s.Current-1].Values) > 0 && len(m.entry().Values) == 0
	if len(t.Steps) == 0 || same {
		m.stepsDone(now)
		return
	}
	m.startWait(now)
}

func (m *Machine) step() journal.Step {
	if steps := m.test().Steps; m.State.Step < len(steps) {
		return steps[m.State.Step]
	}
	return journal.Step{}
}

// startWait starts a waiting time by itself: it runs whether anyone is ready or
// not. Mixing needs hands first, so a key starts it.
func (m *Machine) startWait(now time.Time) {
	if step := m.step(); step.Wait > 0 && (step.Mix == 0 || m.State.Mixed) {
		m.State.TimerEnd = now.Add(step.Wait)
	}
}

// timerDone ends the step's mixing or the step.
func (m *Machine) timerDone(now time.Time) {
	s := &m.State
	s.TimerEnd = time.Time{}
	if step := m.step(); step.Mix > 0 && !s.Mixed && step.Wait > 0 {
		s.Mixed = true
		m.startWait(now)
		return
	}
	s.Step, s.Mixed = s.Step+1, false
	if s.Step >= len(m.test().Steps) {
		m.stepsDone(now)
		return
	}
	m.startWait(now)
}

func (m *Machine) stepsDone(time.Time) {
	m.State.Phase = Reading
	if m.Plan.StepsOnly {
		m.State.Phase = Ended
	}
}

func (m *Machine) tick(now time.Time) bool {
	s := &m.State
	if s.TimerEnd.IsZero() || now.Before(s.TimerEnd) {
		return false
	}
	over := now.Sub(s.TimerEnd)
	s.Message = ""
	m.timerDone(now)
	if over > 10*time.Second {
		s.Message = "the time was up " + over.Round(time.Second).String() + " ago"
	}
	m.Rings++
	return true
}

// reading takes what was typed as one or several readings.
func (m *Machine) reading(now time.Time) {
	s, e, t := &m.State, m.entry(), m.test()
	if strings.TrimSpace(s.Typed) == "" {
		s.Message = "type what the display shows; > where it is beyond the range"
		return
	}
	quantities, err := Read(s.Typed, t, e.Unit)
	if err != nil {
		s.Message = err.Error()
		return
	}
	m.remember()
	over := false
	for _, q := range quantities {
		e.Values = append(e.Values, q.String())
		over = over || q.Bound == water.Above
	}
	e.At, e.Skipped, s.Typed = now, false, ""
	if over {
		s.Phase = Over
		return
	}
	m.check()
}

// check goes to the question whether the reading is plausible.
func (m *Machine) check() {
	m.State.Phase = Check
	m.entry().Doubts = nil
	if m.Judge != nil {
		m.entry().Doubts = m.Judge(&m.State)
	}
}

// dilute repeats a test that was beyond the range on a diluted sample. The
// first try is kept in the notes.
func (m *Machine) dilute(now time.Time) {
	s, e := &m.State, m.entry()
	if !m.test().Analyte.Dilutable() {
		m.remember()
		m.check()
		return
	}
	factor := max(e.Dilution, 1) * 2
	if text := strings.TrimSpace(s.Typed); text != "" {
		f, err := strconv.ParseFloat(text, 64)
		if err != nil || !(f > 1 && f <= 1000) {
			s.Message = "a dilution is a number above 1: 2 is one part of sample and one of distilled water"
			return
		}
		factor = f
	}
	m.remember()
	try := Entry{Values: e.Values, Dilution: e.Dilution}
	e.Tries = append(e.Tries, try.Text())
	e.Values, e.Dilution, s.Typed = nil, factor, ""
	m.toSteps(now)
}

// next goes on to the next test.
func (m *Machine) next(now time.Time) {
	s := &m.State
	s.Current++
	for s.Current < len(s.Tests) && len(s.Tests[s.Current].Values) > 0 {
		s.Current++
	}
	m.toTest(now)
}
