package evidence

import (
	"context"
	"fmt"
	"maps"
	"slices"
	"strings"
	"time"

	"wj/journal"
	"wj/journal/history"
)

// Options say how a journal is verified.
type Options struct {
	Now     time.Time
	Base    string   // the name of the branch that judges; "" finds it
	Head    string   // the revision whose sign-offs are judged beside the mainline; "" is what is checked out
	Root    string   // the commit from which the reader trusts people, keys and policy
	Since   string   // only what came after this revision is judged
	Anchors []string // receipts that the reader kept
	// Working are the files of the journal that differ from the checked-out
	// commit, and Unreadable why there is a repository that cannot be asked.
	Working    []history.Change
	Staged     []history.Change // what the index has otherwise than that commit
	Unreadable string
	Moved      func(c *journal.Change, at time.Time, known func(*journal.Session) bool) string
	Wrong      func(string) bool
	// IsError reports whether the findings of a rule are errors by the settings of
	// a journal. Nil: of none.
	IsError func(j *journal.Journal, rule string) bool
	// Others are the findings of another authority, each about the record that is
	// its subject: what is wrong, and what is unknown.
	Others func() (wrong, unknown []Finding)
}

// Open reads the mainline of a repository for a journal of the checked-out
// commit. With all, every file and commit is followed, as [Verify] needs it.
func Open(ctx context.Context, repo Repository, opt Options, zone *time.Location, all bool) (*Mainline, error) {
	base, err := FindBase(repo, opt.Base, zone)
	if err != nil {
		return nil, err
	}
	if opt.Head != "" {
		tip, err := repo.Resolve(opt.Head, zone)
		if err != nil {
			return nil, err
		}
		repo = branchOf{repo, tip}
	}
	m, err := readMainline(ctx, repo, base, all)
	if err != nil {
		return nil, err
	}
	root := Unplaced
	if opt.Root != "" {
		r, err := repo.Resolve(opt.Root, zone)
		if err != nil {
			return nil, err
		}
		at, ok := m.contains(r.Hash.String())
		if !ok {
			return nil, fmt.Errorf("trust from %s: the commit is not on the mainline of %s: %w", opt.Root, base, ErrBase)
		}
		root = at
	}
	if err := m.readRules(root); err != nil {
		return nil, err
	}
	return m, m.readJoined(ctx, all)
}

// Base is the branch that judges, with the newest commit of it that counts.
func (m *Mainline) Base() Base { return m.base }

// Head is the commit that is checked out.
func (m *Mainline) Head() history.Revision { return m.head }

// Verify judges a whole journal, as its files are, by the mainline m; nil where
// there is no history. settled says of verdicts why they no longer matter.
func Verify(ctx context.Context, j *journal.Journal, m *Mainline, opt Options, settled func([]Verdict) map[string]string) (*Report, error) {
	r := &Report{}
	facts := Facts{Now: opt.Now, Line: m, Unreadable: opt.Unreadable, Moved: opt.Moved, Wrong: opt.Wrong}
	v := &verifying{Report: r, j: j, m: m, opt: opt, facts: facts}
	if m == nil {
		v.withoutHistory()
	} else if err := v.history(ctx); err != nil {
		return nil, err
	}
	v.signoffs(settled)
	if opt.Others != nil {
		wrong, unknown := opt.Others()
		for _, f := range wrong {
			f.commit, f.what = v.newest(f.Subject), f.Cause
			r.Wrong = append(r.Wrong, f)
		}
		r.Unknown = append(r.Unknown, unknown...)
	}
	v.attachments()
	v.people()
	v.names()
	v.typed()
	if m != nil {
		v.guards()
		if err := v.changedGuards(); err != nil {
			return nil, err
		}
		if err := v.anchors(ctx); err != nil {
			return nil, err
		}
		v.leaveOld()
	} else if len(opt.Anchors) > 0 {
		r.unknown("anchor", "", "there is no history to look for it in")
	}
	return r, nil
}

type verifying struct {
	*Report
	j         *journal.Journal
	m         *Mainline
	opt       Options
	facts     Facts
	fresh     map[history.Hash]bool // commits after Since; nil: all
	strays    []string              // refusals that others have and that were reported
	unsigned  []Missing             // files that decide, changed and not signed by enough others
	strangers bool                  // nobody of the journal made any commit, which is the reason for the rest
}

func (v *verifying) withoutHistory() {
	v.Base = "the files themselves"
	why := "there is no Git repository"
	if v.opt.Unreadable != "" {
		why = v.opt.Unreadable
	}
	v.unknown("history", "verify a clone of the repository, or a bundle that carries its history", "%s: who signed, when, what was deleted and what was rewritten is unknown", why)
}

func (v *verifying) signoffs(settled func([]Verdict) map[string]string) {
	var verdicts []Verdict
	for _, s := range v.facts.Signoffs(v.j) {
		verdicts = append(verdicts, Judge(v.j, s, v.facts))
	}
	over := map[string]string{}
	if settled != nil {
		over = settled(verdicts)
	}
	for _, verdict := range verdicts {
		s := Judged{Verdict: verdict, Settled: over[verdict.Signoff.ID], Order: v.order(verdict.At)}
		present, _ := v.j.Signoffs.Get(verdict.Signoff.ID)
		switch {
		case verdict.Altered && verdict.Standing == NotAllowed && present != nil && present.Void != nil:
			// What never counted may be marked so; nothing is taken back by it.
			s.Settled = "it never counted; declared void by " + present.Void.By + ": " + present.Void.Reason
		case verdict.Altered:
			v.wrongFor(history.Hash{}, verdict.Signoff.Path, "bring the file back as it was (git log -- "+verdict.Signoff.Path+"); the signer withdraws it with wj sign "+verdict.Signoff.ID+" --withdraw",
				"a sign-off was changed or removed after it was given", "", fmt.Sprintf("; it counts as %s by %s", verdict.Signoff.Decision, verdict.Signoff.By))
		}
		v.Signoffs = append(v.Signoffs, s)
	}
}

// order says when something came to the mainline.
func (v *verifying) order(at int) string {
	switch {
	case v.m == nil, at == Unplaced:
		return "unknown"
	case at == Uncommitted:
		return "not committed"
	case at == Pending:
		return "not merged"
	}
	c, _ := v.m.commit(at)
	if j, there := v.m.joinedAt(at); j != nil {
		return fmt.Sprintf("commit %d of the journal joined as %s, %s, %s", there+1, j.Prefix, c.hash.Short(), journal.FormatDate(c.when.In(v.j.Settings.Zone)))
	}
	return fmt.Sprintf("commit %d of the mainline, %s, %s", at+1, c.hash.Short(), journal.FormatDate(c.when.In(v.j.Settings.Zone)))
}

// attachments compares photos and certificates with their digests.
func (v *verifying) attachments() {
	v.j.Each(func(record journal.Any) {
		r := record.Base()
		for _, name := range slices.Sorted(maps.Keys(r.Attachments)) {
			switch a, err := v.j.Attachment(r, name); {
			case err != nil:
				v.wrong(r.Path, "put the file back, or amend the record", "its attachment %s is not there", name)
			case !a.Holds(r):
				v.wrong(r.Path, "compare the file with the original", "its attachment %s does not have the digest that the record gives", name)
			}
		}
	})
}

// people looks for records that make names worthless.
func (v *verifying) people() {
	base := v.facts.BaseOf(v.j)
	for _, line := range UnreadableKeys(base) {
		v.wrong("people", "fix the key in people/: a line as in a .pub file, or an armored OpenPGP public key", "%s", line)
	}
	shared := SharedAddresses(base)
	for _, address := range slices.Sorted(maps.Keys(shared)) {
		v.wrong("people", "give each person an address of their own: wj amend PERSON email …", "the address %s is in the records of %s: who commits with it is unknown", address, strings.Join(shared[address], " and "))
	}
	for _, b := range v.j.Batches.List {
		if b.Change == "" && len(b.Weighed) > 0 && (b.Void == nil || !v.facts.VoidedByAnother(v.j, &b.Record, b.DosedBy)) {
			v.wrongBy(v.newest(b.Path), b.Path, "wj amend "+b.ID+" change CHANGE --reason …", "something was dosed, and the batch names no change: whether it was approved is unknown")
		}
	}
}

// newest is the commit that changed a record last; zero where it is not
// committed as it is, or not known.
func (v *verifying) newest(p string) history.Hash {
	key := recordKey(p)
	if v.m == nil || slices.ContainsFunc(v.opt.Working, func(c history.Change) bool { return recordKey(c.Path) == key }) {
		return history.Hash{}
	}
	for _, step := range v.m.steps {
		if slices.ContainsFunc(step.Changes, func(c history.Change) bool { return recordKey(c.Path) == key }) {
			return step.Hash
		}
	}
	return history.Hash{}
}

// guards says what of people and policy waits, and where trust starts.
func (v *verifying) guards() {
	now := v.m.Rules()
	if now.Policy().Proof {
		c, _ := v.m.commit(now.root)
		from := "which switched proof on"
		if v.opt.Root != "" {
			from = "which was named"
		}
		v.Trust = fmt.Sprintf("commit %s of %s, %s; people and keys before it are taken as they were", c.hash.Short(), journal.FormatDate(c.when.In(v.j.Settings.Zone)), from)
		for _, p := range slices.Sorted(maps.Keys(now.held)) {
			v.wrong(p, "wj review "+guardName(p)+", then wj sign "+guardName(p), "its newest entry has no effect: %d others must sign a change of people, keys, roles, policy or owners; the entry before it holds", now.Policy().GuardReviewers)
		}
	} else {
		v.Trust = "the policy asks for no proof: who signed is not verified"
	}
	if changes := Guards(now.Journal, onlyGuards(v.j), v.m.base.String(), func(string) bool { return false }); len(changes) > 0 {
		paths := map[string]bool{}
		for _, c := range changes {
			if !now.held[c.Path] {
				paths[c.Path] = true
			}
		}
		if len(paths) > 0 {
			v.Say("Not as on the branch that judges, and without effect until merged: %s.", strings.Join(slices.Sorted(maps.Keys(paths)), ", "))
		}
	}
}

func guardName(p string) string {
	if f, ok := journal.FileOf(p); ok {
		return f.ID
	}
	return p
}

// onlyGuards is a journal without the records that rules do not hold.
func onlyGuards(j *journal.Journal) *journal.Journal {
	only := *j
	only.Files = slices.DeleteFunc(slices.Clone(j.Files), func(f journal.File) bool { return f.Kind != journal.KindPerson && f.Kind != journal.KindOwner })
	return &only
}

// leaveOld takes out what came before the revision that the reader names.
func (v *verifying) leaveOld() {
	if v.fresh == nil {
		return
	}
	before := len(v.Wrong)
	v.Wrong = slices.DeleteFunc(v.Wrong, func(f Finding) bool { return !f.commit.IsZero() && !v.fresh[f.commit] })
	v.Old = before - len(v.Wrong)
	for i := range v.Signoffs {
		s := &v.Signoffs[i]
		s.Old = !v.isFresh(s.Verdict)
	}
	v.Say("Only what came after %s was judged; %d earlier findings are left out.", v.opt.Since, v.Old)
}

// isFresh reports whether a sign-off, or what it covers, came after the
// revision that the reader names.
func (v *verifying) isFresh(s Verdict) bool {
	if s.At == Uncommitted || s.Altered {
		return true
	}
	a := v.m.acts[s.Signoff.ID]
	if a == nil {
		return true
	}
	for _, o := range v.m.originsFor(a) {
		if v.fresh[o.hash] {
			return true
		}
	}
	covered := map[string]bool{}
	for p := range s.Signoff.Covers {
		covered[recordKey(p)] = true
	}
	for _, c := range v.opt.Working {
		if covered[recordKey(c.Path)] {
			return true
		}
	}
	for _, step := range v.m.steps {
		if !v.fresh[step.Hash] {
			continue
		}
		for _, c := range step.Changes {
			if covered[recordKey(c.Path)] {
				return true
			}
		}
	}
	return false
}
