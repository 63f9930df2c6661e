package audit

import (
	"fmt"
	"math"
	"sort"
	"strings"

	"wj/journal"
	"wj/journal/evidence"
	"wj/water"
)

// State is what a change is, as it follows from the records.
type State uint8

// The states of a change.
const (
	Draft       State = iota // the linter finds errors in it
	Proposed                 // waits for sign-offs
	Signed                   // policy is met
	Refused                  // a reviewer refuses it
	InUse                    // signed, and a batch names it
	Verified                 // a verification session agrees with it
	Missed                   // a verification session disagrees
	VoidState                // what was signed has changed, or the change was declared void
	LapsedState              // the approval is too old, or the water has moved
	Emergency                // used before review
	Superseded               // another change replaces it
)

// String is the state in words.
func (s State) String() string {
	return [...]string{"draft", "proposed", "signed", "refused", "in use", "verified", "missed", "void", "lapsed", "emergency", "superseded"}[min(s, Superseded)]
}

// Approved reports whether a change in this state may be brewed with.
func (s State) Approved() bool { return s == Signed || s == InUse || s == Verified }

// Change is a change judged.
type Change struct {
	*journal.Change
	State    State
	Why      []string           // what the state follows from
	Notes    []string           // what should be known besides
	Verdicts []evidence.Verdict // its sign-offs, in the order of their time
	Approved []string           // who approves it, by sign-offs in force
	Needed   int                // how many the policy asks for
	Approval evidence.Approval  // what its sign-offs come to
	Batches  []*journal.Batch
	// Unapproved are those of the batches that were brewed without an approval in force.
	Unapproved []*journal.Batch
	Checks     []Check // of the newest verification session
	Checked    *journal.Session
}

// Judgement judges the changes of one journal: sign-offs, batches and
// verifications are gathered once.
type Judgement struct {
	j         *journal.Journal
	facts     evidence.Facts
	signoffs  map[string][]*journal.Signoff
	batches   map[string][]*journal.Batch
	verifying map[string][]*journal.Session
	replaces  map[string][]*journal.Change
	known     map[string]*Change
}

// NewJudgement prepares to judge the changes of a journal that was loaded with
// its sessions.
func NewJudgement(j *journal.Journal, facts evidence.Facts) *Judgement {
	g := &Judgement{j: j, facts: facts, signoffs: map[string][]*journal.Signoff{}, batches: map[string][]*journal.Batch{},
		verifying: map[string][]*journal.Session{}, replaces: map[string][]*journal.Change{}, known: map[string]*Change{}}
	for _, s := range facts.Signoffs(j) {
		g.signoffs[s.Of] = append(g.signoffs[s.Of], s)
	}
	for _, list := range g.signoffs {
		// Of two in the same minute a refusal is the last word.
		sort.SliceStable(list, func(a, b int) bool {
			if !list[a].On.Equal(list[b].On) {
				return list[a].On.Before(list[b].On)
			}
			return list[a].Decision != "refused" && list[b].Decision == "refused"
		})
	}
	for _, b := range j.Batches.List {
		if b.Void == nil {
			g.batches[b.Change] = append(g.batches[b.Change], b)
		}
	}
	for _, s := range j.Sessions.List {
		if s.Void == nil && s.Change != "" && s.Sample == "verification" {
			g.verifying[s.Change] = append(g.verifying[s.Change], s)
		}
	}
	for _, c := range j.Changes.List {
		if c.Void == nil && c.Supersedes != "" {
			g.replaces[c.Supersedes] = append(g.replaces[c.Supersedes], c)
		}
	}
	return g
}

// Signoffs judges the sign-offs of a record, the oldest first.
func (g *Judgement) Signoffs(id string) []evidence.Verdict {
	var out []evidence.Verdict
	for _, s := range g.signoffs[id] {
		out = append(out, evidence.Judge(g.j, s, g.facts))
	}
	return out
}

// Change judges one change. The state is never typed: it follows from the
// records and the facts, in this order: void, superseded, refused, approved
// (in use, verified or missed by its batches and verification sessions), void or
// lapsed approval, emergency, draft, proposed.
func (g *Judgement) Change(c *journal.Change) *Change {
	if known, ok := g.known[c.ID]; ok {
		return known
	}
	policy := g.facts.BaseOf(g.j).Settings.Policy
	r := &Change{Change: c, Needed: policy.Reviewers, Batches: g.batches[c.ID], Verdicts: g.Signoffs(c.ID)}
	g.known[c.ID] = r // before the look at what supersedes it: circles end here
	say := func(s State, format string, args ...any) {
		r.State = s
		r.Why = append(r.Why, fmt.Sprintf(format, args...))
	}
	r.Approval = evidence.Approve(r.Verdicts, c.Author, policy)
	r.Approved, r.Needed = r.Approval.By, r.Approval.Needed
	refusals := r.Approval.Refused
	r.emergency(policy, g.facts)
	if r.Unapproved = r.uncovered(g.facts); len(r.Unapproved) > 0 {
		r.Notes = append(r.Notes, r.UnapprovedNote())
	}

	replacement := ""
	for _, n := range g.replaces[c.ID] {
		if n.ID == c.ID {
			continue
		}
		switch g.Change(n).State {
		case Signed, InUse, Verified, Missed, Superseded:
			replacement = n.ID
		case VoidState, LapsedState:
			// It was accepted once: that it must be looked at again does not
			// bring back what it replaced.
			if n.Void == nil {
				replacement = n.ID
			}
		}
	}
	switch {
	case c.Void != nil:
		say(VoidState, "declared void by %s on %s: %s", c.Void.By, journal.FormatDate(c.Void.On), c.Void.Reason)
	case replacement != "":
		say(Superseded, "superseded by %s", replacement)
	case len(refusals) > 0:
		say(Refused, "refused by %s", strings.Join(refusals, ", "))
	case r.Approval.Reached:
		g.approved(r, say)
	default:
		g.waiting(r, say)
	}
	return r
}

func (r *Change) emergency(policy journal.Policy, facts evidence.Facts) {
	if r.Emergency == nil || policy.EmergencyReview <= 0 {
		return
	}
	due := r.Emergency.On.Add(policy.EmergencyReview)
	for _, v := range r.Verdicts {
		if v.Standing == evidence.NotAllowed || v.Standing == evidence.ClaimOnly {
			continue
		}
		took := v.Signoff.On.Sub(r.Emergency.On)
		if v.Signoff.On.After(due) {
			r.Notes = append(r.Notes, fmt.Sprintf("emergency of %s was reviewed after %d h; policy allows %d h", journal.FormatTime(r.Emergency.On), int(took.Hours()), int(policy.EmergencyReview.Hours())))
		}
		return
	}
	if facts.Now.After(due) {
		r.Notes = append(r.Notes, fmt.Sprintf("emergency review is overdue: it was due by %s", journal.FormatTime(due.In(r.Emergency.On.Location()))))
	} else {
		r.Notes = append(r.Notes, fmt.Sprintf("emergency review is due by %s", journal.FormatTime(due.In(r.Emergency.On.Location()))))
	}
}

func (g *Judgement) approved(r *Change, say func(State, string, ...any)) {
	if len(r.Approved) == 0 {
		say(Signed, "self-approved: policy asks for no reviewer")
		if g.facts.Wrong != nil && g.facts.Wrong(r.Path) {
			say(Draft, "the linter finds errors in it")
			return
		}
	} else {
		say(Signed, "approved by %s%s", strings.Join(r.Approved, ", "), unverified(r.Approval))
	}
	if len(r.Batches) > 0 {
		say(InUse, "used by %s", batchNames(r.Batches))
	}
	var newest *journal.Session
	for _, s := range g.verifying[r.ID] {
		if newest == nil || s.Sampled.After(newest.Sampled) {
			newest = s
		}
	}
	if newest == nil {
		return
	}
	r.Checked, r.Checks = newest, Verify(g.j, r.Change, newest)
	var off []string
	for _, c := range r.Checks {
		if !c.Agrees() {
			off = append(off, c.ID.String())
		}
	}
	switch {
	case len(off) > 0:
		say(Missed, "%s disagrees: %s", newest.ID, strings.Join(off, ", "))
	case len(r.Checks) > 0:
		say(Verified, "verified by %s", newest.ID)
	}
}

// UnapprovedNote names the batches that were brewed without an approval in force.
func (r *Change) UnapprovedNote() string {
	return "brewed without an approval in force: " + batchNames(r.Unapproved)
}

// unverified says of an approval that rests on names alone that it does.
func unverified(a evidence.Approval) string {
	if a.Verified {
		return ""
	}
	return " (signer not verified)"
}

func batchNames(list []*journal.Batch) string {
	if len(list) > 3 {
		return fmt.Sprintf("%d batches, last %s", len(list), list[len(list)-1].ID)
	}
	names := make([]string, len(list))
	for i, b := range list {
		names[i] = b.ID
	}
	return strings.Join(names, ", ")
}

func (g *Judgement) waiting(r *Change, say func(State, string, ...any)) {
	var last *evidence.Verdict // the newest approval that once counted
	for i, v := range r.Verdicts {
		if !v.Refused() && (v.Standing == evidence.Void || v.Standing == evidence.Lapsed) {
			last = &r.Verdicts[i]
		}
	}
	switch {
	case last != nil && last.Standing == evidence.Lapsed:
		say(LapsedState, "%s: %s", last.Signoff.ID, last.Why[0])
	case last != nil:
		say(VoidState, "%s: %s", last.Signoff.ID, last.Why[0])
	case r.Emergency != nil:
		say(Emergency, "declared by %s on %s: %s", r.Emergency.By, journal.FormatTime(r.Emergency.On), r.Emergency.Reason)
	case g.facts.Wrong != nil && g.facts.Wrong(r.Path):
		say(Draft, "the linter finds errors in it")
	case r.Approval.Lacks != "":
		say(Proposed, "%d of %d sign-offs in force; %s", len(r.Approved), r.Needed, r.Approval.Lacks)
	default:
		say(Proposed, "%d of %d sign-offs in force", len(r.Approved), r.Needed)
	}
}

// uncovered lists the batches that were brewed while no approval was in force
// and no emergency was declared: the sign-offs were not there before the batch
// came to the mainline, or with it. A sign-off that expired or was voided later
// covers what was brewed before; one that came later is an approval afterwards.
func (r *Change) uncovered(facts evidence.Facts) []*journal.Batch {
	var out []*journal.Batch
	for _, b := range r.Batches {
		day := journal.Day(b.Brewed)
		if r.Emergency != nil && !day.Before(journal.Day(r.Emergency.On)) {
			continue
		}
		signed := map[string]bool{}
		needed, proposed := r.Needed, false
		for _, v := range r.Verdicts {
			if v.Standing == evidence.NotAllowed || v.Standing == evidence.ClaimOnly || v.Standing == evidence.CannotTell {
				continue
			}
			before, _ := facts.Precedes(v, b.Path, b.Brewed)
			valid := v.Policy.ValidFor
			fresh := valid <= 0 || !day.After(journal.Day(v.Signoff.On.Add(valid)))
			switch {
			case !before || !fresh:
			case v.Accepts():
				signed[v.Signoff.By], needed = true, v.Policy.Reviewers
			case v.Signoff.Decision == "refused":
				delete(signed, v.Signoff.By)
			case v.Signoff.Decision == "proposed":
				proposed = true
			}
			proposed = proposed || !v.Policy.Proof
		}
		if len(signed) < needed || needed > 0 && !proposed {
			out = append(out, b)
		}
	}
	return out
}

// Check compares one expected value with what a verification measured, both in
// the standard unit with their 95 % half-widths.
type Check struct {
	ID                  water.ID
	Expected, ExpectedU float64
	Measured, MeasuredU float64
	ErrorRatio          float64 // E_n; NaN where neither side has an uncertainty
}

// Agrees reports whether the two are the same within their uncertainties:
// |E_n| <= 1.
func (c Check) Agrees() bool { return math.IsNaN(c.ErrorRatio) || math.Abs(c.ErrorRatio) <= 1 }

// Verify compares what a change expects with what a session measured, value by
// value, by [water.NormalizedError]. Values that the session does not have, or
// that are only a bound, are left out.
func Verify(j *journal.Journal, c *journal.Change, s *journal.Session) []Check {
	var a water.Analysis
	j.Analysis(s, &a)
	var out []Check
	for _, x := range c.Expect {
		v, err := a.Value(x.Name)
		if err != nil || v.Bound != water.Exact || x.Value.Bound != water.Exact {
			continue
		}
		info := x.Name.Info()
		check := Check{ID: x.Name, Expected: info.Standard(x.Value), Measured: v.Value, MeasuredU: v.Expanded()}
		if x.Value.Expanded > 0 {
			high := x.Value
			high.Value += high.Expanded
			check.ExpectedU = math.Abs(info.Standard(high) - check.Expected)
		}
		if math.IsNaN(check.Expected) {
			continue
		}
		check.ErrorRatio = water.NormalizedError(check.Measured, check.MeasuredU, check.Expected, check.ExpectedU)
		out = append(out, check)
	}
	return out
}
