package bench

import (
	"fmt"
	"math"
	"strings"
	"time"

	"wj/journal"
	"wj/water"
)

// View is what to show of a sitting: plain strings, cut and coloured by whoever
// draws them.
type View struct {
	Where  string // "Monday round · Town main"
	Count  string // "tap 1 of 3 · test 6 of 9"
	Test   string // "sulfate"
	Done   []Cell // the tests of this tap so far
	Lines  []Line
	Focus  int    // the line that must be in sight
	Ask    string // what is to be typed; empty where nothing is
	Typed  string
	Beside string // what it comes to: "× 2 = 318"
	Wrong  bool   // what was typed was not taken
	Then   []Line // what comes then; the first to be left out where there is no room
	Keys   []KeyHelp
	Timer  time.Duration // what is left; 0 where none runs
	Total  time.Duration
	// Message says why something was not taken.
	Message string
}

// Cell is a test in few words.
type Cell struct {
	Number     int
	Name, Text string
	Doubtful   bool
}

// Line is one line of a view; Head is a word in a column of its own.
type Line struct {
	Head, Text string
	Style      Style
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

// drawing is a view in the making.
type drawing struct {
	*Machine
	View
	now time.Time
}

func (d *drawing) add(style Style, format string, args ...any) {
	d.Lines = append(d.Lines, Line{"", fmt.Sprintf(format, args...), style})
}

func (d *drawing) fact(style Style, head, text string) {
	if text != "" {
		d.Lines = append(d.Lines, Line{head, text, style})
	}
}

func (d *drawing) key(k, does string) { d.Keys = append(d.Keys, KeyHelp{k, does}) }

// View draws the state.
func (m *Machine) View(now time.Time) View {
	s := &m.State
	d := &drawing{m, View{Where: m.Plan.Name, Typed: s.Typed, Wrong: s.Wrong, Message: s.Message, Focus: -1}, now}
	d.where()
	switch s.Phase {
	case Start:
		d.start()
	case Steps:
		d.steps()
	case Reading:
		d.reading()
	case Times:
		parts := multiplied().FindStringSubmatch(strings.TrimSpace(s.Typed))
		if parts == nil {
			parts = []string{"", s.Typed, ""}
		}
		d.add(Doubtful, "%s: what does x%s mean?", s.Typed, parts[2])
		d.key("r", parts[2]+" readings of "+parts[1])
		d.key("d", "diluted "+parts[2]+" times")
		d.Typed = ""
	case Over:
		d.over()
	case Check:
		d.check()
	case Note:
		d.Ask = "note"
		d.key("enter", "done")
	case Summary, Record:
		d.summary()
	case Ended:
		d.add(Strong, "done")
	}
	if d.Typed != "" && !s.Wrong && d.Ask != "" { // letters are text now
		does := d.Keys[0].Does
		if s.Phase == Over {
			does = "dilute so"
		}
		d.Keys = []KeyHelp{{"enter", does}, {"backspace", "erase"}, {"ctrl-u", "erase all"}, {"ctrl-c", "later"}}
		return d.View
	}
	if s.Wrong {
		d.Keys[0] = KeyHelp{"a figure", "starts again"}
	}
	if len(s.Past) > 0 && s.Phase != Note && s.Phase != Ended {
		d.key("b", "back")
	}
	switch {
	case s.Phase == Note:
		d.key("ctrl-c", "later")
	case m.Plan.StepsOnly:
		d.key("q", "leave")
	default:
		d.key("q", "pause")
	}
	return d.View
}

// where fills in the head: which tap, which test, and what is done at this tap.
func (d *drawing) where() {
	s := &d.State
	tap := d.tap()
	if len(d.Plan.Taps) > 1 && s.Phase != Summary && s.Phase != Record {
		d.Where += " · " + d.Plan.Taps[tap].Name
		d.Count = fmt.Sprintf("tap %d of %d", tap+1, len(d.Plan.Taps))
	}
	if s.Current >= len(s.Tests) || s.Phase == Start || s.Phase == Summary || s.Phase == Record || d.Plan.StepsOnly {
		return
	}
	number, of := 0, 0
	for i, t := range d.Plan.Tests {
		if t.Tap != tap {
			continue
		}
		of++
		if i == s.Current {
			number = of
		}
		if e := &s.Tests[i]; i != s.Current && len(e.Values) > 0 {
			d.Done = append(d.Done, Cell{of, words(e.Analyte), e.Text(), len(e.Doubts) > 0})
		}
	}
	d.Test = words(d.test().Analyte.String())
	if d.Count != "" {
		d.Count += " · "
	}
	d.Count += fmt.Sprintf("test %d of %d", number, of)
}

func words(name string) string { return strings.ReplaceAll(name, "_", " ") }

func (d *drawing) start() {
	s, tap := &d.State, d.tap()
	at := s.Earlier
	if at.IsZero() {
		at = d.now
	}
	d.fact(Normal, "sampled", at.Format("2006-01-02 15:04"))
	d.fact(Normal, "by", s.By)
	d.fact(Normal, "meter", d.Plan.Taps[tap].Instrument)
	d.fact(Quiet, "place", d.Plan.Taps[tap].Place)
	var list []string
	for i, t := range d.Plan.Tests {
		if t.Tap == tap && !s.Tests[i].Skipped {
			list = append(list, words(t.Analyte.String()))
		}
	}
	d.fact(Quiet, "tests", strings.Join(list, ", "))
	d.taps(tap)
	d.Ask = "sampled earlier? type 08:15"
	d.key("enter", "begin")
	if len(d.Plan.Taps) > 1 {
		d.key("s", "leave this tap out")
	}
}

// taps lists the taps that come after one.
func (d *drawing) taps(after int) {
	for i := after + 1; i < len(d.Plan.Taps); i++ {
		n := 0
		for k, t := range d.Plan.Tests {
			if t.Tap == i && !d.State.Tests[k].Skipped {
				n++
			}
		}
		unit := "tests"
		if n == 1 {
			unit = "test"
		}
		d.Then = append(d.Then, Line{"", fmt.Sprintf("%s  %d %s", d.Plan.Taps[i].Name, n, unit), Quiet})
	}
	if len(d.Then) > 0 {
		d.Then[0].Head = "then"
	}
}

func (d *drawing) steps() {
	s, t := &d.State, d.test()
	name := t.MethodName
	if e := d.entry(); e.Dilution > 1 {
		name += fmt.Sprintf(", on a sample diluted %s times", shortNumber(e.Dilution))
	}
	d.add(Quiet, "%s", name)
	if t.Caution != "" {
		d.add(Doubtful, "%s", t.Caution)
	}
	for i, step := range t.Steps {
		mark, style := "  ", Normal
		switch {
		case i < s.Step:
			mark, style = "✓ ", Quiet
		case i == s.Step:
			mark, style, d.Focus = "▸ ", Strong, len(d.Lines)
		}
		text := fmt.Sprintf("%s%d %s", mark, i+1, step.Do)
		if took := stepTime(step); took != "" {
			text += " (" + took + ")"
		}
		d.add(style, "%s", text)
	}
	if step := d.step(); !s.TimerEnd.IsZero() {
		d.Total = step.Wait
		if step.Mix > 0 && !s.Mixed {
			d.Total = step.Mix
		}
		d.Timer = max(s.TimerEnd.Sub(d.now), time.Millisecond)
		d.key("any key", "skip the timer")
	} else {
		does := "next"
		if step.Mix > 0 && !s.Mixed {
			does = "start " + clockText(step.Mix)
		}
		d.key("enter", does)
	}
	d.key("s", "all done")
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

// reading draws the prompt and what helps to judge the value before it is typed.
func (d *drawing) reading() {
	t, e := d.test(), d.entry()
	d.fact(Doubtful, "caution", t.Caution)
	if len(e.Values) > 0 {
		d.fact(Normal, "so far", e.Text())
	}
	for _, try := range e.Tries {
		d.fact(Quiet, "first", try)
	}
	if e.Dilution > 1 {
		text := "sample diluted " + shortNumber(e.Dilution) + " times: type what the display shows"
		if e.Dilution == t.Dilution && len(e.Tries) == 0 {
			text = "sample diluted " + shortNumber(e.Dilution) + " times as last time: type what the display shows (d 1: undiluted)"
		}
		d.fact(Strong, "dilution", text)
	}
	var before []string
	for _, p := range t.Before {
		before = append(before, p.On.Format("2 Jan")+"  "+p.Text)
	}
	d.fact(Normal, "before", strings.Join(before, "    "))
	d.fact(Normal, "expected", t.Usual.text())
	for i, l := range t.Limits {
		head := "limit"
		if i > 0 {
			head = ""
		}
		d.fact(Normal, head, l)
	}
	if t.Low.Set && t.High.Set {
		low := t.Low.String()
		if t.Low.Unit == t.High.Unit { // said once
			low = strings.TrimSuffix(low, " "+t.Low.Unit.String())
		}
		d.fact(Quiet, "range", low+" to "+t.High.String()+"; beyond it type < or > alone")
	}
	if t.NeedsLot {
		d.lot()
	}
	if s := &d.State; !s.TimerEnd.IsZero() {
		d.Timer, d.Total = max(s.TimerEnd.Sub(d.now), time.Millisecond), d.wait()
	}
	d.Ask = strings.TrimSpace(words(t.Analyte.String()) + " " + d.unitText())
	if read, err := Read(d.Typed, t, e.Unit); err == nil && e.Dilution > 1 && len(read) == 1 && read[0].Bound == water.Exact {
		d.Beside = "× " + shortNumber(e.Dilution) + " = " + shortNumber(read[0].Value*e.Dilution)
	}
	d.following()
	d.key("enter", "keep")
	if t.Analyte.Dilutable() {
		d.key("d 2", "diluted")
	}
	d.key("s", "not tested")
	if len(t.Units) > 1 {
		d.key("u", "other unit")
	}
	if t.NeedsLot && len(t.Lots) > 0 {
		d.key("l", "other lot")
	}
	if d.wait() > 0 {
		d.key("t", "timer "+clockText(d.wait()))
	}
	if len(t.Steps) > 0 {
		d.key("?", "method")
	}
	d.key("n", "note")
}

// lot shows the lot that the reading will name.
func (d *drawing) lot() {
	t, e := d.test(), d.entry()
	switch {
	case len(t.Lots) == 0:
		d.fact(Doubtful, "lot", "none is in date and has tests left")
	case e.NoLot:
		d.fact(Doubtful, "lot", "none: the reading will not say which")
	default:
		lot := t.Lots[0]
		for _, l := range t.Lots {
			if l.ID == e.Lot {
				lot = l
			}
		}
		d.fact(Normal, "lot", strings.TrimSuffix(lot.ID+", "+lot.Text, ", "))
	}
}

// following lists the next tests of the tap, and the taps after it.
func (d *drawing) following() {
	tap := d.tap()
	var next []string
	for i := d.State.Current + 1; i < len(d.Plan.Tests); i++ {
		if t := &d.Plan.Tests[i]; t.Tap == tap && !d.State.Tests[i].Skipped && len(d.State.Tests[i].Values) == 0 {
			next = append(next, words(t.Analyte.String()))
		}
	}
	if len(next) > 0 {
		d.Then = append(d.Then, Line{"next", strings.Join(next, ", "), Quiet})
	}
	if !d.Plan.ByTest {
		n := len(d.Then)
		d.taps(tap)
		if n > 0 && len(d.Then) > n { // "then" begins the taps
			d.Then[0].Head, d.Then[n].Head = "next", "then"
		}
	}
}

// Range is what is usual: three spreads about the middle; ok is false where too little is known.
func (u Usual) Range() (low, high float64, ok bool) {
	return u.Middle - 3*u.Scale, u.Middle + 3*u.Scale, u.N > 0 && u.Scale > 0
}

// text is the range that is usual.
func (u Usual) text() string {
	if u.N == 0 {
		return ""
	}
	text := water.Round(u.Middle, 3)
	if low, high, ok := u.Range(); ok {
		text = water.Round(low, 3) + "–" + water.Round(high, 3)
	}
	text = strings.TrimRight(text+" "+u.Unit.String(), " ")
	if u.Regime != "" {
		text += " (" + u.Regime + ")"
	}
	return text
}

func (d *drawing) over() {
	t, e := d.test(), d.entry()
	d.add(Doubtful, "%s: beyond the range of the meter", e.Text())
	if !t.Analyte.Dilutable() {
		d.add(Normal, "%s cannot be found by dilution: keep the bound, or use another method", words(t.Analyte.String()))
		d.key("enter", "keep it")
		return
	}
	next := max(e.Dilution, 1) * 2
	d.add(Normal, "cut the sample to %s times its volume with distilled water, not tap water, and test it again", shortNumber(next))
	d.add(Quiet, "the display's number is typed as shown; wj multiplies")
	d.Ask = "another dilution? type it"
	d.key("enter", "dilute to "+shortNumber(next))
	d.key("k", "keep "+e.Text())
}

// doubtsShown is how many doubts fit a small terminal.
const doubtsShown = 3

func (d *drawing) check() {
	e := d.entry()
	text := e.Text()
	if v, bound, unit, ok := e.Result(); ok && bound == water.Exact && (e.Dilution > 1 || len(e.Values) > 1) {
		text += strings.TrimRight(" = "+water.Round(v, 4)+" "+unit.String(), " ")
	}
	d.fact(Strong, "typed", text)
	usual := d.test().Usual.text()
	if usual == "" {
		usual = "too few readings here to say what is usual"
	}
	d.fact(Normal, "expected", usual)
	for i, doubt := range e.Doubts {
		if i == doubtsShown {
			d.fact(Quiet, "", fmt.Sprintf("and %d more, which wj lint shows", len(e.Doubts)-i))
			break
		}
		d.fact(Doubtful, "doubt", doubt.Message)
		if i == 0 || len(e.Doubts) <= 2 {
			d.fact(Quiet, "", doubt.Help)
		}
	}
	d.key("k", "keep it")
	d.key("a figure", "starts again")
	d.key("r", "second reading")
	d.key("s", "leave it out")
	d.key("n", "note")
}

func (d *drawing) summary() {
	s := &d.State
	for tap := range d.Plan.Taps {
		if len(d.Plan.Taps) > 1 {
			d.add(Strong, "%s", d.Plan.Taps[tap].Name)
		}
		if at := s.Sampled[tap]; !at.IsZero() {
			d.add(Normal, "sampled %s, by %s", at.Format("2006-01-02 15:04"), s.By)
		}
		for i := range s.Tests {
			if d.Plan.Tests[i].Tap != tap {
				continue
			}
			e := &s.Tests[i]
			if len(e.Values) == 0 {
				d.add(Quiet, "%s not tested", words(e.Analyte))
				continue
			}
			line, style := words(e.Analyte)+" "+e.Text(), Normal
			if e.Lot != "" {
				line += "  " + e.Lot
			}
			if len(e.Doubts) > 0 {
				line, style = "? "+line, Doubtful
			}
			d.add(style, "%s", line)
		}
		for _, n := range s.Notes[tap] {
			d.add(Quiet, "note: %s", n)
		}
	}
	d.key("enter", "record it")
	d.key("n", "note")
	if len(s.Done()) < len(s.Tests) {
		d.key("t", "tests left out")
	}
}
