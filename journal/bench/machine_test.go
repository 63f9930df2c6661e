package bench

import (
	"encoding/json"
	"reflect"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"wj/journal"
	"wj/water"
)

var noon = time.Date(2026, 3, 4, 12, 0, 0, 0, time.FixedZone("", 2*3600))

func quantity(t testing.TB, s string) journal.Bounded {
	q, err := water.ParseQuantity(s)
	if err != nil {
		t.Fatal(err)
	}
	return journal.Bounded{Quantity: q, Set: true}
}

// plan is a test with steps, a pH and two readings of one pen, at one tap.
func plan(t testing.TB) Plan {
	mg, cond, deg := water.MilligramLitre, water.MicrosiemensCm, water.DegreeCelsius
	pen := []journal.Step{{Do: "dip"}, {Do: "read both", Wait: time.Minute}}
	return Plan{Name: "North well", By: "ines", Taps: []Tap{{Site: "north-well", Name: "North well", Instrument: "meter-2"}}, Tests: []Test{
		{Analyte: water.Sulfate, Method: "sulfate", MethodName: "Sulfate", NeedsLot: true, Units: []water.Unit{mg}, Low: quantity(t, "2 mg/L"), High: quantity(t, "200 mg/L"),
			Lots: []Lot{{"SU-1", "to 31 Jan 2027"}, {"SU-2", "to 31 May 2027"}}, Usual: Usual{N: 12, Middle: 300, Scale: 5, Unit: mg},
			Steps: []journal.Step{{Do: "zero"}, {Do: "stir", Mix: 20 * time.Second}, {Do: "wait", Wait: 2 * time.Minute}, {Do: "read"}}},
		{Analyte: water.PHValue, NeedsLot: true, Low: quantity(t, "5.0"), High: quantity(t, "9.0")},
		{Analyte: water.ElectricalConductivity, Method: "pen", Steps: pen, Units: []water.Unit{cond}},
		{Analyte: water.SampleTemperature, Method: "pen", Steps: pen, Units: []water.Unit{deg}},
	}}
}

// judged has doubts as the linter has: pH above 14 cannot be, and above 8 is unexpected.
func judged(s *State) []Doubt {
	e := &s.Tests[s.Current]
	v, _, _, ok := e.Result()
	switch {
	case !ok || e.Analyte != "pH":
		return nil
	case v > 14:
		return []Doubt{{Rule: "range/impossible", Message: "a pH above 14", Bars: true}}
	case v > 8:
		return []Doubt{{Rule: "cause/test", Message: "usual is 7.2"}}
	}
	return nil
}

func start(t testing.TB) *Machine {
	p := plan(t)
	return &Machine{Plan: p, State: Begin(p, noon), Judge: judged}
}

// press types keys: a word of letters or figures key by key, ⏎ for enter, ⌫ for
// backspace, ␡ for Ctrl-U.
func press(m *Machine, now time.Time, keys string) {
	for _, r := range keys {
		switch r {
		case '⏎':
			m.Handle(Input{Key: Enter}, now)
		case '⌫':
			m.Handle(Input{Key: Backspace}, now)
		case '␡':
			m.Handle(Input{Key: Clear}, now)
		default:
			m.Handle(Input{Key: Rune, Rune: r}, now)
		}
	}
}

func TestWholeSession(t *testing.T) {
	m := start(t)
	press(m, noon, "⏎>⏎") // begin; beyond the range
	if m.State.Phase != Over || m.State.Tests[0].Values[0] != ">200 mg/L" {
		t.Fatalf("> was not the end of the range: %+v", m.State.Now)
	}
	press(m, noon, "⏎153 152⏎") // dilute to 2, two replicates
	e := m.State.Tests[0]
	if e.Text() != "[153 mg/L, 152 mg/L] × 2" || e.Lot != "SU-1" || e.Tries[0] != ">200 mg/L" {
		t.Fatalf("got %q of lot %s, tries %v", e.Text(), e.Lot, e.Tries)
	}
	if v, bound, unit, ok := e.Result(); !ok || v != 305 || bound != water.Exact || unit != water.MilligramLitre {
		t.Fatalf("the mean of 153 and 152, twice, is 305; got %v", v)
	}
	press(m, noon, "7.4⏎") // pH has no lot; nothing is doubtful, so it goes on
	if !m.State.Tests[1].NoLot || m.State.Tests[1].Values[0] != "7.4" || m.State.Current != 2 {
		t.Fatalf("pH: %+v", m.State.Now)
	}
	press(m, noon, "s11.5⏎") // not this test; temperature
	if m.State.Phase != Summary || !m.State.Tests[2].Skipped {
		t.Fatalf("phase %s", m.State.Phase)
	}
	press(m, noon, "t") // back to what was left out
	if m.State.Current != 2 || m.State.Phase != Reading {
		t.Fatalf("t went to test %d", m.State.Current)
	}
	press(m, noon, "412⏎ncloudy, q and b are text here⏎⏎")
	if m.State.Phase != Record || m.State.Notes[0][0] != "cloudy, q and b are text here" {
		t.Fatalf("%+v", m.State.Now)
	}
}

// TestEnterTakesNoError: enter keeps nothing that cannot be or is doubtful, and a figure opens
// the correction.
func TestEnterTakesNoError(t *testing.T) {
	m := start(t)
	press(m, noon, "⏎84⏎72⏎⏎⏎")
	if m.State.Current != 1 || m.State.Phase != Reading || len(m.State.Tests[1].Values) != 0 || !strings.Contains(m.State.Message, "not possible: a pH above 14") || m.State.Typed != "72" {
		t.Fatalf("%+v %q", m.State.Now, m.State.Message)
	}
	press(m, noon, "8.4⏎⏎⏎") // the 8 begins anew; unexpected
	if m.State.Phase != Check || m.State.Tests[1].Text() != "8.4" {
		t.Fatalf("%+v", m.State.Now)
	}
	press(m, noon, "7.2⏎")
	if m.State.Current != 2 || m.State.Tests[1].Text() != "7.2" {
		t.Fatalf("a figure did not open the correction: %+v", m.State.Now)
	}
	m = start(t)
	press(m, noon, "⏎84⏎8.4⏎k")
	if m.State.Current != 2 || m.State.Tests[1].Text() != "8.4" || len(m.State.Tests[1].Doubts) != 1 {
		t.Fatalf("k did not keep it: %+v", m.State.Now)
	}
	press(m, noon, "4x⏎⏎") // not a number: it stays in sight, the next figure begins anew
	if m.State.Current != 2 || !m.State.Wrong {
		t.Fatalf("%+v", m.State)
	}
	press(m, noon, "412⏎-⏎")
	if m.State.Tests[2].Text() != "412 uS/cm" || !m.State.Tests[3].Skipped || m.State.Phase != Summary {
		t.Fatalf("%+v", m.State.Now)
	}
}

func TestTyping(t *testing.T) {
	for _, c := range []struct{ keys, want string }{
		{"d2⏎80.5⏎", "80.5 mg/L × 2"},
		{"d 2⏎80.5⏎", "80.5 mg/L × 2"},
		{"d 2⏎d 1⏎80.5⏎", "80.5 mg/L"},
		{"d 0⏎80.5⏎", "80.5 mg/L"},
		{"80.5 x2⏎⏎r", "[80.5 mg/L, 80.5 mg/L]"},
		{"80.5 x2⏎d", "80.5 mg/L × 2"},
		{"80.5×2⏎d", "80.5 mg/L × 2"},
		{"80,5⏎⏎", "80.5 mg/L"},
		{"80,5 81,5⏎⏎", "[80.5 mg/L, 81.5 mg/L]"},
		{"1,234⏎⏎", ""},
		{"99␡80⏎", "80 mg/L"},
		{"999⌫⌫⌫80⏎", "80 mg/L"},
		{"l80⏎", "80 mg/L SU-2"},
		{"ll80⏎", "80 mg/L none"},
	} {
		m := start(t)
		press(m, noon, "⏎"+c.keys)
		e := m.State.Tests[0]
		got := e.Text()
		if e.Lot == "SU-2" {
			got += " SU-2"
		}
		if e.NoLot {
			got += " none"
		}
		if got != c.want {
			t.Errorf("%s: %q, not %q (%s: %q)", c.keys, got, c.want, m.State.Phase, m.State.Message)
		}
	}
}

// TestGuided goes through the steps of a method before its reading, or with ? when asked.
func TestGuided(t *testing.T) {
	m := start(t)
	m.Plan.Guided = true
	press(m, noon, "⏎⏎⏎") // begin, zero, start stirring
	if m.State.Phase != Steps || m.State.Step != 1 || m.State.TimerEnd != noon.Add(20*time.Second) {
		t.Fatalf("stirring was not timed: %+v", m.State.Now)
	}
	at := noon.Add(20 * time.Second)
	if !m.Handle(Input{Key: Tick}, at) || m.Rings != 1 || m.State.Step != 2 || m.State.TimerEnd != at.Add(2*time.Minute) {
		t.Fatalf("the wait did not start by itself: %+v", m.State.Now)
	}
	press(m, at, "x⏎84⏎7.2⏎s412⏎") // any key skips
	if m.State.Current != 3 || m.State.Phase != Reading {
		t.Fatalf("the pen's steps were asked for twice: %+v", m.State.Now)
	}
	m = start(t)
	press(m, noon, "⏎?")
	if m.State.Phase != Steps {
		t.Fatal(m.State.Phase)
	}
	press(m, noon, "st")
	if m.State.Phase != Reading || m.State.TimerEnd != noon.Add(2*time.Minute) {
		t.Fatalf("the timer beside the reading: %+v", m.State.Now)
	}
	press(m, noon, "8")
	m.Handle(Input{Key: Tick}, noon.Add(2*time.Minute))
	if m.Rings != 1 || m.State.Typed != "8" || m.State.Phase != Reading {
		t.Fatalf("the timer disturbed the typing: %+v", m.State)
	}
}

// TestRound goes through several taps, by tap and by test.
func TestRound(t *testing.T) {
	p := Plan{Name: "Monday round", By: "ines", Taps: []Tap{{Site: "a", Name: "A"}, {Site: "b", Name: "B"}},
		Tests: []Test{{Tap: 0, Analyte: water.PHValue}, {Tap: 0, Analyte: water.SampleTemperature, Units: []water.Unit{water.DegreeCelsius}}, {Tap: 1, Analyte: water.PHValue, Dilution: 0}}}
	m := &Machine{Plan: p, State: Begin(p, noon)}
	press(m, noon, "⏎7.1⏎10⏎")
	if m.State.Phase != Start || m.tap() != 1 {
		t.Fatalf("the second tap's sample is not asked for: %+v", m.State.Now)
	}
	press(m, noon.Add(time.Hour), "⏎7.3⏎")
	if m.State.Phase != Summary || !m.State.Sampled[0].Equal(noon) || !m.State.Sampled[1].Equal(noon.Add(time.Hour)) {
		t.Fatalf("%+v", m.State.Now)
	}
	p.ByTest = true
	p.Tests = []Test{p.Tests[0], p.Tests[2], p.Tests[1]}
	m = &Machine{Plan: p, State: Begin(p, noon)}
	press(m, noon, "⏎⏎7.1⏎7.3⏎10⏎")
	if m.State.Phase != Summary || m.State.Tests[1].Site != "b" || m.State.Tests[1].Text() != "7.3" {
		t.Fatalf("%+v", m.State.Now)
	}
	m = &Machine{Plan: p, State: Begin(p, noon)}
	press(m, noon, "⏎s7.1⏎10⏎") // the second tap is left out
	if m.State.Phase != Summary || !m.State.Tests[1].Skipped {
		t.Fatalf("%+v", m.State.Now)
	}
}

func TestRead(t *testing.T) {
	p := plan(t)
	sulfate, ph := &p.Tests[0], &p.Tests[1]
	for _, c := range []struct {
		test *Test
		text string
		want string
		bad  string
	}{
		{sulfate, "84", "84 mg/L", ""},
		{sulfate, "84.0", "84.0 mg/L", ""},
		{sulfate, "21 22", "21 mg/L|22 mg/L", ""},
		{sulfate, "0.875 mmol/L", "0.875 mmol/L", ""},
		{sulfate, "84 ± 4 mg/L", "84 ± 4 mg/L", ""},
		{sulfate, "<5", "<5 mg/L", ""},
		{sulfate, "<", "<2 mg/L", ""},
		{sulfate, ">250", ">250 mg/L", ""},
		{sulfate, "7,4", "", "7.4"},
		{sulfate, "84 dKH", "", "dKH"},
		{sulfate, "8o", "", "unit"},
		{ph, "7.42", "7.42", ""},
		{ph, "7.4 7.5", "7.4|7.5", ""},
		{ph, "7.4 mg/L", "", "pH"},
		{&Test{Analyte: water.Chloride}, "21", "", "names no unit"},
		{&Test{Analyte: water.Chloride}, ">", "", "does not say"},
	} {
		got, err := Read(c.text, c.test, 0)
		var texts []string
		for _, q := range got {
			texts = append(texts, q.String())
		}
		switch {
		case c.bad == "" && (err != nil || strings.Join(texts, "|") != c.want):
			t.Errorf("%q: %v, %v; want %s", c.text, texts, err, c.want)
		case c.bad != "" && (err == nil || !strings.Contains(err.Error(), c.bad)):
			t.Errorf("%q: %v, %v; want an error with %q", c.text, texts, err, c.bad)
		}
	}
}

func TestSamplingTime(t *testing.T) {
	if got, err := SamplingTime("08:15", noon); err != nil || !got.Equal(time.Date(2026, 3, 4, 8, 15, 0, 0, noon.Location())) {
		t.Error(got, err)
	}
	for _, bad := range []string{"13:00", "8 o'clock", "2026-03-05T08:15+02:00", ""} {
		if got, err := SamplingTime(bad, noon); err == nil {
			t.Errorf("%q was taken as %v", bad, got)
		}
	}
}

func TestPHIsNotDiluted(t *testing.T) {
	m := start(t)
	press(m, noon, "⏎s")
	press(m, noon, ">⏎")
	if m.State.Phase != Over {
		t.Fatal(m.State.Phase)
	}
	press(m, noon, "⏎")
	if m.State.Phase != Check || m.State.Tests[1].Dilution != 0 || m.State.Tests[1].Text() != ">9.0" {
		t.Fatalf("%+v", m.State.Now)
	}
}

// keysOf draws sequences of keys that a person could press.
func keysOf(t *rapid.T) []Input {
	return rapid.SliceOfN(rapid.Custom(func(t *rapid.T) Input {
		switch rapid.IntRange(0, 9).Draw(t, "sort") {
		case 0, 1, 2, 3:
			return Input{Key: Enter}
		case 4:
			return Input{Key: Backspace}
		case 5:
			return Input{Key: Tick}
		}
		return Input{Key: Rune, Rune: rapid.SampledFrom([]rune("0123456789.,<>-dxbslukrcnt?m/L é")).Draw(t, "rune")}
	}), 0, 80).Draw(t, "keys")
}

// TestKilledAtEveryKey holds a session that is written out and read back after
// every key against one that is not: nothing may be lost or different.
func TestKilledAtEveryKey(t *testing.T) {
	p := plan(t)
	rapid.Check(t, func(t *rapid.T) {
		whole, broken := &Machine{Plan: p, State: Begin(p, noon), Judge: judged}, &Machine{Plan: p, State: Begin(p, noon), Judge: judged}
		for i, in := range keysOf(t) {
			now := noon.Add(time.Duration(i) * 15 * time.Second)
			whole.Handle(in, now)
			changed := broken.Handle(in, now)
			src, err := json.Marshal(broken.State)
			if err != nil {
				t.Fatal(err)
			}
			before := broken.State
			if !changed && in.Key != Rune && in.Key != Backspace && in.Key != Tick {
				t.Fatal("a change was not told")
			}
			broken = &Machine{Plan: p, Judge: judged}
			if err := json.Unmarshal(src, &broken.State); err != nil {
				t.Fatal(err)
			}
			if a, b := text(t, before), text(t, broken.State); a != b {
				t.Fatalf("lost on the way:\n%s\n%s", a, b)
			}
			if a, b := whole.View(now), broken.View(now); !reflect.DeepEqual(a, b) {
				t.Fatalf("shown otherwise after key %d:\n%+v\n%+v", i, a, b)
			}
			if broken.State.Phase == Record {
				return
			}
		}
	})
}

func text(t *rapid.T, s State) string {
	src, err := json.Marshal(s)
	if err != nil {
		t.Fatal(err)
	}
	return string(src)
}

// TestBackUndoes checks that b after any single step puts everything back.
func TestBackUndoes(t *testing.T) {
	p := plan(t)
	rapid.Check(t, func(t *rapid.T) {
		m := &Machine{Plan: p, State: Begin(p, noon)}
		for i, in := range keysOf(t) {
			now := noon.Add(time.Duration(i) * time.Second)
			before, depth := m.State.Now.clone(), len(m.State.Past)
			m.Handle(in, now)
			if m.State.Phase == Record {
				return
			}
			if len(m.State.Past) == depth+1 {
				probe := &Machine{Plan: p, State: m.State}
				probe.State.Past = append([]Now(nil), m.State.Past...)
				probe.State.Now = m.State.Now.clone()
				probe.State.Typed = ""
				if probe.State.Phase == Note {
					continue // there b is a letter
				}
				probe.Handle(Input{Key: Rune, Rune: 'b'}, now)
				before.TimerEnd = time.Time{} // a timer does not run backwards
				got := probe.State.Now.clone()
				a, _ := json.Marshal(before)
				b, _ := json.Marshal(got)
				if string(a) != string(b) {
					t.Fatalf("b after %+v gave\n%s, not\n%s", in, b, a)
				}
			}
		}
	})
}

// FuzzRead checks that no typed line is taken for something that cannot be read
// back.
func FuzzRead(f *testing.F) {
	for _, s := range []string{"84", "21 22", "<5", ">", "7,42", "84 mg/L", "1e9", "84 ± 4 mg/L", "- 3", "\x00", "999999999999999999999"} {
		f.Add(s)
	}
	test := plan(f).Tests[0]
	f.Fuzz(func(t *testing.T, s string) {
		got, err := Read(s, &test, 0)
		if err != nil {
			return
		}
		for _, q := range got {
			again, err := water.ParseQuantity(q.String())
			if err != nil || again.Value != q.Value || again.Bound != q.Bound || again.Unit != q.Unit {
				t.Fatalf("%q became %q, which reads as %v, %v", s, q.String(), again, err)
			}
		}
	})
}
