package judge

import (
	"fmt"
	"maps"
	"slices"
	"strings"
	"time"

	"wj/journal"
	"wj/journal/evidence"
	"wj/water"
	"wj/water/substance"
)

// The rules of the linter that a batch brewed without an approval breaks; one
// that says in `ignore` why it was so is not found again.
const (
	RuleUnsigned = "change/unsigned-use"
	RuleLapsed   = "change/lapsed"
	RuleWeighed  = "batch/weighed"
)

// Brewed lists the batches that were brewed without an approval in force, as
// findings, those of which that is unknown, and in words those that say why.
// Where it is unknown what a sign-off is worth, which is found for itself,
// nor is it known whether it approved.
func (g *Changes) Brewed() (wrong, unknown []evidence.Finding, explained []string) {
	for _, c := range g.j.Changes.List {
		r := g.Change(c)
		for _, b := range r.Brews {
			if b.Lack == NoLack || b.Emergency && !r.Review.Overdue || b.Lack == LackUnknown && !b.doubtful {
				continue
			}
			if b.Lack == LackUnknown {
				unknown = append(unknown, evidence.Finding{Subject: b.Batch.Path, Cause: "unknown whether it was approved when it was brewed", Text: "unknown whether it was approved when it was brewed: " + b.Why,
					Help: "wj review " + c.ID + "; a second person who knows signs the batch: wj sign " + b.Batch.ID})
				continue
			}
			rule := RuleUnsigned
			if b.Lack == ApprovalTooOld || b.Lack == WaterHadMoved {
				rule = RuleLapsed
			} else if b.Lack == NotAsked {
				rule = RuleWeighed
			}
			if reason, ok := b.Batch.Ignore[rule]; ok {
				explained = append(explained, fmt.Sprintf("%s was brewed without an approval of %s in force: %s", b.Batch.ID, c.ID, reason))
				continue
			}
			text := "brewed without an approval in force: " + lackWords(b, c)
			if b.Disowned {
				text += "; declaring it void or amending it does not undo this until a second person signs the batch (wj sign " + b.Batch.ID + ")"
			}
			wrong = append(wrong, evidence.Finding{Subject: b.Batch.Path, Cause: "brewed without an approval in force", Text: text,
				Help: "wj review " + c.ID + "; an approval that comes later does not undo it: say in the batch what was done (ignore: {" + rule + ": …})"})
		}
	}
	return wrong, unknown, explained
}

func lackWords(b Brew, c *journal.Change) string {
	switch b.Lack {
	case NeverApproved:
		if b.Emergency {
			return "as an emergency, and nobody has reviewed " + c.ID + " in the time that the policy gives"
		}
	case RefusedBefore:
		return fmt.Sprintf("%s refused %s on %s", b.Signoff.By, c.ID, journal.FormatDate(b.Signoff.On))
	case ApprovalTooOld, WaterHadMoved:
		return fmt.Sprintf("the approval of %s had expired: %s", c.ID, b.Why)
	case NotAsked:
		return b.Why
	}
	text := "nobody had approved " + c.ID + " by " + journal.FormatDate(b.Batch.Brewed)
	if b.Why != "" {
		text += " as it was then: " + b.Why
	}
	return text
}

// Unasked lists the substances that a batch weighed and its change does not have:
// nobody who signed the change has seen them. A name that is not known may be a slip of one that it has.
func Unasked(c *journal.Change, b *journal.Batch) (more []string) {
	for _, w := range b.Weighed {
		if _, known := substance.ByKey(w.Substance); known && w.Amount.Value > 0 && !slices.ContainsFunc(c.Add, func(a journal.Addition) bool { return a.Substance == w.Substance }) {
			more = append(more, w.Substance)
		}
	}
	return more
}

// tooMuch is how many times the approved dose a batch may weigh before it is another
// dose than the one that was signed; common practice, no source.
const tooMuch = 1.5

// overdosed says of which additions a batch weighed far more than its change asks
// for, scaled to its volume; "" where of none. An acid of another bottle may be weaker.
func overdosed(c *journal.Change, b *journal.Batch) string {
	planned, err := c.Volume.In(water.Litre)
	brewed, err2 := b.Volume.In(water.Litre)
	if err != nil || err2 != nil || planned <= 0 || brewed <= 0 {
		return ""
	}
	var more []string
	for _, a := range c.Add {
		for _, w := range b.Weighed {
			sub, known := substance.ByKey(w.Substance)
			if w.Substance != a.Substance || !known || sub.Kind == substance.Acid && (w.Lot != a.Lot || w.Strength != a.Strength) {
				continue
			}
			asked := a.Amount.Value * brewed / planned
			if is, err := w.Amount.In(a.Amount.Unit); err == nil && asked > 0 && is > tooMuch*asked {
				more = append(more, fmt.Sprintf("%s of %s was weighed, and %s asks for %s %s", w.Amount, w.Substance, c.ID, water.Round(asked, 3), a.Amount.Unit))
			}
		}
	}
	return strings.Join(more, ", ")
}

// Lack says why a change was not approved when a batch was brewed with it.
type Lack uint8

// The lacks.
const (
	NoLack         Lack = iota
	NeverApproved       // not by enough reviewers by then
	RefusedBefore       // a reviewer had refused it, and had not taken that back
	ApprovalTooOld      // the policy's age was past
	WaterHadMoved       // the result was another with the water of that day
	NotAsked            // it weighed what the change does not have, or far more of it
	LackUnknown         // what a sign-off of then is worth is unknown: history that would show it is not here
)

// Brew is a batch and the approval of its change when it was brewed.
type Brew struct {
	Batch     *journal.Batch
	Emergency bool // an emergency had been declared by then: the review may follow
	Disowned  bool // the batch is void, or names another change now
	Lack      Lack
	Why       string             // why an approval had expired, did not count, or is unknown
	Signoff   *journal.Signoff   // the refusal, or the newest acceptance that had expired
	By        []evidence.Verdict // who had accepted it by then, in the order of time

	doubtful bool // of LackUnknown: the order of the mainline and the typed time disagree
}

// Approval says in words whether the change was approved when the batch was
// brewed, and by whom.
func (b Brew) Approval() string {
	switch {
	case b.Lack == LackUnknown:
		return "inconclusive: " + b.Why
	case b.Lack == RefusedBefore:
		return fmt.Sprintf("no: refused by %s on %s", b.Signoff.By, journal.FormatDate(b.Signoff.On))
	case b.Lack == NeverApproved && b.Emergency:
		return "not yet: brewed as an emergency, to be reviewed afterwards"
	case b.Lack == NeverApproved:
		return "no: not approved by then"
	}
	var names []string
	for _, v := range b.By {
		text := v.Signoff.By + " on " + journal.FormatDate(v.Signoff.On)
		if v.Claim {
			text += unverified(evidence.Approval{})
		}
		names = append(names, text)
	}
	by := strings.Join(names, ", ")
	switch {
	case b.Lack == NotAsked:
		return "no: " + b.Why
	case b.Lack != NoLack:
		return fmt.Sprintf("no: approved by %s, and expired by then: %s", by, b.Why)
	case len(names) == 0:
		return "self-approved: policy asks for no reviewer"
	}
	return "yes, by " + by
}

// EmergencyReview is the review that must follow an emergency.
type EmergencyReview struct {
	Due      time.Time // zero: there was no emergency, or policy sets no time
	Reviewed time.Time // of the last acceptance that it takes, or the first refusal; zero: none yet
	Overdue  bool      // not reviewed, and the time is past
}

// Late reports whether the review came after its time.
func (r EmergencyReview) Late() bool { return !r.Reviewed.IsZero() && r.Reviewed.After(r.Due) }

// knownAt reports of sessions whether they were there when a batch was brewed:
// measured by then, and on the mainline no later than the batch.
func (g *Changes) knownAt(b *journal.Batch, end time.Time) func(*journal.Session) bool {
	return func(s *journal.Session) bool {
		if TestedAt(s, nil).After(end) {
			return false
		}
		brewed, placed := g.facts.Line.At(b.Path)
		came, known := g.facts.Line.Arrived(s.Path)
		return !placed || !known || came <= brewed
	}
}

// brew judges the approval of a change when a batch was brewed with it, by the
// sign-offs that were there before the batch came to the mainline, or with it: one
// that came later is an approval afterwards. A sign-off that expired, was voided
// or withdrawn later covers what was brewed before.
func (g *Changes) brew(r *Change, b *journal.Batch, counted func(evidence.Verdict) bool) Brew {
	out := Brew{Batch: b}
	end := BrewEnd(g.j, b)
	declared := r.Emergency
	if then, ok := g.facts.Then(&r.Record, b.Path); ok && !r.Approval.Reached { // declared afterwards: for a reviewer to accept
		if was, ok := then.(*journal.Change); ok {
			declared = was.Emergency
		}
	}
	out.Emergency = declared != nil && !dayOf(g.j, end).Before(dayOf(g.j, declared.On))
	accepted, refused := map[string]*journal.Signoff{}, map[string]*journal.Signoff{}
	demands, proposed := r.Approval.Demands, r.Needed == 0
	tooOld, asked := map[string]bool{}, map[string]bool{}
	doubt, another := "", ""
	for _, v := range r.Verdicts {
		s := v.Signoff
		if !counted(v) {
			continue
		}
		if before, _ := g.facts.Precedes(v, b.Path, end); !before || s.On.After(end) {
			if (v.Refused() || s.Decision == journal.DecidedRequested) && g.facts.Came(v, b.Path) {
				doubt = fmt.Sprintf("%s, dated %s, was on the mainline before the batch, which is dated %s", s.ID, journal.FormatTime(s.On), journal.FormatDate(b.Brewed))
			}
			continue
		}
		if gone, sure := g.facts.WithdrawnBy(v, b.Path, end); gone && sure {
			another = s.ID + " was withdrawn by then"
			continue
		} else if gone && v.Accepts() {
			doubt = fmt.Sprintf("%s was withdrawn on the mainline before the batch, which is dated %s", s.ID, journal.FormatDate(b.Brewed))
		}
		if v.Accepts() {
			if why := g.facts.Stood(v, b.Path); why != "" {
				another = why
				continue
			}
		}
		switch {
		case v.Accepts():
			delete(refused, s.By)
			delete(asked, s.By)
			accepted[s.By], demands = s, v.Demands
			tooOld[s.By] = v.Policy.ValidFor > 0 && end.After(s.On.Add(v.Policy.ValidFor))
			if tooOld[s.By] {
				out.Why = fmt.Sprintf("it was signed on %s, and the policy gives it %s", journal.FormatDate(s.On), evidence.Days(v.Policy.ValidFor))
			}
		case v.Refused():
			delete(accepted, s.By)
			refused[s.By] = s
		case v.Asks():
			asked[s.By] = true
		case s.Decision == journal.DecidedProposed:
			proposed = true
		}
		proposed = proposed || !v.Policy.Proof
	}
	for _, v := range r.Verdicts {
		if accepted[v.Signoff.By] == v.Signoff {
			out.By = append(out.By, v)
		}
	}
	unmet := func(by []string) bool { return len(evidence.Unmet(demands, by)) > 0 }
	var fresh []string
	for by, s := range accepted {
		if !tooOld[by] {
			fresh = append(fresh, by)
		}
		if out.Signoff == nil || s.On.After(out.Signoff.On) {
			out.Signoff = s
		}
	}
	switch {
	case len(refused) > 0:
		out.Lack, out.Why = RefusedBefore, ""
		out.Signoff = nil
		for _, s := range refused {
			if out.Signoff == nil || s.On.Before(out.Signoff.On) {
				out.Signoff = s
			}
		}
	case len(asked) > 0, unmet(slices.Collect(maps.Keys(accepted))), unmet(nil) && !proposed:
		out.Lack, out.Why = NeverApproved, another
	case unmet(fresh):
		out.Lack = ApprovalTooOld
	default:
		out.Why = ""
		if more := Unasked(r.Change, b); len(more) > 0 && unmet(nil) {
			out.Lack, out.Why = NotAsked, fmt.Sprintf("%s was weighed, and %s does not ask for it", strings.Join(more, ", "), r.ID)
		} else if more := overdosed(r.Change, b); more != "" && unmet(nil) {
			out.Lack, out.Why = NotAsked, more
		} else if g.facts.Moved != nil && out.Signoff != nil {
			if out.Why = g.facts.Moved(r.Change, end, g.knownAt(b, end)); out.Why != "" {
				out.Lack = WaterHadMoved
			}
		}
	}
	if doubt != "" && out.Lack == NoLack && !g.facts.AgreedByAnother(g.j, &b.Record, b.DosedBy) {
		out.Lack, out.Why, out.doubtful = LackUnknown, doubt, true
	}
	return out
}
