package judge

import (
	"fmt"
	"maps"
	"slices"
	"sort"
	"strings"
	"time"

	"wj/journal"
	"wj/journal/evidence"
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
	Asked                    // a reviewer asks for changes
	Unknown                  // history that would show what its sign-offs are worth is not here
)

// String is the state in words.
func (s State) String() string {
	return [...]string{"draft", "proposed", "signed", "refused", "in use", "verified", "missed", "void", "expired", "emergency", "superseded", "returned for changes", "unclear"}[min(s, Unknown)]
}

// Words are the state as people read it: a change that policy lets pass without a
// reviewer is not "signed".
func (c *Change) Words() string {
	if c.State == Signed && len(c.Approved) == 0 {
		return "self-approved"
	}
	return c.State.String()
}

// Approved reports whether a change in this state may be brewed with.
func (s State) Approved() bool { return s == Signed || s == InUse || s == Verified }

// Asks reports whether a signature is asked for: nobody has approved the change
// yet, or its approval has ended and the change itself has not.
func (c *Change) Asks() bool {
	switch c.State {
	case Draft, Proposed, Emergency, LapsedState:
		return true
	}
	return c.State == VoidState && c.Void == nil
}

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
	Batches  []*journal.Batch   // in the order of brewing
	Brews    []Brew             // of the batches, each as it was when it was brewed; also of one without an approval that its brewer alone took back
	// Unapproved are those of the batches that were brewed without an approval in force.
	Unapproved []*journal.Batch
	Unclear    []*journal.Batch // of which that is unknown
	Review     EmergencyReview
	Compared   []Comparison // of the newest verification session
	Checked    *journal.Session
}

// Approves reports whether records of a kind take part in the approval of
// changes, so that what is found in them depends on who signed.
func Approves(k journal.Kind) bool {
	return k == journal.KindChange || k == journal.KindBatch || k == journal.KindSignoff
}

// Changes judges the changes of one journal: sign-offs, batches and
// verifications are gathered once. It may be used by one goroutine at a time.
type Changes struct {
	j         *journal.Journal
	facts     evidence.Facts
	signoffs  map[string][]*journal.Signoff
	batches   map[string][]*journal.Batch
	disowned  map[string][]*journal.Batch // by the change that they named once, or name and are void
	verifying map[string][]*journal.Session
	replaces  map[string][]*journal.Change
	known     map[string]*Change
}

// NewChanges prepares to judge the changes of a journal that was loaded with
// its sessions.
func NewChanges(j *journal.Journal, facts evidence.Facts) *Changes {
	g := &Changes{j: j, facts: facts, signoffs: map[string][]*journal.Signoff{}, batches: map[string][]*journal.Batch{}, disowned: map[string][]*journal.Batch{},
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
			return list[a].Decision != journal.DecidedRefused && list[b].Decision == journal.DecidedRefused
		})
	}
	for _, b := range j.Batches.List {
		if b.Void == nil {
			g.batches[b.Change] = append(g.batches[b.Change], b)
		} else if facts.Line != nil && b.Change != "" {
			g.disowned[b.Change] = append(g.disowned[b.Change], b)
		}
		for _, a := range b.Amended {
			if facts.Line != nil && a.Key == "change" && a.Was != b.Change {
				g.disowned[a.Was] = append(g.disowned[a.Was], b)
			}
		}
	}
	for _, list := range g.batches {
		slices.SortStableFunc(list, func(a, b *journal.Batch) int { return a.Brewed.Compare(b.Brewed) })
	}
	for _, s := range j.Sessions.List {
		if s.Void == nil && s.Change != "" && s.Sample == journal.SampleVerification {
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

// Facts are what they are judged by.
func (g *Changes) Facts() evidence.Facts { return g.facts }

// Signoffs judges the sign-offs of a record, the oldest first.
func (g *Changes) Signoffs(id string) []evidence.Verdict {
	var out []evidence.Verdict
	for _, s := range g.signoffs[id] {
		out = append(out, evidence.Judge(g.j, s, g.facts))
	}
	return out
}

// Change judges one change. The state is never typed: it follows from the
// records and the facts, in this order: void, superseded, refused, approved
// (in use, verified or missed by its batches and verification sessions), void or
// expired approval, emergency, draft, proposed.
func (g *Changes) Change(c *journal.Change) *Change {
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
	r.Approval = evidence.Approve(r.Verdicts, c.Author, policy, evidence.Demands(g.facts.BaseOf(g.j), g.j, c, g.facts.Now.In(zoneOf(g.j))))
	r.Approved, r.Needed = r.Approval.By, r.Approval.Needed
	refusals := r.Approval.Refused
	r.emergency(policy, g.facts)
	for _, b := range slices.Concat(r.Batches, g.disowned[c.ID]) {
		brew := g.brew(r, b, counted)
		if brew.Disowned = b.Void != nil || b.Change != c.ID; brew.Disowned && (brew.Lack == NoLack || brew.Emergency ||
			g.facts.VoidedByAnother(g.j, &b.Record, b.DosedBy) || g.facts.AgreedByAnother(g.j, &b.Record, b.DosedBy)) {
			continue // what its own brewer takes back is judged all the same
		}
		if brew.Lack == NeverApproved && g.brew(r, b, mayCount).Lack != NeverApproved {
			brew.Lack, brew.Why = LackUnknown, r.unclear().Why[0]
		}
		switch r.Brews = append(r.Brews, brew); {
		case brew.Emergency, brew.Lack == NoLack:
		case brew.Lack == LackUnknown:
			r.Unclear = append(r.Unclear, b)
		default:
			r.Unapproved = append(r.Unapproved, b)
		}
	}
	if len(r.Unapproved) > 0 {
		r.Notes = append(r.Notes, r.UnapprovedNote())
	}
	if len(r.Unclear) > 0 {
		r.Notes = append(r.Notes, r.UnclearNote())
	}

	replacement, perhaps := "", ""
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
		case Unknown:
			perhaps = n.ID
		}
	}
	switch {
	case c.Void != nil:
		say(VoidState, "declared void by %s on %s: %s", c.Void.By, journal.FormatDate(c.Void.On), c.Void.Reason)
	case replacement != "":
		say(Superseded, "superseded by %s", replacement)
	case len(refusals) > 0:
		say(Refused, "refused by %s", strings.Join(refusals, ", "))
	case len(r.Approval.Asked) > 0:
		say(Asked, "%s asks for changes", strings.Join(r.Approval.Asked, ", "))
	case perhaps != "":
		say(Unknown, "it is unknown whether %s, which would replace it, is approved", perhaps)
	case r.Approval.Reached:
		g.approved(r, say)
	case r.unclear() != nil:
		say(Unknown, "%s: %s", r.unclear().Signoff.ID, r.unclear().Why[0])
	default:
		g.waiting(r, say)
	}
	return r
}

func (r *Change) emergency(policy journal.Policy, facts evidence.Facts) {
	if r.Emergency == nil || policy.EmergencyReview <= 0 {
		return
	}
	r.Review.Due = r.Emergency.On.Add(policy.EmergencyReview)
	accepted := map[string]bool{}
	for _, v := range r.Verdicts {
		if !counted(v) || !v.Accepts() && !v.Refused() {
			continue
		}
		if accepted[v.Signoff.By] = true; v.Refused() || len(evidence.Unmet(r.Approval.Demands, slices.Collect(maps.Keys(accepted)))) == 0 {
			r.Review.Reviewed = v.Signoff.On
			break
		}
	}
	due := journal.FormatTime(r.Review.Due.In(r.Emergency.On.Location()))
	switch {
	case r.Review.Late():
		r.Notes = append(r.Notes, fmt.Sprintf("emergency of %s was reviewed after %d h; policy allows %d h", journal.FormatTime(r.Emergency.On), int(r.Review.Reviewed.Sub(r.Emergency.On).Hours()), int(policy.EmergencyReview.Hours())))
	case !r.Review.Reviewed.IsZero():
	case facts.Now.After(r.Review.Due):
		r.Review.Overdue = true
		r.Notes = append(r.Notes, "emergency review is overdue: it was due by "+due)
	default:
		r.Notes = append(r.Notes, "emergency review is due by "+due)
	}
}

// Replaced is the newest change for the target and tank of a draft that may be brewed with today, or was until the water moved or
// its test missed; "" where there is none.
func (g *Changes) Replaced(draft *journal.Change) string {
	found, newest := "", (*journal.Change)(nil)
	for _, c := range g.j.Changes.List {
		if c.For != draft.For || c.Tank != draft.Tank || newest != nil && c.Proposed.Before(newest.Proposed) {
			continue
		}
		if s := g.Change(c).State; s.Approved() || s == LapsedState || s == Missed {
			found, newest = c.ID, c
		}
	}
	return found
}

func (g *Changes) approved(r *Change, say func(State, string, ...any)) {
	if len(r.Approved) == 0 {
		say(Signed, "policy asks for no reviewer")
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
	r.Checked, r.Compared = newest, Verify(g.j, r.Change, newest)
	var off []string
	for _, c := range r.Compared {
		if !c.Agrees() {
			off = append(off, c.ID.String())
		}
	}
	switch {
	case len(off) > 0:
		say(Missed, "%s disagrees: %s", newest.ID, strings.Join(off, ", "))
	case len(r.Compared) > 0:
		say(Verified, "verified by %s", newest.ID)
	}
}

// Ends is the moment at which the approval expires by age: when fewer sign-offs
// are left than it needs. It is zero where there is none, or policy sets no age.
func (r *Change) Ends() time.Time {
	ends := map[string]time.Time{} // of each signer's last acceptance
	for _, v := range r.Verdicts {
		if v.Standing == evidence.InForce && v.Accepts() && v.Policy.ValidFor > 0 {
			if end := v.Signoff.On.Add(v.Policy.ValidFor); end.After(ends[v.Signoff.By]) {
				ends[v.Signoff.By] = end
			}
		}
	}
	by := slices.SortedFunc(maps.Keys(ends), func(a, b string) int { return ends[a].Compare(ends[b]) })
	for i, id := range by {
		if len(evidence.Unmet(r.Approval.Demands, by[i:])) > 0 {
			break
		} else if len(evidence.Unmet(r.Approval.Demands, by[i+1:])) > 0 {
			return ends[id]
		}
	}
	return time.Time{}
}

// UnapprovedNote names the batches that were brewed without an approval in force.
func (r *Change) UnapprovedNote() string {
	return "brewed without an approval in force: " + batchNames(r.Unapproved)
}

// unclear is a decision on the change, or its author's own sign-off, whose worth is unknown.
func (r *Change) unclear() *evidence.Verdict {
	for i, v := range r.Verdicts {
		if v.Standing == evidence.CannotTell && (v.Accepts() || v.Refused() || v.Signoff.Decision == journal.DecidedProposed) {
			return &r.Verdicts[i]
		}
	}
	return nil
}

// UnclearNote names the batches of which it is unknown whether they were
// brewed with an approval in force, and why.
func (r *Change) UnclearNote() string {
	first := slices.IndexFunc(r.Brews, func(b Brew) bool { return b.Lack == LackUnknown })
	return fmt.Sprintf("it is unknown whether it was approved when it was brewed (%s): %s", batchNames(r.Unclear), r.Brews[first].Why)
}

// SignerNote is the state's reason with who approved; "" where nobody did.
func (r *Change) SignerNote() string {
	if len(r.Approved) == 0 {
		return ""
	}
	return unverified(r.Approval)
}

// unverified says of an approval that depends on names alone that it does.
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

func (g *Changes) waiting(r *Change, say func(State, string, ...any)) {
	var last *evidence.Verdict // the newest approval that once counted
	for i, v := range r.Verdicts {
		if v.Accepts() && (v.Standing == evidence.Void || v.Standing == evidence.Lapsed) {
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

// counted reports whether a sign-off was one when it was given: it may have
// expired or been voided since.
func counted(v evidence.Verdict) bool {
	switch v.Standing {
	case evidence.NotAllowed, evidence.ClaimOnly, evidence.CannotTell:
		return false
	}
	return true
}

// mayCount also takes a sign-off of which nothing is known.
func mayCount(v evidence.Verdict) bool { return counted(v) || v.Standing == evidence.CannotTell }
