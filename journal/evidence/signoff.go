package evidence

import (
	"fmt"
	"io/fs"
	"maps"
	"slices"
	"strings"
	"time"

	"wj/journal"
)

// Origin is what history knows of the commit that gave a file its content.
type Origin struct {
	Commit    string // short name
	Name      string // of the author, as the commit claims
	Email     string
	Others    []string // addresses of co-authors, which a squash leaves in the message
	Committed time.Time
	Signature Signature
	Signer    string // the person whose key signed, "" where none is known
	Detail    string // in words: fingerprint, why a signature does not count
	Cut       bool   // only this is known: the commit is not in this copy of the repository
}

// Signature says what a commit's signature proves.
type Signature uint8

// Only Proven proves who committed.
const (
	Unsigned  Signature = iota // none: who committed is what the commit says
	Proven                     // by a listed key, in its time
	Unknown                    // sound, by a key that is in no person's record, or not checked
	Worthless                  // altered, expired, made for another purpose
)

// Facts are what a judgement needs beyond the records themselves. Every field
// may be left at its zero value, which means that the fact is not known.
type Facts struct {
	Now time.Time
	// Base is the journal whose people and policy count: that of the branch that
	// is merged into. Nil takes the journal that is judged, which lets a branch
	// speak for itself.
	Base *journal.Journal
	// Origin finds the commit that gave a file its present content; ok is false
	// for a file that is not committed so. Nil: there is no history.
	Origin func(path string) (o Origin, ok bool)
	// Moved recomputes a change with today's water and says in what way the
	// result left its target or moved by more than twice its uncertainty; ""
	// where it did not. Nil: not recomputed.
	Moved func(c *journal.Change) string
	// Wrong reports whether the linter finds an error in a record. Nil: not
	// looked.
	Wrong func(path string) bool
}

// BaseOf is the journal whose people and policy count for j.
func (f Facts) BaseOf(j *journal.Journal) *journal.Journal {
	if f.Base != nil {
		return f.Base
	}
	return j
}

// Standing is what a sign-off is worth.
type Standing uint8

// The standings, the worst last.
const (
	InForce    Standing = iota // counts
	ClaimOnly                  // policy asks for proof of who signed, and there is none
	Lapsed                     // too old, or the water has moved
	Void                       // what was signed has changed
	NotAllowed                 // this person could not sign this record
)

// String is the standing in words.
func (s Standing) String() string {
	return [...]string{"in force", "claim only", "lapsed", "void", "not allowed"}[min(s, NotAllowed)]
}

// Verdict is a sign-off judged: its standing, why (one line each, the worst
// first), and what should be known without changing it.
type Verdict struct {
	Signoff  *journal.Signoff
	Record   journal.File // what is signed; Path is empty where that does not exist
	Standing Standing
	Why      []string
	Notes    []string
	Origin   Origin
	Known    bool // Origin is known
	Claim    bool // who signed is not proven by a signature
}

// Refused reports whether the decision was to refuse.
func (v Verdict) Refused() bool { return v.Signoff.Decision == "refused" }

// Judge says what a sign-off is worth. It is not allowed where the signer is
// unknown to the base, was not there or no reviewer that day, proposed the
// change himself and policy forbids it, or where another person made the
// commit; void where a covered file is gone or differs, or the record itself
// is not covered; lapsed by age or water; a claim where policy asks for a
// signed commit and there is no signature that proves the signer.
func Judge(j *journal.Journal, s *journal.Signoff, facts Facts) Verdict {
	v := Verdict{Signoff: s}
	worse := func(to Standing, format string, args ...any) {
		text := fmt.Sprintf(format, args...)
		if to > v.Standing {
			v.Standing = to
			v.Why = append([]string{text}, v.Why...)
			return
		}
		v.Why = append(v.Why, text)
	}
	note := func(format string, args ...any) { v.Notes = append(v.Notes, fmt.Sprintf(format, args...)) }

	record := v.find(j)
	if s.Void != nil {
		worse(Void, "the sign-off itself was declared void by %s: %s", s.Void.By, s.Void.Reason)
	}
	v.content(j, record, worse, note)
	v.person(j, facts, record, worse, note)
	if change, ok := record.(*journal.Change); ok && !v.Refused() {
		policy := facts.BaseOf(j).Settings.Policy
		if end := s.On.Add(policy.ValidFor); policy.ValidFor > 0 && facts.Now.After(end) {
			worse(Lapsed, "it is older than the policy's %s: signed %s, valid to %s", Days(policy.ValidFor), journal.FormatDate(s.On), journal.FormatDate(end))
		}
		if facts.Moved != nil && v.Standing < Void {
			if moved := facts.Moved(change); moved != "" {
				worse(Lapsed, "the water moved: %s", moved)
			}
		}
	}
	return v
}

// find gets the record that is signed: of several with the id, the one that is
// covered.
func (v *Verdict) find(j *journal.Journal) journal.Any {
	found := j.Find(v.Signoff.Of)
	if len(found) == 0 {
		v.Record = journal.File{ID: v.Signoff.Of}
		return nil
	}
	v.Record = found[0]
	for _, f := range found {
		if _, covered := v.Signoff.Covers[f.Path]; covered {
			v.Record = f
			break
		}
	}
	if c, ok := j.Changes.Get(v.Record.ID); ok && v.Record.Kind == journal.KindChange {
		return c
	}
	_, record, err := j.ReadRecord(v.Record)
	if err != nil {
		return nil
	}
	return record
}

// content compares every covered file with its digest.
func (v *Verdict) content(j *journal.Journal, record journal.Any, worse func(Standing, string, ...any), note func(string, ...any)) {
	s := v.Signoff
	if record == nil {
		worse(Void, "%s, which it signs, is not there or cannot be read", s.Of)
	}
	covered := map[key]bool{}
	for _, p := range slices.Sorted(maps.Keys(s.Covers)) {
		if f, ok := journal.FileOf(p); ok {
			covered[keyOf(f)] = true
		}
		if !fs.ValidPath(p) {
			worse(Void, "it covers %q, which is no path of a journal", p)
			continue
		}
		digest, err := journal.DigestFile(j.FS, p)
		if err != nil {
			if moved, ok := MovedTo(j, p); ok {
				if digest, err = journal.DigestFile(j.FS, moved); err == nil && digest == s.Covers[p] {
					note("%s is now %s, with the same content", p, moved)
					continue
				}
			}
			worse(Void, "%s is gone", p)
			continue
		}
		if !strings.EqualFold(digest, s.Covers[p]) {
			worse(Void, "%s changed after it was signed", p)
		}
	}
	if record == nil {
		return
	}
	needed, _ := Covers(j, record)
	for _, n := range needed {
		switch {
		case covered[keyOf(n.File)]:
		case n.Evidence:
			worse(Void, "it does not cover %s", n.Path)
		default:
			note("it does not cover %s", n.Path)
		}
	}
	if void := record.Base().Void; void != nil {
		worse(Void, "%s was declared void by %s: %s", s.Of, void.By, void.Reason)
	}
}

// MovedTo finds a record that lies in another folder now.
func MovedTo(j *journal.Journal, p string) (string, bool) {
	f, ok := journal.FileOf(p)
	if !ok {
		return "", false
	}
	for _, found := range j.Find(f.ID) {
		if found.Kind == f.Kind {
			return found.Path, true
		}
	}
	return "", false
}

// person asks whether this person could sign, and whether it was this person.
func (v *Verdict) person(j *journal.Journal, facts Facts, record journal.Any, worse func(Standing, string, ...any), note func(string, ...any)) {
	s, base := v.Signoff, facts.BaseOf(j)
	if why := MaySign(base, record, s.By, s.On); why != "" {
		worse(NotAllowed, "%s", why)
	}
	v.Claim = true
	if facts.Origin == nil {
		return
	}
	v.Origin, v.Known = facts.Origin(s.Path)
	if !v.Known {
		worse(ClaimOnly, "it is not committed yet")
		return
	}
	person, ok := base.People.Get(s.By)
	if !ok {
		return
	}
	o := v.Origin
	if o.Cut {
		v.Known = false
		note("who committed it is not in this copy of the repository")
		if _, isChange := record.(*journal.Change); isChange && base.Settings.Policy.Proof {
			worse(ClaimOnly, "policy asks for a signed commit, and the commit is not in this copy of the repository")
		}
		return
	}
	switch {
	case o.Signature == Proven && o.Signer != s.By:
		worse(NotAllowed, "it says %s, but commit %s was signed with a key of %s", s.By, o.Commit, o.Signer)
	case o.Signature != Proven && !o.By(person):
		worse(NotAllowed, "it says %s, but commit %s is by %s <%s>, which is no address of %s", s.By, o.Commit, o.Name, o.Email, s.By)
	}
	v.Claim = o.Signature != Proven
	change, isChange := record.(*journal.Change)
	if isChange && base.Settings.Policy.OtherThanAuthor && change.Author != s.By {
		// The author field is what the proposer typed; history knows whose bytes these are.
		if made, ok := facts.Origin(change.Path); ok && !made.Cut && (made.Signer == s.By || made.Signer == "" && made.By(person)) {
			worse(NotAllowed, "%s made the change as it stands (commit %s), and policy asks for another person", s.By, made.Commit)
		}
	}
	if isChange && base.Settings.Policy.Proof && v.Claim {
		worse(ClaimOnly, "policy asks for a signed commit: %s", describe(o))
	} else if o.Signature == Worthless {
		worse(ClaimOnly, "its commit is signed, but the signature proves nothing: %s", o.Detail)
	}
	if late := o.Committed.Sub(s.On); late > 24*time.Hour || late < -time.Hour {
		note("it says %s, but was committed %s", journal.FormatTime(s.On), journal.FormatTime(o.Committed))
		if why := MaySign(base, record, s.By, o.Committed); why != "" && v.Standing != NotAllowed {
			worse(NotAllowed, "%s (when it was committed)", why)
		}
	}
}

func describe(o Origin) string {
	switch o.Signature {
	case Proven:
		return "commit " + o.Commit + " is signed by " + o.Signer
	case Unsigned:
		return "commit " + o.Commit + " is not signed"
	}
	return "commit " + o.Commit + ": " + o.Detail
}

// Describe says in words what a commit's signature proves.
func (o Origin) Describe() string { return describe(o) }

// By reports whether a commit names one of a person's addresses as author or
// co-author. Without a signature that is the commit's claim.
func (o Origin) By(p *journal.Person) bool {
	return slices.ContainsFunc(p.Email, func(e string) bool {
		return strings.EqualFold(e, o.Email) || slices.ContainsFunc(o.Others, func(other string) bool { return strings.EqualFold(e, other) })
	})
}

// MaySign says why a person may not sign a record at a time, "" where they
// may. People and policy are those of base. The role of reviewer is asked for
// once any person in base has it.
func MaySign(base *journal.Journal, record journal.Any, id string, at time.Time) string {
	person, ok := base.People.Get(id)
	switch {
	case !ok:
		return id + " is nobody in people/"
	case person.Void != nil:
		return "the record of " + id + " is void"
	case !person.Covers(at):
		return id + " was not there on " + journal.FormatDate(at) + spanText(person.Span)
	}
	change, ok := record.(*journal.Change)
	if !ok {
		return ""
	}
	if base.Settings.Policy.OtherThanAuthor && change.Author == id {
		return id + " is the author of the change, and policy asks for another person"
	}
	anywhere := false
	for _, p := range base.People.List {
		for _, r := range p.Roles {
			if r.Role != "reviewer" {
				continue
			}
			anywhere = true
			if p.ID == id && r.Covers(at) {
				return ""
			}
		}
	}
	if anywhere {
		return id + " was no reviewer on " + journal.FormatDate(at)
	}
	return ""
}

// Reviewers lists who may sign a record at a time.
func Reviewers(base *journal.Journal, record journal.Any, at time.Time) []string {
	var out []string
	for _, p := range base.People.List {
		if MaySign(base, record, p.ID, at) == "" {
			out = append(out, p.ID)
		}
	}
	return out
}

func spanText(s journal.Span) string {
	switch {
	case !s.Until.IsZero() && !s.Since.IsZero():
		return " (" + journal.FormatDate(s.Since) + " to " + journal.FormatDate(s.Until) + ")"
	case !s.Until.IsZero():
		return " (until " + journal.FormatDate(s.Until) + ")"
	case !s.Since.IsZero():
		return " (since " + journal.FormatDate(s.Since) + ")"
	}
	return ""
}

// Days writes a duration in hours below two days, else in days.
func Days(d time.Duration) string {
	if h := int(d.Hours()); h < 48 {
		return fmt.Sprintf("%d h", h)
	}
	return fmt.Sprintf("%d d", int(d.Hours()/24))
}
