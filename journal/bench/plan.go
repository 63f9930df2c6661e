package bench

import (
	"strings"
	"time"

	"wj/journal"
	"wj/water"
)

// Plan is what the journal says about the session to come. It is made anew each
// time and is no part of the State.
type Plan struct {
	Site, Name string // the site's id, and its name for people
	By         string
	Instrument string
	Place      string // "55.7231, 19.0387"; empty where there is none
	Tests      []Test
	// StepsOnly ends after the steps: a method is practised, nothing is recorded.
	StepsOnly bool
}

// Test is one test of the plan.
type Test struct {
	Analyte    water.ID
	Method     string // id of the method; empty where there is none
	MethodName string
	Steps      []journal.Step
	Caution    string // what the method's text says of danger, in one line
	Instrument string // where it is not the session's
	// Units are the units that the meter can show, the one to take first; none for pH. Without any the unit must be typed.
	Units     []water.Unit
	Low, High journal.Bounded // the meter's range
	NeedsLot  bool
	Lots      []Lot // those that fit, the one to take first
	Usual     Usual
}

// Lot is a reagent lot that can be offered.
type Lot struct {
	ID   string
	Text string // "expires 2027-02-28, 10 of 50 left"
}

// Usual is what the site's other readings of the same supply regime lead to
// expect, in the unit Unit. N is 0 where there are too few.
type Usual struct {
	N             int
	Middle, Scale float64 // median, and 1.4826 × median absolute deviation (Hampel, JASA 69 (1974) 383–393)
	Unit          water.Unit
	Regime        string
}

// Doubt is something about a reading that should be looked at before it is kept.
type Doubt struct {
	Rule    string `json:"rule"`
	Message string `json:"message"`
	Help    string `json:"help,omitempty"`
}

// Phase is where in a test the session stands.
type Phase string

// The phases, in the order in which a test goes through them.
const (
	Start     Phase = "start"   // time of sampling
	ChooseLot Phase = "lot"     // which reagent
	Steps     Phase = "steps"   // the method, with its timers
	Reading   Phase = "reading" // what the display shows
	Over      Phase = "over"    // beyond the range: dilute?
	Check     Phase = "check"   // is it plausible?
	Note      Phase = "note"    // a remark
	Summary   Phase = "summary" // all of it, before it is recorded
	Record    Phase = "record"  // to be written now
	Ended     Phase = "ended"   // StepsOnly: done
)

// Entry is what is known of one test.
type Entry struct {
	Analyte  string    `json:"analyte"`
	Lot      string    `json:"lot,omitempty"`
	NoLot    bool      `json:"no_lot,omitempty"`
	Unit     int       `json:"unit,omitempty"`     // index into Test.Units
	Values   []string  `json:"values,omitempty"`   // as shown, with unit; several are replicates
	Dilution float64   `json:"dilution,omitempty"` // 0 and 1: undiluted
	Tries    []string  `json:"tries,omitempty"`    // readings that were beyond the range and repeated
	Skipped  bool      `json:"skipped,omitempty"`
	At       time.Time `json:"at,omitzero"` // of the last reading
	Doubts   []Doubt   `json:"doubts,omitempty"`
}

// Now is the part of a State that one input can change, so that it can be put
// back.
type Now struct {
	Phase    Phase     `json:"phase"`
	Current  int       `json:"current"`
	Step     int       `json:"step,omitempty"`
	Mixed    bool      `json:"mixed,omitempty"` // the step's mixing is done, its wait is not
	TimerEnd time.Time `json:"timer_end,omitzero"`
	Back     Phase     `json:"back,omitempty"` // where a note returns to
	Sampled  time.Time `json:"sampled"`
	Tests    []Entry   `json:"tests"`
	Notes    []string  `json:"notes,omitempty"`
}

// State is a whole session, as it is kept between inputs.
type State struct {
	Version    int       `json:"version"`
	Site       string    `json:"site"`
	By         string    `json:"by"`
	Instrument string    `json:"instrument,omitempty"`
	Place      string    `json:"place,omitempty"`
	Begun      time.Time `json:"begun"`
	Now
	Typed   string `json:"typed,omitempty"`
	Message string `json:"message,omitempty"` // why what was typed was not taken
	Past    []Now  `json:"past,omitempty"`    // what b goes back to, the newest last
}

// Version of the State's form.
const Version = 1

// Begin is a new session over a plan.
func Begin(p Plan, now time.Time) State {
	s := State{Version: Version, Site: p.Site, By: p.By, Instrument: p.Instrument, Place: p.Place, Begun: now,
		Now: Now{Phase: Start, Sampled: now}}
	for _, t := range p.Tests {
		s.Tests = append(s.Tests, Entry{Analyte: t.Analyte.String()})
	}
	if p.StepsOnly {
		s.Phase = Steps
	}
	return s
}

// clone copies what an input may change in place.
func (n Now) clone() Now {
	n.Tests = append([]Entry(nil), n.Tests...)
	for i := range n.Tests {
		e := &n.Tests[i]
		e.Values, e.Tries, e.Doubts = append([]string(nil), e.Values...), append([]string(nil), e.Tries...), append([]Doubt(nil), e.Doubts...)
	}
	n.Notes = append([]string(nil), n.Notes...)
	return n
}

// Done lists the tests that have a reading.
func (s *State) Done() []Entry {
	var out []Entry
	for _, e := range s.Tests {
		if len(e.Values) > 0 {
			out = append(out, e)
		}
	}
	return out
}

// Text is the reading as it was typed: "[21 mg/L, 22 mg/L] × 2".
func (e *Entry) Text() string {
	text := strings.Join(e.Values, ", ")
	if len(e.Values) > 1 {
		text = "[" + text + "]"
	}
	if e.Dilution > 1 {
		text += " × " + shortNumber(e.Dilution)
	}
	return text
}

// Taken is how many tests the entry took from its lot: its replicates, and those
// that ran past the range before the sample was diluted.
func (e *Entry) Taken() int {
	n := len(e.Values)
	for _, try := range e.Tries {
		n += 1 + strings.Count(try, ",")
	}
	return n
}

// Result is the mean of the replicates times the dilution, in the unit as
// typed. Any bound among them makes it a bound, as journal.Reading.Result has it.
func (e *Entry) Result() (v float64, bound water.Bound, unit water.Unit, ok bool) {
	id, known := water.Lookup(e.Analyte)
	if !known {
		return 0, 0, unit, false
	}
	r := journal.Reading{Analyte: id, Dilution: max(e.Dilution, 1)}
	for i, text := range e.Values {
		q, err := water.ParseQuantity(text)
		if err != nil {
			return 0, 0, unit, false
		}
		if i == 0 {
			r.First = q
		} else {
			r.More = append(r.More, q)
		}
	}
	if len(e.Values) == 0 {
		return 0, 0, unit, false
	}
	v, bound = r.Result()
	return v, bound, r.First.Unit, true
}
