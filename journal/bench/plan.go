package bench

import (
	"strings"
	"time"

	"wj/journal"
	"wj/water"
)

// Plan is what the journal says about the sitting to come. It is made anew when one goes on; its
// taps and tests are those of the State, in the same order.
type Plan struct {
	Name   string // of the round, or of the one tap
	By     string // person id
	Taps   []Tap
	Tests  []Test // in the order in which they are made
	ByTest bool   // all samples are taken first, then one test after another is made on all
	Guided bool   // the steps of each method come before its reading
	// StepsOnly ends after the steps: a method is practised, nothing is recorded.
	StepsOnly bool
}

// Tap is a sampling point of the sitting.
type Tap struct {
	Site       string `json:"site"`
	Name       string `json:"-"`
	Instrument string `json:"instrument,omitempty"`
	Place      string `json:"place,omitempty"` // "54.69, 25.28"
}

// Test is one test of the plan.
type Test struct {
	Tap        int // index into Plan.Taps
	Analyte    water.ID
	Method     string // id of the method; empty where there is none
	MethodName string
	Steps      []journal.Step
	Caution    string // what the method's text says of danger, in one line
	Instrument string // where it is not the tap's
	// Units are the units that the meter can show, the one to take first; none for pH. Without any the unit must be typed.
	Units     []water.Unit
	Low, High journal.Bounded // the meter's range
	NeedsLot  bool
	Lots      []Lot // those that fit, the one to take first
	Usual     Usual
	Before    []Past   // the last results here, the newest first
	Limits    []string // "at most 250 mg/L, EU indicator value"
	Dilution  float64  // with which it was tested here last; 0: undiluted
}

// Past is an earlier result.
type Past struct {
	On   time.Time
	Text string
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
	Bars    bool   `json:"-"` // it cannot be: the reading is not taken
}

// Phase is where in a test the sitting stands.
type Phase string

// The phases, in the order in which a tap and a test go through them.
const (
	Start   Phase = "start"   // time of sampling
	Steps   Phase = "steps"   // the method, with its timers
	Reading Phase = "reading" // what the display shows
	Times   Phase = "times"   // 80.5 x2: two readings, or a dilution?
	Over    Phase = "over"    // beyond the range: dilute?
	Check   Phase = "check"   // something is doubtful: keep it?
	Note    Phase = "note"    // a remark
	Summary Phase = "summary" // all of it, before it is recorded
	Record  Phase = "record"  // to be written now
	Ended   Phase = "ended"   // StepsOnly: done
)

// Entry is what is known of one test.
type Entry struct {
	Site     string    `json:"site"`
	Analyte  string    `json:"analyte"`
	Lot      string    `json:"lot,omitempty"`
	NoLot    bool      `json:"no_lot,omitempty"`
	Unit     int       `json:"unit,omitempty"`     // index into Test.Units
	Values   []string  `json:"values,omitempty"`   // as shown, with unit; several are replicates
	Fresh    int       `json:"fresh,omitempty"`    // how many of them were typed last
	Dilution float64   `json:"dilution,omitempty"` // 0 and 1: undiluted
	Tries    []string  `json:"tries,omitempty"`    // readings that were beyond the range and repeated
	Skipped  bool      `json:"skipped,omitempty"`
	At       time.Time `json:"at,omitzero"` // of the last reading
	Doubts   []Doubt   `json:"doubts,omitempty"`
}

// Now is the part of a State that one input can change, so that it can be put
// back.
type Now struct {
	Phase    Phase       `json:"phase"`
	Current  int         `json:"current"`
	Step     int         `json:"step,omitempty"`
	Mixed    bool        `json:"mixed,omitempty"` // the step's mixing is done, its wait is not
	TimerEnd time.Time   `json:"timer_end,omitzero"`
	Back     Phase       `json:"back,omitempty"` // where a note returns to
	Sampled  []time.Time `json:"sampled"`        // for each tap; zero where the sample is not taken yet
	Tests    []Entry     `json:"tests"`
	Notes    [][]string  `json:"notes"` // for each tap
}

// State is a whole sitting, as it is kept between inputs.
type State struct {
	Version int       `json:"version"`
	Name    string    `json:"name"` // the site, or @ and the name of the round
	By      string    `json:"by"`
	Taps    []Tap     `json:"taps"`
	Begun   time.Time `json:"begun"`
	Earlier time.Time `json:"earlier,omitzero"` // when the samples were taken, where the person said so at the start
	Now
	Typed   string `json:"typed,omitempty"`
	Wrong   bool   `json:"wrong,omitempty"`   // what was typed was not taken: the next figure begins anew
	Message string `json:"message,omitempty"` // why
	Past    []Now  `json:"past,omitempty"`    // what b goes back to, the newest last
}

// Version of the State's form.
const Version = 2

// Begin is a new sitting over a plan.
func Begin(p Plan, now time.Time) State {
	s := State{Version: Version, By: p.By, Taps: append([]Tap(nil), p.Taps...), Begun: now,
		Now: Now{Phase: Start, Sampled: make([]time.Time, len(p.Taps)), Notes: make([][]string, len(p.Taps))}}
	for _, t := range p.Tests {
		e := Entry{Analyte: t.Analyte.String(), Dilution: t.Dilution}
		if t.Tap < len(p.Taps) {
			e.Site = p.Taps[t.Tap].Site
		}
		s.Tests = append(s.Tests, e)
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
	n.Sampled = append([]time.Time(nil), n.Sampled...)
	notes := n.Notes
	n.Notes = make([][]string, len(notes))
	for i := range notes {
		n.Notes[i] = append([]string(nil), notes[i]...)
	}
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
