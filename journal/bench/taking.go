package bench

import (
	"fmt"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"sync"
	"time"
	"unicode"

	"wj/water"
)

// multiplied is a number with x and a factor behind it: 80.5 x2.
var multiplied = sync.OnceValue(func() *regexp.Regexp { return regexp.MustCompile(`^(.*[0-9].*?)\s*[x×*]\s*([0-9]+(?:\.[0-9]+)?)$`) })

// refuse says why what was typed is not taken. It stays in sight, and the next figure begins
// anew.
func (m *Machine) refuse(format string, args ...any) {
	m.State.Message, m.State.Wrong = fmt.Sprintf(format, args...), true
}

// reading takes what was typed at the prompt: a reading or several, a dilution, or - for a test
// that is left out.
func (m *Machine) reading(now time.Time) {
	s := &m.State
	text := strings.TrimSpace(s.Typed)
	switch {
	case s.Wrong:
		return // the message stays: a figure begins anew
	case text == "":
		s.Message = "type what the display shows; > where it is beyond the range"
	case text == "-":
		m.remember()
		m.leaveOut(now)
	case text[0] == 'd' || text[0] == 'D':
		m.dilution(strings.TrimSpace(text[1:]))
	case strings.Contains(text, ","):
		point, ok := pointed(text)
		if !ok {
			m.refuse("%s: type the point, such as %s", text, strings.Replace(text, ",", ".", 1))
			return
		}
		s.Typed, s.Message = point, text+" is "+point+"? enter takes it so"
	case multiplied().MatchString(text):
		if _, err := Read(multiplied().FindStringSubmatch(text)[1], m.test(), m.entry().Unit); err != nil {
			m.refuse("%s", err)
			return
		}
		m.remember()
		s.Phase = Times
	default:
		m.take(text, now)
	}
}

// take takes a text as one or several readings, unless they cannot be.
func (m *Machine) take(text string, now time.Time) {
	s, e, t := &m.State, m.entry(), m.test()
	quantities, err := Read(text, t, e.Unit)
	if err != nil {
		m.refuse("%s", err)
		return
	}
	before := s.Now.clone()
	m.remember()
	over := false
	for _, q := range quantities {
		e.Values = append(e.Values, q.String())
		over = over || q.Bound == water.Above
	}
	e.At, e.Skipped, e.Fresh = now, false, len(quantities)
	if e.Lot == "" && !e.NoLot && t.NeedsLot {
		if e.NoLot = len(t.Lots) == 0; !e.NoLot {
			e.Lot = t.Lots[0].ID
		}
	}
	doubts := m.doubts()
	if i := slices.IndexFunc(doubts, func(d Doubt) bool { return d.Bars }); i >= 0 {
		s.Now, s.Past = before, s.Past[:len(s.Past)-1]
		m.refuse("not possible: %s", doubts[i].Message)
		return
	}
	s.Typed = ""
	if over {
		s.Phase = Over
		return
	}
	m.settle(doubts, now)
}

// pointed writes the decimal commas of a text as points. A comma with three figures behind it
// could part thousands.
func pointed(text string) (string, bool) {
	r := []rune(text)
	for i, c := range r {
		if c != ',' {
			continue
		}
		figures := 0
		for _, f := range r[i+1:] {
			if !unicode.IsDigit(f) {
				break
			}
			figures++
		}
		if i == 0 || !unicode.IsDigit(r[i-1]) || figures == 0 || figures == 3 && r[i-1] != '0' {
			return "", false
		}
		r[i] = '.'
	}
	return string(r), true
}

// times takes 80.5 x2 once the person said what it means.
func (m *Machine) times(now time.Time, diluted bool) {
	s := &m.State
	parts := multiplied().FindStringSubmatch(strings.TrimSpace(s.Typed))
	s.Phase = Reading
	if parts == nil {
		return
	}
	if diluted {
		if m.dilution(parts[2]); !s.Wrong {
			m.take(parts[1], now)
		}
		return
	}
	n, err := strconv.Atoi(parts[2])
	if err != nil || n < 2 || n > 20 {
		m.refuse("%s readings are no number from 2 to 20", parts[2])
		return
	}
	m.take(strings.TrimSpace(strings.Repeat(parts[1]+" ", n)), now)
}

// dilution sets the dilution of the test: 1 for none.
func (m *Machine) dilution(text string) {
	s, e := &m.State, m.entry()
	f, err := strconv.ParseFloat(strings.ReplaceAll(text, ",", "."), 64)
	switch {
	case !m.test().Analyte.Dilutable():
		m.refuse("%s cannot be found by dilution", m.test().Analyte)
	case err != nil || !(f >= 1 && f <= 1000):
		m.refuse("a dilution is a number from 1: d 2 is one part of sample and one of distilled water, d 1 is undiluted")
	default:
		e.Dilution, s.Typed, s.Message = f, "", ""
		if f == 1 {
			e.Dilution = 0
		}
	}
}

// doubts asks what is doubtful about the newest reading.
func (m *Machine) doubts() []Doubt {
	if m.Judge == nil {
		return nil
	}
	return m.Judge(&m.State)
}

// judge settles the current reading.
func (m *Machine) judge(now time.Time) { m.settle(m.doubts(), now) }

// settle goes on where nothing is doubtful, and asks where something is.
func (m *Machine) settle(doubts []Doubt, now time.Time) {
	if m.entry().Doubts = doubts; len(doubts) == 0 {
		m.next(now)
		return
	}
	m.State.Phase = Check
}

// correct takes back what was typed last, so that a figure opens the correction.
func (m *Machine) correct() {
	m.remember()
	e := m.entry()
	e.Values, e.Doubts, e.Fresh = e.Values[:max(len(e.Values)-max(e.Fresh, 1), 0)], nil, 0
	m.State.Phase, m.State.Typed = Reading, ""
}

// dilute repeats a test that was beyond the range on a diluted sample. The
// first try is kept in the notes.
func (m *Machine) dilute(now time.Time) {
	s, e := &m.State, m.entry()
	if !m.test().Analyte.Dilutable() {
		m.remember()
		m.judge(now)
		return
	}
	factor := max(e.Dilution, 1) * 2
	if text := strings.TrimSpace(strings.TrimLeft(s.Typed, "dD")); text != "" {
		f, err := strconv.ParseFloat(text, 64)
		if err != nil || !(f > 1 && f <= 1000) {
			m.refuse("a dilution is a number above 1: 2 is one part of sample and one of distilled water")
			return
		}
		factor = f
	}
	m.remember()
	try := Entry{Values: e.Values, Dilution: e.Dilution}
	e.Tries = append(e.Tries, try.Text())
	e.Values, e.Dilution, s.Typed, s.Phase = nil, factor, "", Reading
	if m.Plan.Guided {
		m.toSteps(now)
	}
}
