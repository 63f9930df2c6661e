package evidence

import (
	"fmt"

	"wj/journal"
	"wj/journal/history"
)

// Outcome is one of the three things that a judgement can say.
type Outcome string

// The outcomes.
const (
	Proven  Outcome = "proven"  // all that the policy asks for holds
	Wrong   Outcome = "wrong"   // something is wrong
	Unknown Outcome = "unknown" // nothing is wrong, but something that the policy asks for is unknown
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

// Finding is one thing that is wrong or that is unknown, with the next
// step.
type Finding struct {
	Subject string // a path of the journal, or what else it is about
	Text    string
	Help    string
	Cause   string       // what findings of one origin share, the beginning of Text; "" where it has none
	what    string       // the same without whose doing it was
	commit  history.Hash // that did it; zero where no single one did
}

// severalOf is how many findings of one cause are shown as one.
const severalOf = 4

// ByCause puts findings of one cause together where they are many, in the order
// of their first. The others stay alone. Where one reason explains the report,
// it does not matter which commit it was.
func (r *Report) ByCause(list []Finding) [][]Finding {
	if r.Reason != "" {
		return together(list, 2, func(f Finding) string { return f.what })
	}
	return together(list, severalOf, func(f Finding) string { return f.Cause })
}

// SignoffsByCause puts sign-offs together whose standing has one reason.
func (r *Report) SignoffsByCause(list []Judged) [][]Judged {
	least := severalOf
	if r.Reason != "" {
		least = 2
	}
	return together(list, least, func(s Judged) string {
		switch {
		case len(s.Why) == 0 || s.Outcome() == Proven:
			return ""
		case r.Reason != "":
			return s.Standing.String()
		}
		return s.Standing.String() + ": " + s.Why[0]
	})
}

// Shared is what the findings of a group have in common.
func (r *Report) Shared(f Finding) string {
	if r.Reason != "" {
		return f.what
	}
	return f.Cause
}

// together puts what has one cause together where that is at least so many; the
// others stay alone.
func together[T any](list []T, least int, cause func(T) string) [][]T {
	count := map[string]int{}
	for _, x := range list {
		count[cause(x)]++
	}
	type key struct {
		cause string
		alone int
	}
	n := 0
	return journal.Groups(list, func(x T) key {
		if c := cause(x); c != "" && count[c] >= least {
			return key{cause: c}
		}
		n++
		return key{alone: n}
	})
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
		return Unknown
	}
	return Wrong
}

// Report is what can be said of a whole journal.
type Report struct {
	Base string // whose people, keys and policy were taken
	// BaseCommit is its commit, in full; "" where there is no history.
	BaseCommit string
	Reason     string // what explains most of it, such as that strangers committed everything
	Trust      string // where trust in proofs starts
	Signoffs   []Judged
	Wrong      []Finding
	Unknown    []Finding
	Facts      []string // what was looked at
	Old        int      // findings before what the report is asked about, left out
}

func (r *Report) wrong(subject, help, format string, args ...any) {
	r.Wrong = append(r.Wrong, Finding{Subject: subject, Help: help, Text: fmt.Sprintf(format, args...)})
}

func (r *Report) wrongBy(commit history.Hash, subject, help, format string, args ...any) {
	r.Wrong = append(r.Wrong, Finding{Subject: subject, Help: help, Text: fmt.Sprintf(format, args...), commit: commit})
}

// wrongFor adds a finding whose text is its cause, what and by whom, and a
// detail.
func (r *Report) wrongFor(commit history.Hash, subject, help, what, by, detail string) {
	r.Wrong = append(r.Wrong, Finding{Subject: subject, Help: help, Text: what + by + detail, Cause: what + by, what: what, commit: commit})
}

func (r *Report) unknown(subject, help, format string, args ...any) {
	r.Unknown = append(r.Unknown, Finding{Subject: subject, Help: help, Text: fmt.Sprintf(format, args...)})
}

// Say adds a fact.
func (r *Report) Say(format string, args ...any) {
	r.Facts = append(r.Facts, fmt.Sprintf(format, args...))
}

// Causes counts what is wrong with one for each cause.
func (r *Report) Causes() int {
	n := len(r.ByCause(r.Wrong))
	var wrong []Judged
	for _, s := range r.Signoffs {
		if s.Outcome() == Wrong {
			wrong = append(wrong, s)
		}
	}
	return n + len(r.SignoffsByCause(wrong))
}

// Count gives how many things are wrong, and how many are unknown.
func (r *Report) Count() (wrong, unknown int) {
	wrong, unknown = len(r.Wrong), len(r.Unknown)
	for _, s := range r.Signoffs {
		switch s.Outcome() {
		case Wrong:
			wrong++
		case Unknown:
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
		return Unknown
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
