// Package cause explains a test session as a whole: which water was in the cup,
// and what was typed for it.
//
// Each water is tracked by a Kalman filter over the logarithms of its ions, its pH
// and the part of its conductivity that the ions do not explain. A session that
// does not fit is scored against hypotheses (a wrong unit, a slip of the keys, two
// readings exchanged, a dilution, another bottle, a lot, a change of the water);
// the best one is the verdict, with its odds, the runner-up and the reading to
// repeat. Everything here is pure: numbers go in, verdicts come out.
//
//	for _, e := range cause.Explain(sites, sessions, cause.DefaultOdds, nil) {
//		if e.Best.Kind == cause.Unit {
//			fmt.Println(e.Session, e.Best.Reading, e.Best.Unit, e.Best.Posterior) // typed in another unit
//		}
//	}
package cause

import (
	"time"

	"wj/water"
)

// Kind is a family of causes.
type Kind uint8

// The kinds, in the order of the prior table.
const (
	Unit      Kind = iota // a number in another unit or on another basis than the one written
	Ten                   // the decimal point slipped
	Typo                  // digits transposed, lost, doubled or replaced
	Swap                  // two readings exchanged
	Dilution              // a dilution forgotten, not made or counted twice
	Bottle                // the water of another site
	Supply                // the water of another supply period of this site
	Lot                   // a lot of reagent reads wrong
	Test                  // one test failed, for a reason that the numbers do not show
	Meter                 // all tests of one meter are off together
	Change                // the water itself changed
	Treatment             // a membrane or a softener no longer does its work
	Cut                   // the whole sample was diluted
	numKinds
)

// Reading is one result as the engine takes it. Values are in the standard unit
// of ID and include the dilution.
type Reading struct {
	ID       water.ID
	Value    float64
	Bound    water.Bound
	Number   string     // the digits as typed, of a reading without replicates; "" for none
	Unit     water.Unit // as typed
	Dilution float64    // as written, 1 for none
	Diluted  bool       // the site has diluted this test before
	Max      float64    // upper end of the method's range; 0 where none is declared
	U        float64    // standard uncertainty that the record itself states; 0 for none
	Accuracy water.Accuracy
	Lot      string
	Meter    string
	Probe    bool // read by a probe, not by the photometer
}

// Session is one sample of a site. Sessions are given in the order of sampling.
type Session struct {
	Site     int // index into the sites
	Time     time.Time
	Readings []Reading
	Observed bool // a laboratory's or a utility's: the water learns from it, and no verdict is given
	Quiet    bool // its verdict is not asked for: the water learns from it where it fits
	Passed   bool // its verdict is not asked for: it is weighed only where it does not fit at all
	Accepted bool // somebody has answered for it: it is believed
	Event    bool // an event at the site, or at what feeds it, lies between the last session and this one
}

// Site is a place whose water is tracked.
type Site struct {
	Name, Owner, Stage string
	Feeds              []int                  // the sites whose water arrives here
	Made               bool                   // its water is what the last recipe made of it: it has no usual value
	Regime             func(time.Time) string // the supply period of a day, "" for none; nil where none is declared
}

// Cause is one explanation.
type Cause struct {
	Kind      Kind
	Reading   int        // index into the session's readings; -1 for the session as a whole
	With      int        // Swap: the other reading; Bottle: the other site; else -1
	Factor    float64    // Unit, Ten, Dilution, Cut: what the value as typed is multiplied by
	Unit      water.Unit // Unit: the unit that the number is in
	Twice     bool       // Unit: the conversion from that unit was made once too often
	Regime    string     // Supply: the period whose water it is
	Means     float64    // what the reading is if the cause is right, in the standard unit; NaN where unknown
	Posterior float64    // among all causes, 0 to 1
}

// Expected is what a reading was expected to be: 95 % of correct readings lie
// within Half of Middle, in the standard unit.
type Expected struct {
	Middle, Half float64
	Off          bool // the reading lies outside
}

// Explanation is what the engine says of one session.
type Explanation struct {
	Session  int
	Best     Cause
	Second   *Cause  // the runner-up, where it is close
	Odds     float64 // that something is wrong, to 1
	Expected []Expected
	Repeat   int     // the reading whose repetition shows most; -1 where none does
	Right    float64 // what the repetition shows if Best is right
	Else     float64 // what it shows otherwise
	Since    int     // how many sessions in a row say the same; 1 for this one alone
	Also     []int   // further sessions that the verdict speaks of
}

// Sure reports whether the best cause is more likely than all others together.
func (v *Explanation) Sure() bool { return v.Best.Posterior >= 0.5 }
