package bench

import (
	"fmt"
	"math"
	"strings"
	"time"

	"wj/journal"
	"wj/water"
)

// View is what to show of a session: plain strings, cut and coloured by whoever
// draws them.
type View struct {
	Where string // "North well"
	Count string // "6 of 8"
	Test  string // "sulfate"
	Lines []Line
	Focus int    // the line that must be in sight
	Ask   string // what is to be typed; empty where nothing is
	Typed string
	Keys  []KeyHelp
	Timer time.Duration // what is left; 0 where none runs
	Total time.Duration
	// Message says why something was not taken.
	Message string
}

// Line is one line of a view.
type Line struct {
	Text  string
	Style Style
}

// Style is how much a line matters.
type Style int

// The styles.
const (
	Normal Style = iota
	Quiet
	Strong
	Doubtful
)

// KeyHelp names a key and what it does.
type KeyHelp struct{ Key, Does string }

// View draws the state.
func (m *Machine) View(now time.Time) View {
	s := &m.State
	v := View{Where: m.Plan.Name, Typed: s.Typed, Message: s.Message, Focus: -1}
	if s.Current < len(s.Tests) && s.Phase != Start && s.Phase != Summary {
		v.Count = fmt.Sprintf("%d of %d", s.Current+1, len(s.Tests))
		v.Test = m.test().Analyte.String()
	}
	add := func(style Style, format string, args ...any) {
		v.Lines = append(v.Lines, Line{fmt.Sprintf(format, args...), style})
	}
	key := func(k, does string) { v.Keys = append(v.Keys, KeyHelp{k, does}) }
	switch s.Phase {
	case Start:
		add(Normal, "sampled %s", s.Sampled.Format("2006-01-02 15:04"))
		add(Normal, "by %s", s.By)
		if s.Instrument != "" {
			add(Normal, "meter %s", s.Instrument)
		}
		if s.Place != "" {
			add(Normal, "place %s", s.Place)
		}
		var list []string
		for _, t := range m.Plan.Tests {
			list = append(list, t.Analyte.String())
		}
		add(Quiet, "%s", strings.Join(list, ", "))
		v.Ask = "sampled earlier? type 08:15"
		key("enter", "begin")
	case ChooseLot:
		m.lotView(add)
		key("enter", "take it")
		if len(m.test().Lots) > 0 {
			key("l", "other lot")
		}
		key("s", "skip test")
	case Steps:
		m.stepsView(&v, now, add)
		if s.TimerEnd.IsZero() {
			does := "next"
			if step := m.step(); step.Mix > 0 && !s.Mixed {
				does = "start " + clockText(step.Mix)
			}
			key("enter", does)
		} else {
			key("any key", "skip the timer")
		}
		key("s", "all done")
	case Reading:
		m.readingView(&v, add)
		key("enter", "take it")
		if len(m.test().Units) > 1 {
			key("u", "other unit")
		}
		key("s", "skip test")
	case Over:
		m.overView(&v, add, key)
	case Check:
		m.checkView(add)
		key("enter", "keep")
		key("r", "test once more")
		key("c", "correct it")
		key("n", "note")
	case Note:
		v.Ask = "note"
		key("enter", "done")
	case Summary, Record:
		m.summaryView(add)
		key("enter", "record it")
		key("n", "note")
		if len(s.Done()) < len(s.Tests) {
			key("t", "tests left out")
		}
	case Ended:
		add(Strong, "done")
	}
	if s.Typed != "" { // letters are text now
		v.Keys = []KeyHelp{{"enter", v.Keys[0].Does}, {"backspace", "erase"}, {"ctrl-c", "later"}}
		if s.Phase == Over {
			v.Keys[0].Does = "dilute so"
		}
		return v
	}
	if len(s.Past) > 0 && s.Phase != Note && s.Phase != Ended {
		key("b", "back")
	}
	switch {
	case s.Phase == Note:
		key("ctrl-c", "later")
	case m.Plan.StepsOnly:
		key("q", "leave")
	default:
		key("q", "later")
	}
	return v
}

type adder func(style Style, format string, args ...any)

func (m *Machine) lotView(add adder) {
	e, t := m.entry(), m.test()
	switch {
	case len(t.Lots) == 0:
		add(Doubtful, "no lot for %s is in date and has tests left", t.Analyte)
		add(Quiet, "enter goes on without one; wj new lot records one")
	case e.NoLot:
		add(Doubtful, "no lot: the reading will not say which")
	default:
		lot := t.Lots[0]
		for _, l := range t.Lots {
			if l.ID == e.Lot {
				lot = l
			}
		}
		add(Strong, "lot %s", lot.ID)
		add(Normal, "%s", lot.Text)
		add(Quiet, "compare it with the label on the tube")
	}
}

func (m *Machine) stepsView(v *View, now time.Time, add adder) {
	s, t := &m.State, m.test()
	name := t.MethodName
	if e := m.entry(); e.Dilution > 1 {
		name += fmt.Sprintf(", on a sample diluted %s times", shortNumber(e.Dilution))
	}
	add(Quiet, "%s", name)
	if t.Caution != "" {
		add(Doubtful, "%s", t.Caution)
	}
	for i, step := range t.Steps {
		mark, style := "  ", Normal
		switch {
		case i < s.Step:
			mark, style = "✓ ", Quiet
		case i == s.Step:
			mark, style, v.Focus = "▸ ", Strong, len(v.Lines)
		}
		text := fmt.Sprintf("%s%d %s", mark, i+1, step.Do)
		if d := stepTime(step); d != "" {
			text += " (" + d + ")"
		}
		add(style, "%s", text)
	}
	if !s.TimerEnd.IsZero() {
		step := m.step()
		v.Total = step.Wait
		if step.Mix > 0 && !s.Mixed {
			v.Total = step.Mix
		}
		v.Timer = max(s.TimerEnd.Sub(now), time.Millisecond)
	}
}

func stepTime(step journal.Step) string {
	var parts []string
	if step.Mix > 0 {
		parts = append(parts, "mix "+clockText(step.Mix))
	}
	if step.Wait > 0 {
		parts = append(parts, "wait "+clockText(step.Wait))
	}
	return strings.Join(parts, ", ")
}

func clockText(d time.Duration) string {
	sec := int(math.Ceil(d.Seconds()))
	return fmt.Sprintf("%d:%02d", sec/60, sec%60)
}

func (m *Machine) unitText() string {
	t, e := m.test(), m.entry()
	if t.Analyte.Info().FitUnit(water.None) == nil {
		return ""
	}
	if len(t.Units) == 0 {
		return "with its unit"
	}
	return t.Units[e.Unit%len(t.Units)].String()
}

func (m *Machine) readingView(v *View, add adder) {
	t, e := m.test(), m.entry()
	if len(e.Values) > 0 {
		add(Normal, "so far %s", e.Text())
	}
	for _, try := range e.Tries {
		add(Quiet, "first try %s", try)
	}
	if e.Dilution > 1 {
		add(Strong, "sample diluted %s times: type what the display shows", shortNumber(e.Dilution))
	}
	if t.Low.Set && t.High.Set {
		low := t.Low.String()
		if t.Low.Unit == t.High.Unit { // said once
			low = strings.TrimSuffix(low, " "+t.Low.Unit.String())
		}
		add(Quiet, "range %s to %s", low, t.High)
		add(Quiet, "beyond it type < or > alone")
	}
	if m.unitText() != "" {
		add(Quiet, "two readings: both, as 21 22")
	}
	v.Ask = strings.TrimSpace(t.Analyte.String() + " " + m.unitText())
}

func (m *Machine) overView(v *View, add adder, key func(k, does string)) {
	t, e := m.test(), m.entry()
	add(Doubtful, "%s: beyond the range of the meter", e.Text())
	if !t.Analyte.Dilutable() {
		add(Normal, "%s cannot be found by dilution: keep the bound, or use another method", t.Analyte)
		key("enter", "keep it")
		return
	}
	next := max(e.Dilution, 1) * 2
	add(Normal, "cut the sample to %s times its volume with distilled water, not tap water, and test it again", shortNumber(next))
	add(Quiet, "the display's number is typed as it stands; wj multiplies")
	v.Ask = "another dilution? type it"
	key("enter", "dilute to "+shortNumber(next))
	key("k", "keep "+e.Text())
}

// doubtsShown is how many doubts fit a small terminal.
const doubtsShown = 3

func (m *Machine) checkView(add adder) {
	t, e := m.test(), m.entry()
	text := e.Text()
	if v, bound, unit, ok := e.Result(); ok && bound == water.Exact && (e.Dilution > 1 || len(e.Values) > 1) {
		text += strings.TrimRight(" = "+water.Round(v, 4)+" "+unit.String(), " ")
	}
	add(Strong, "%s", text)
	if u := t.Usual; u.N > 0 {
		where := "here"
		if u.Regime != "" {
			where += " in " + u.Regime + " water"
		}
		value, half := water.Spread(u.Middle, 2*u.Scale)
		if u.Scale == 0 {
			value, half = water.Round(u.Middle, 3), ""
		}
		if half != "" {
			value += " ± " + half
		}
		add(Normal, "usual %s: %s", where, strings.TrimRight(value+" "+u.Unit.String(), " "))
	} else {
		add(Quiet, "too few readings here to say what is usual")
	}
	for i, d := range e.Doubts {
		if i == doubtsShown {
			add(Quiet, "and %d more, which wj lint tells in full", len(e.Doubts)-i)
			break
		}
		add(Doubtful, "%s", d.Message)
		if d.Help != "" && (i == 0 || len(e.Doubts) <= 2) {
			add(Quiet, "%s", d.Help)
		}
	}
	if len(e.Doubts) == 0 && t.Usual.N > 0 {
		add(Quiet, "nothing speaks against it")
	}
}

func (m *Machine) summaryView(add adder) {
	s := &m.State
	add(Normal, "sampled %s, by %s", s.Sampled.Format("2006-01-02 15:04"), s.By)
	for i := range s.Tests {
		e := &s.Tests[i]
		switch {
		case len(e.Values) > 0:
			line := e.Analyte + " " + e.Text()
			style := Normal
			if e.Lot != "" {
				line += "  " + e.Lot
			}
			if len(e.Doubts) > 0 {
				line, style = "? "+line, Doubtful
			}
			add(style, "%s", line)
		default:
			add(Quiet, "%s not tested", e.Analyte)
		}
	}
	for _, n := range s.Notes {
		add(Quiet, "note: %s", n)
	}
}
