package bench

import (
	"slices"
	"strings"
	"time"
	"unicode"

	"wj/journal"
)

// Key is a key that means something; everything else comes as a Rune.
type Key int

// The keys.
const (
	Rune Key = iota
	Enter
	Backspace
	Clear // Ctrl-U: all that was typed
	Tick  // no key: time has passed
)

// Input is one key.
type Input struct {
	Key  Key
	Rune rune
}

// Machine is a sitting being held. Judge is asked what is doubtful about the
// newest reading of the current test; nil asks nobody.
type Machine struct {
	Plan  Plan
	State State
	Judge func(*State) []Doubt
	Rings int // how often the bell is to be rung so far
}

// pastLimit bounds what b can go back over; it also bounds the kept file.
const pastLimit = 60

// typedLimit bounds what is typed at once.
const typedLimit = 400

// Handle takes one input at a time and reports whether anything changed that
// must be kept.
func (m *Machine) Handle(in Input, now time.Time) (changed bool) {
	s := &m.State
	if in.Key == Tick {
		return m.tick(now)
	}
	if s.Phase == Steps && !s.TimerEnd.IsZero() && !(in.Key == Rune && (in.Rune == 'b' || in.Rune == 's')) {
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
		s.Typed, s.Message, s.Wrong = string(r[:len(r)-1]), "", false
	case in.Key == Clear:
		s.Typed, s.Message, s.Wrong = "", "", false
	case in.Key == Rune && s.Phase == Check && beginsValue(in.Rune):
		m.correct()
		s.Typed = string(in.Rune)
	case in.Key == Rune && m.takesText(in.Rune):
		if s.Wrong {
			s.Typed, s.Wrong = "", false
		}
		if len(s.Typed) < typedLimit {
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
	s := &m.State
	text = strings.TrimSpace(text)
	if s.Message = ""; s.Wrong || text != "" { // a line stands for itself
		s.Typed, s.Wrong = "", false
	}
	letter := []rune(text)
	switch {
	case text == "":
		m.enter(now)
	case s.Phase == Check && beginsValue(letter[0]):
		m.correct()
		s.Typed = text
		m.enter(now)
	case len(letter) == 1 && !m.takesText(letter[0]):
		if !m.command(unicode.ToLower(letter[0]), now) {
			s.Message = "\"" + text + "\" is not one of the keys here"
		}
	case m.takesAnyText():
		s.Typed = text
		m.enter(now)
	default:
		s.Message = "\"" + text + "\" is not one of the keys here"
	}
}

// takesAnyText reports whether something can be typed in this phase.
func (m *Machine) takesAnyText() bool {
	return slices.Contains([]Phase{Start, Reading, Over, Note}, m.State.Phase)
}

// beginsValue reports whether a character can begin a reading or a time.
func beginsValue(r rune) bool { return unicode.IsDigit(r) || strings.ContainsRune("<>.,-+[", r) }

// takesText reports whether a character is text. Letters are commands until a
// figure or sign was typed, for a reading begins with one; d begins a dilution.
func (m *Machine) takesText(r rune) bool {
	s := &m.State
	switch {
	case !m.takesAnyText() || !unicode.IsPrint(r):
		return false
	case s.Phase == Note || s.Typed != "" && !s.Wrong:
		return true
	}
	return beginsValue(r) || s.Phase == Reading && (r == 'd' || r == 'D') && m.test().Analyte.Dilutable()
}

// Start starts the first step's timer where the plan has nothing but steps.
func (m *Machine) Start(now time.Time) {
	if m.State.Phase == Steps && m.State.Step == 0 {
		m.startWait(now)
	}
}

// Leaves reports whether a key means to leave the sitting for later.
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
	s.Message, s.Wrong = "", false
}

func (m *Machine) test() *Test {
	if c := m.State.Current; c >= 0 && c < len(m.Plan.Tests) {
		return &m.Plan.Tests[c]
	}
	return &Test{}
}

func (m *Machine) entry() *Entry {
	if c := m.State.Current; c >= 0 && c < len(m.State.Tests) {
		return &m.State.Tests[c]
	}
	return &Entry{}
}

// tap is the tap that the phase is about: in Start the one whose sample is to be taken.
func (m *Machine) tap() int {
	s := &m.State
	if s.Phase == Start && m.Plan.ByTest {
		for i := range s.Sampled {
			if s.Sampled[i].IsZero() && !m.left(i) {
				return i
			}
		}
	}
	return min(m.test().Tap, max(len(m.Plan.Taps)-1, 0))
}

// left reports whether all tests of a tap are left out.
func (m *Machine) left(tap int) bool {
	for i, t := range m.Plan.Tests {
		if t.Tap == tap && !m.State.Tests[i].Skipped {
			return false
		}
	}
	return true
}

// command does what a letter means here.
func (m *Machine) command(r rune, now time.Time) bool {
	s := &m.State
	if r == 'b' {
		if len(s.Past) == 0 {
			return false
		}
		s.Now, s.Past = s.Past[len(s.Past)-1], s.Past[:len(s.Past)-1]
		s.Typed, s.Message, s.Wrong = "", "", false
		return true
	}
	if !slices.ContainsFunc(m.View(now).Keys, func(k KeyHelp) bool { return k.Key == string(r) }) {
		return false
	}
	m.remember()
	e := m.entry()
	forget := func() { s.Past = s.Past[:len(s.Past)-1] } // no step to go back over
	switch string(s.Phase) + " " + string(r) {
	case "start s":
		tap := m.tap()
		for i, t := range m.Plan.Tests {
			if t.Tap == tap {
				s.Tests[i] = Entry{Site: s.Tests[i].Site, Analyte: s.Tests[i].Analyte, Skipped: true}
			}
		}
		m.toTest(now)
	case "reading l":
		m.nextLot()
		forget()
	case "reading u":
		e.Unit = (e.Unit + 1) % max(len(m.test().Units), 1)
		forget()
	case "reading t":
		if s.TimerEnd = (time.Time{}); s.Past[len(s.Past)-1].TimerEnd.IsZero() {
			s.TimerEnd = now.Add(m.wait())
		}
		forget()
	case "reading ?":
		s.Phase, s.Step, s.Mixed, s.TimerEnd = Steps, 0, false, time.Time{}
		m.startWait(now)
	case "reading s", "check s":
		m.leaveOut(now)
	case "steps s":
		s.TimerEnd = time.Time{}
		m.stepsDone()
	case "times r":
		m.times(now, false)
	case "times d":
		m.times(now, true)
	case "over k":
		m.judge(now)
	case "check k":
		m.next(now)
	case "check r":
		s.Phase, s.Typed = Reading, ""
	case "reading n", "check n", "summary n":
		s.Back, s.Phase, s.Typed = s.Phase, Note, ""
	case "summary t":
		for i := range s.Tests {
			s.Tests[i].Skipped = false
		}
		s.Current = -1
		m.next(now)
	}
	return true
}

// leaveOut leaves the current test out and goes on.
func (m *Machine) leaveOut(now time.Time) {
	e := m.entry()
	*e = Entry{Site: e.Site, Analyte: e.Analyte, Skipped: true}
	m.next(now)
}

// enter does what the enter key means here. It takes nothing that is wrong or doubtful.
func (m *Machine) enter(now time.Time) {
	s := &m.State
	switch s.Phase {
	case Start:
		m.sampled(now)
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
	case Times:
		s.Message = "r or d says which; a number is typed after b"
	case Over:
		m.dilute(now)
	case Check:
		s.Message = "k keeps it, a number takes its place, s leaves the test out"
	case Note:
		m.remember()
		if text := strings.TrimSpace(s.Typed); text != "" {
			tap := m.tap()
			if s.Back == Summary {
				tap = len(s.Notes) - 1
			}
			s.Notes[tap] = append(s.Notes[tap], text)
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

// sampled takes the time of sampling at a tap: what was typed, or what was said at the start,
// or now.
func (m *Machine) sampled(now time.Time) {
	s := &m.State
	if s.Wrong {
		return
	}
	at := s.Earlier
	if at.IsZero() {
		at = now
	}
	if s.Typed != "" {
		t, err := SamplingTime(s.Typed, now)
		if err != nil {
			s.Message, s.Wrong = err.Error(), true
			return
		}
		at = t
	}
	m.remember()
	s.Sampled[m.tap()], s.Typed = at, ""
	m.toTest(now)
}

func (m *Machine) nextLot() {
	e, lots := m.entry(), m.test().Lots
	at := slices.IndexFunc(lots, func(l Lot) bool { return l.ID == e.Lot })
	switch {
	case len(lots) == 0:
	case e.NoLot:
		e.NoLot, e.Lot = false, lots[0].ID
	case max(at, 0)+1 < len(lots):
		e.Lot = lots[max(at, 0)+1].ID
	default: // after the last one: no lot known
		e.Lot, e.NoLot = "", true
	}
}

// toTest goes to the current test, or first to the tap whose sample it needs.
func (m *Machine) toTest(now time.Time) {
	s := &m.State
	for s.Current < len(s.Tests) && (s.Tests[s.Current].Skipped || len(s.Tests[s.Current].Values) > 0) {
		s.Current++
	}
	s.Step, s.Mixed, s.TimerEnd, s.Typed = 0, false, time.Time{}, ""
	if s.Current >= len(s.Tests) {
		s.Phase = Summary
		return
	}
	s.Phase = Start
	if s.Sampled[m.tap()].IsZero() {
		return
	}
	s.Phase = Reading
	if m.Plan.Guided {
		m.toSteps(now)
	}
}

// toSteps goes to the method. Two tests in a row by one method on one meter are
// one handling of the sample: its steps are not asked for twice.
func (m *Machine) toSteps(now time.Time) {
	s := &m.State
	s.Phase, s.Step, s.Mixed, s.TimerEnd = Steps, 0, false, time.Time{}
	t := m.test()
	same := s.Current > 0 && t.Method != "" && !t.NeedsLot && m.Plan.Tests[s.Current-1].Method == t.Method && m.Plan.Tests[s.Current-1].Tap == t.Tap &&
		len(s.Tests[s.Current-1].Values) > 0 && len(m.entry().Values) == 0
	if len(t.Steps) == 0 || same {
		m.stepsDone()
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

// wait is the longest waiting time of the method: what a timer beside the reading counts.
func (m *Machine) wait() time.Duration {
	longest := time.Duration(0)
	for _, step := range m.test().Steps {
		longest = max(longest, step.Wait)
	}
	return longest
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
		m.stepsDone()
		return
	}
	m.startWait(now)
}

func (m *Machine) stepsDone() {
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
	if s.Phase == Steps {
		s.Message = ""
		m.timerDone(now)
	} else {
		s.TimerEnd = time.Time{}
		if !s.Wrong {
			s.Message = "the time is up"
		}
	}
	if over > 10*time.Second && !s.Wrong {
		s.Message = "the time was up " + over.Round(time.Second).String() + " ago"
	}
	m.Rings++
	return true
}

// next goes on to the next test.
func (m *Machine) next(now time.Time) {
	m.State.Current++
	m.toTest(now)
}
