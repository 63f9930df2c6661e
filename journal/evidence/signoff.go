package evidence

import (
	"fmt"
	"maps"
	"slices"
	"strings"
	"time"

	"wj/journal"
	"wj/journal/history"
)

// Origin is what history knows of a commit that gave a file its content.
type Origin struct {
	Commit    string // short name
	Name      string // of the author, as the commit claims
	Email     string
	Others    []string // addresses of co-authors: words of the message, which prove nothing
	Committed time.Time

	hash   history.Hash
	signed bool
}

// ID is the commit in full.
func (o Origin) ID() string { return o.hash.String() }

// By reports whether a commit names one of a person's addresses as its author.
// That is the commit's claim.
func (o Origin) By(p *journal.Person) bool {
	return slices.ContainsFunc(p.Email, func(e string) bool { return strings.EqualFold(e, o.Email) })
}

// Proof says what shows who signed.
type Proof string

// The proofs. A claim is a name that nobody verified.
const (
	BySignature Proof = "signature" // the signer's own, beside the statement
	ByCommit    Proof = "commit"    // the commit that brought it is signed with the signer's key
	Claim       Proof = "claim"
)

// Facts are what a judgement needs beyond the records themselves.
type Facts struct {
	Now time.Time
	// Line is the mainline that judges; nil where there is no repository: then the
	// journal's own people and policy are taken, and who signed is a claim.
	Line *Mainline
	// Unreadable says why there is a repository that cannot be asked; then
	// nothing is known.
	Unreadable string
	// Moved recomputes a change with the water of a moment and says in what way
	// the result left its target or moved, by more than chance, since
	// it was signed; "" where it did not. known says which sessions there were; nil
	// is all. Nil: not recomputed.
	Moved func(c *journal.Change, at time.Time, known func(*journal.Session) bool) string
	// Wrong reports whether the linter finds an error in a record. Nil: not
	// looked.
	Wrong func(path string) bool
}

// BaseOf is the journal whose people and policy count now for j.
func (f Facts) BaseOf(j *journal.Journal) *journal.Journal {
	if f.Line != nil {
		return f.Line.Rules().Journal
	}
	return j
}

// Signoffs are the sign-offs to judge: those of the journal, and those that the
// mainline had and that are no longer there.
func (f Facts) Signoffs(j *journal.Journal) []*journal.Signoff {
	list := slices.Clone(j.Signoffs.List)
	if f.Line == nil {
		return list
	}
	for _, id := range slices.Sorted(maps.Keys(f.Line.acts)) {
		if _, there := j.Signoffs.Get(id); !there {
			list = append(list, f.Line.acts[id].signoff)
		}
	}
	return list
}

// Standing is what a sign-off is worth.
type Standing uint8

// The standings, the worst last. Only one in force counts.
const (
	InForce    Standing = iota
	ClaimOnly           // policy asks for proof of who signed, and there is none
	CannotTell          // history or a key that would show it is not here
	Lapsed              // too old, or the water has moved
	Withdrawn           // taken back by its signer
	Void                // what was signed has changed
	NotAllowed          // this person could not sign this record so
)

// String is the standing in words.
func (s Standing) String() string {
	return [...]string{"in force", "claim only", "cannot tell", "expired", "withdrawn", "void", "not allowed"}[min(s, NotAllowed)]
}

// Verdict is a sign-off judged: its standing, why (one line each, the worst
// first), and what should be known without changing it.
type Verdict struct {
	Signoff  *journal.Signoff // as it was given, whatever its file says now
	Record   journal.File     // what is signed; Path is empty where that does not exist
	Standing Standing
	Why      []string
	Notes    []string
	Proof    Proof
	Signed   string // the file that holds the signature, the fingerprint in Key
	Key      string
	Origin   Origin // the commit that brought it
	Known    bool   // Origin is known
	Claim    bool   // who signed is not verified
	At       int    // position on the mainline, see [Mainline]
	Policy   journal.Policy
	Demands  []Demand // of a decision: what the policy of its day asks for
	Altered  bool     // the file is not what was given, or gone
}

// Refused reports whether the decision was to refuse.
func (v Verdict) Refused() bool { return v.Signoff.Decision == journal.DecidedRefused }

// Asks reports whether the signer asks for changes, and has not taken that back:
// whatever is edited since, the answer is theirs to accept.
func (v Verdict) Asks() bool {
	return v.Signoff.Decision == journal.DecidedRequested && v.Standing == InForce
}

// remarks reports whether a sign-off decides nothing of what it covers.
func remarks(s *journal.Signoff) bool {
	return s.Decision == journal.DecidedRequested || s.Decision == journal.DecidedRemarked
}

// Accepts reports whether the decision was to accept.
func (v Verdict) Accepts() bool { return v.Signoff.Decision == journal.DecidedAccepted }

// judging is a verdict on its way.
type judging struct {
	Verdict
	j      *journal.Journal
	facts  Facts
	rules  *Rules
	act    *act
	record journal.Any
}

func (v *judging) worse(to Standing, format string, args ...any) {
	text := fmt.Sprintf(format, args...)
	if to > v.Standing {
		v.Standing = to
		v.Why = append([]string{text}, v.Why...)
		return
	}
	v.Why = append(v.Why, text)
}

func (v *judging) note(format string, args ...any) {
	v.Notes = append(v.Notes, fmt.Sprintf(format, args...))
}

// Judge says what a sign-off is worth, by the rules of the mainline before it
// came: who the signer was, whether the record is what was signed, and what
// shows who signed.
func Judge(j *journal.Journal, s *journal.Signoff, facts Facts) Verdict {
	return judgeBy(j, s, facts, nil)
}

// judgeBy judges by other rules than those before a sign-off; nil are those.
func judgeBy(j *journal.Journal, s *journal.Signoff, facts Facts, rules *Rules) Verdict {
	v := &judging{Verdict: Verdict{Signoff: s, Proof: Claim, Claim: true, At: Uncommitted}, j: j, facts: facts}
	v.place()
	if rules != nil {
		v.rules, v.Policy = rules, rules.Policy()
	}
	v.find()
	v.content()
	v.person()
	if v.Accepts() || v.Refused() || s.Decision == journal.DecidedProposed {
		at := s.On // not before it can have come, whatever was typed
		if c, ok := facts.Line.commit(v.At); ok && c.floor.After(at) {
			at = c.floor
		}
		v.Demands = Demands(v.rules.Journal, j, v.record, at.In(j.Settings.Zone))
	}
	v.times()
	v.proof()
	if change, ok := v.record.(*journal.Change); ok && v.Accepts() {
		policy := v.rules.Policy()
		if end := s.On.Add(policy.ValidFor); policy.ValidFor > 0 && facts.Now.After(end) {
			v.worse(Lapsed, "it is older than the policy's %s: signed %s, valid to %s", Days(policy.ValidFor), journal.FormatDate(s.On), journal.FormatDate(end))
		}
		if facts.Moved != nil && v.Standing < Void {
			if moved := facts.Moved(change, facts.Now, nil); moved != "" {
				v.worse(Lapsed, "the water moved: %s", moved)
			}
		}
	}
	if rules == nil {
		v.sides()
	}
	return v.Verdict
}

// place finds how the sign-off came to the mainline, and by which rules it is
// judged.
func (v *judging) place() {
	line := v.facts.Line
	if line == nil {
		v.rules = RulesOf(v.j)
		v.Policy = v.rules.Policy()
		v.act = &act{signoff: v.Signoff, path: v.Signoff.Path, at: Unplaced}
		if content, err := readSmall(v.j.FS, v.Signoff.Path); err == nil {
			v.act.content = content
		}
		v.At = Unplaced
		return
	}
	content, err := readSmall(v.j.FS, v.Signoff.Path)
	a := line.acts[v.Signoff.ID]
	if a == nil {
		v.act = &act{signoff: v.Signoff, path: v.Signoff.Path, content: content, at: Uncommitted}
	} else {
		v.act, v.Signoff = a, a.signoff
		v.Altered = err != nil || string(lines(content)) != string(lines(a.content))
	}
	v.At = v.act.at
	v.rules = line.before(v.At)
	v.Policy = v.rules.Policy()
	if first, copied := line.copyOf(v.Signoff.ID, v.act.content); copied {
		v.worse(NotAllowed, "it is a copy of %s: a statement counts once, when it was given", first)
	}
	stands := restraint(v.Signoff) > 0
	if v.Altered && !stands {
		v.worse(Void, "its file was changed or removed after it was given")
	} else if v.Altered {
		v.note("its file was changed or removed; it holds until its signer withdraws it")
	}
	if a != nil && !v.Altered && v.stripped(line) {
		v.Altered = true
		v.worse(map[bool]Standing{true: v.Standing, false: Void}[stands], "the signature beside it was changed or removed after it was given")
	}
	if a != nil {
		if w := line.withdrawn(a, Uncommitted); w != nil {
			v.worse(Withdrawn, "withdrawn by %s on %s", w.signoff.By, journal.FormatDate(w.signoff.On))
		}
	}
	if v.Signoff.Void != nil {
		v.worse(Void, "the sign-off itself was declared void by %s: %s", v.Signoff.Void.By, v.Signoff.Void.Reason)
	}
}

// stripped reports whether a signature that came with the statement is not
// beside it any more, and no other good one of the signer is.
func (v *judging) stripped(line *Mainline) bool {
	same := true
	for _, name := range SignatureFiles(v.act.path) {
		if given, ok := v.act.files[name]; ok {
			is, err := readSmall(v.j.FS, name)
			same = same && err == nil && string(lines(is)) == string(lines(given))
		}
	}
	if same {
		return false
	}
	for _, rules := range []*Rules{v.rules, line.Rules()} {
		if found, _ := signatureBeside(v.j.FS, v.act.path, v.act.statement(), rules.Ring, v.Signoff.On); found.Kind == history.Good && found.Principal == v.Signoff.By {
			return false
		}
	}
	return true
}

// find gets the record that is signed: of several with the id, the one that is
// covered.
func (v *judging) find() {
	if v.Signoff.Of == journal.SettingsFile {
		v.Record = journal.File{Kind: journal.KindSettings, ID: journal.SettingsFile, Path: journal.SettingsFile}
		return
	}
	found := v.j.Find(v.Signoff.Of)
	if len(found) == 0 {
		v.Record = journal.File{ID: v.Signoff.Of}
		return
	}
	v.Record = found[0]
	for _, f := range found {
		if _, covered := v.Signoff.Covers[f.Path]; covered {
			v.Record = f
			break
		}
	}
	if c, ok := v.j.Changes.Get(v.Record.ID); ok && v.Record.Kind == journal.KindChange {
		v.record = c
		return
	}
	if _, record, err := v.j.ReadRecord(v.Record); err == nil && record != nil {
		v.record = record
	}
}

// person asks whether this person could sign this.
func (v *judging) person() {
	s, base := v.Signoff, v.rules.Journal
	if v.rules.waits[s.By] && v.Accepts() {
		v.worse(ClaimOnly, "nobody else had signed that %s may approve when it came (wj sign %s)", s.By, s.By)
	}
	times := []time.Time{s.On}
	if v.facts.Line != nil {
		if c, ok := v.facts.Line.commit(v.At); ok && c.floor.After(s.On) {
			times = append(times, c.floor)
		}
	}
	for i, at := range times {
		at = at.In(v.j.Settings.Zone)
		why := ""
		switch s.Decision {
		case journal.DecidedProposed:
			if why = absent(base, s.By, at); why == "" {
				if c, ok := v.record.(*journal.Change); ok && c.Author != s.By {
					why = s.By + " is not the author of the change"
				}
			}
		case journal.DecidedWithdrawn:
			why = v.mayWithdraw(base, at)
		case journal.DecidedRemarked:
			why = MayRemark(base, s.By, at)
		default:
			why = MaySign(base, v.j, v.record, s.By, at)
		}
		if why == "" {
			continue
		}
		if i > 0 {
			why += " (when it came to the mainline)"
		}
		v.worse(NotAllowed, "%s", why)
		return
	}
}

func (v *judging) mayWithdraw(base *journal.Journal, at time.Time) string {
	if why := absent(base, v.Signoff.By, at); why != "" {
		return why
	}
	if of, ok := v.record.(*journal.Signoff); !ok || of.By != v.Signoff.By {
		return "a sign-off is withdrawn by its signer alone"
	}
	return ""
}

// times holds the time that was typed against what is known.
func (v *judging) times() {
	s := v.Signoff
	if s.On.After(v.facts.Now.Add(clockSlack)) {
		v.worse(NotAllowed, "it is dated in the future: %s", journal.FormatTime(s.On))
	}
	if c, ok := v.record.(*journal.Change); ok && journal.Day(s.On.In(v.j.Settings.Zone)).Before(journal.Day(c.Proposed)) {
		v.worse(NotAllowed, "it is dated %s, before the change was proposed", journal.FormatDate(s.On))
	}
	for p := range s.Covers {
		f, ok := journal.FileOf(p)
		if !ok || f.Kind != journal.KindSession {
			continue
		}
		if x, ok := v.j.Sessions.Get(f.ID); ok && x.Sampled.After(s.On.Add(clockSlack)) {
			v.worse(NotAllowed, "it is dated %s, before %s was sampled", journal.FormatTime(s.On), x.ID)
		}
	}
	line := v.facts.Line
	if line == nil {
		return
	}
	if c, ok := line.commit(v.At); ok {
		switch {
		case s.On.After(c.when.Add(clockSlack)) && s.On.After(c.floor.Add(clockSlack)):
			v.worse(NotAllowed, "it is dated %s, later than the commit that brought it (%s)", journal.FormatTime(s.On), journal.FormatTime(c.when.In(v.j.Settings.Zone)))
		case c.when.Sub(s.On) > 24*time.Hour:
			v.note("it says %s, but came on %s", journal.FormatTime(s.On), journal.FormatTime(c.when.In(v.j.Settings.Zone)))
		}
	}
	if s.Seen == "" {
		return
	}
	at, ok := line.contains(s.Seen)
	seen, _ := line.commit(at)
	switch {
	case !ok:
	case v.At < Pending && at > v.At:
		v.worse(NotAllowed, "it names a commit that came after it: %s", s.Seen)
	case seen.floor.After(s.On.Add(clockSlack)) && seen.when.After(s.On.Add(clockSlack)):
		v.worse(NotAllowed, "it is dated %s, before the commit that its signer had seen (%s)", journal.FormatTime(s.On), journal.FormatTime(seen.when.In(v.j.Settings.Zone)))
	}
}

// clockSlack is how far two clocks may differ; common practice, no source.
const clockSlack = time.Hour

func inParentheses(s string) string {
	if s == "" {
		return ""
	}
	return " (" + s + ")"
}

// Describe says in words what shows who signed.
func (v Verdict) Describe() string {
	switch v.Proof {
	case BySignature:
		return "signed by " + v.Signoff.By + ", " + v.Key
	case ByCommit:
		return "commit " + v.Origin.Commit + " is signed by " + v.Signoff.By
	}
	if v.Known {
		return "signer not verified; commit " + v.Origin.Commit + " names " + v.Origin.Name
	}
	return "signer not verified"
}

// Days writes a duration in hours below two days, else in days.
func Days(d time.Duration) string {
	if h := int(d.Hours()); h < 48 {
		return fmt.Sprintf("%d h", h)
	}
	return fmt.Sprintf("%d d", int(d.Hours()/24))
}
