package evidence

import (
	"fmt"

	"wj/journal/history"
)

// Outcome is one of the three things that a judgement can say.
type Outcome string

// The outcomes.
const (
	Proven Outcome = "proven"  // all that the policy asks for holds
	Wrong  Outcome = "wrong"   // something is wrong
	Untold Outcome = "unknown" // nothing is wrong, but something that the policy asks for cannot be told
)

// Status is the exit status of an outcome.
func (o Outcome) Status() int {
	switch o {
	case Proven:
		return 0
	case Wrong:
		return 1
	}
	return 2
}

// Finding is one thing that is wrong or that cannot be told, with the next
// step.
type Finding struct {
	Subject string // a path of the journal, or what else it is about
	Text    string
	Help    string
	commit  history.Hash // that did it; zero where no single one did
}

// Judged is a sign-off in a report.
type Judged struct {
	Verdict
	Settled string // why its standing no longer matters, "" where it does
	Order   string // when it came to the mainline, in words
	Old     bool   // it came before what the report is asked about
}

// Outcome is what the sign-off adds to the whole. That an approval expired or
// was withdrawn is the way of things.
func (s Judged) Outcome() Outcome {
	switch {
	case s.Old, s.Settled != "":
		return Proven
	case s.Standing == InForce, s.Standing == Lapsed, s.Standing == Withdrawn:
		return Proven
	case s.Standing == CannotTell:
		return Untold
	}
	return Wrong
}

// Report is what can be said of a whole journal.
type Report struct {
	Base     string // whose people, keys and policy were taken
	Trust    string // where trust in proofs starts
	Signoffs []Judged
	Wrong    []Finding
	Unknown  []Finding
	Facts    []string // what was looked at
	Old      int      // findings before what the report is asked about, left out
}

func (r *Report) wrong(subject, help, format string, args ...any) {
	r.Wrong = append(r.Wrong, Finding{Subject: subject, Help: help, Text: fmt.Sprintf(format, args...)})
}

func (r *Report) wrongBy(commit history.Hash, subject, help, format string, args ...any) {
	r.Wrong = append(r.Wrong, Finding{Subject: subject, Help: help, Text: fmt.Sprintf(format, args...), commit: commit})
}

func (r *Report) unknown(subject, help, format string, args ...any) {
	r.Unknown = append(r.Unknown, Finding{Subject: subject, Help: help, Text: fmt.Sprintf(format, args...)})
}

// AddWrong adds a finding of another authority.
func (r *Report) AddWrong(subject, help, text string) { r.wrong(subject, help, "%s", text) }

// Say adds a fact.
func (r *Report) Say(format string, args ...any) {
	r.Facts = append(r.Facts, fmt.Sprintf(format, args...))
}

// Count gives how many things are wrong, and how many cannot be told.
func (r *Report) Count() (wrong, unknown int) {
	wrong, unknown = len(r.Wrong), len(r.Unknown)
	for _, s := range r.Signoffs {
		switch s.Outcome() {
		case Wrong:
			wrong++
		case Untold:
			unknown++
		}
	}
	return wrong, unknown
}

// Outcome is the verdict on the whole.
func (r *Report) Outcome() Outcome {
	switch wrong, unknown := r.Count(); {
	case wrong > 0:
		return Wrong
	case unknown > 0:
		return Untold
	}
	return Proven
}

// Claims counts the sign-offs in force whose signer nobody verified.
func (r *Report) Claims() int {
	n := 0
	for _, s := range r.Signoffs {
		if s.Standing == InForce && s.Claim {
			n++
		}
	}
	return n
}
