package evidence

import (
	"cmp"
	"fmt"
	"maps"
	"slices"
	"strings"
	"time"

	"wj/journal"
	"wj/journal/history"
	"wj/journal/overlay"
)

// Rules are the people, keys, roles, owners and policy that an act is judged
// by: those of the mainline before it.
type Rules struct {
	Journal *journal.Journal // people, owners, sites and settings alone
	Ring    *history.Keyring
	after   int                  // they hold after this commit of the mainline
	root    int                  // where trust in proofs starts; Unplaced where no proof is asked for
	held    map[string]bool      // files whose newest entries wait for signatures
	entries map[string]candidate // the files that they were read from, by recordKey
	waits   map[string]bool      // people who may approve once others signed that; see hold
	stated  bool                 // a policy is kept that the settings state no more
}

// Policy is what the rules ask for.
func (r *Rules) Policy() journal.Policy { return r.Journal.Settings.Policy }

// before gives the rules for an act that came with a commit of the mainline.
// What founds the journal is judged by itself.
func (m *Mainline) before(at int) *Rules {
	if j, there := m.joinedAt(at); j != nil {
		return j.line.before(there)
	}
	if at <= m.founded && at != Unplaced {
		at = m.founded + 1
	}
	for i := range slices.Backward(m.rules) {
		if m.rules[i].after < at {
			return &m.rules[i]
		}
	}
	return &m.rules[0]
}

// Rules are those that hold now.
func (m *Mainline) Rules() *Rules { return &m.rules[len(m.rules)-1] }

// candidate is the newest entry of a guard file.
type candidate struct {
	path    string
	content []byte // nil: taken out
}

// readRules follows the guard files along the mainline. root is the position
// from which the reader trusts what is there; Unplaced: from the commit that
// asked for proof.
func (m *Mainline) readRules(root int) error {
	if err := m.readActs(); err != nil {
		return err
	}
	if err := m.followRules(root); err != nil || !m.reclaim() {
		return err
	}
	return m.followRules(root)
}

func (m *Mainline) followRules(root int) error {
	m.rules = nil
	changes := map[int]map[string]candidate{}
	positions := map[int]bool{}
	for key, t := range m.files {
		if !inGuardFolder(key) {
			continue
		}
		for _, v := range t.versions {
			if v.at >= Pending {
				continue
			}
			c := candidate{path: v.path}
			if !v.blob.IsZero() {
				content, err := m.repo.Blob(v.blob)
				if err != nil {
					return fmt.Errorf("read %s: %w", v.path, err)
				}
				c.content = content
			}
			if changes[v.at] == nil {
				changes[v.at] = map[string]candidate{}
			}
			changes[v.at][key] = c
			positions[v.at] = true
		}
	}
	for _, a := range m.acts {
		if a.at < Pending && isGuard(a.signoff) {
			positions[a.at] = true
		}
	}
	for _, s := range m.sides {
		positions[s.at] = true
	}
	if root >= 0 {
		positions[root] = true
	}
	newest, effective, agreed := map[string]candidate{}, map[string]candidate{}, map[string]candidate{}
	for _, at := range sortedPositions(positions) {
		for key, c := range changes[at] {
			newest[key] = c
		}
		now := Rules{after: at, root: Unplaced, held: map[string]bool{}, waits: map[string]bool{}}
		founding := len(m.rules) == 0 || at <= m.founded || at == root
		trusted := founding
		var last *Rules
		if len(m.rules) > 0 {
			last = &m.rules[len(m.rules)-1]
			trusted = trusted || !last.Policy().Proof
			now.root = last.root
		}
		for key, c := range newest {
			if trusted || same(c, effective[key]) || m.guardSigned(key, c, at) {
				effective[key] = c
			} else {
				now.held[c.path] = true
			}
		}
		if err := now.load(effective); err != nil {
			return err
		}
		if m.meet(&now, newest, effective, agreed, at) {
			if err := now.load(effective); err != nil {
				return err
			}
		}
		for key, c := range newest {
			if now.held[c.path] && m.agreedByJoin(&now, c) {
				effective[key] = c
				delete(now.held, c.path)
				if err := now.load(effective); err != nil {
					return err
				}
			}
		}
		if !now.Policy().Proof {
			if err := m.hold(&now, newest, agreed, effective, at, founding); err != nil {
				return err
			}
		}
		switch {
		case !now.Policy().Proof:
			now.root = Unplaced
		case trusted && (now.root < 0 || at == root):
			now.root = at
		}
		m.rules = append(m.rules, now)
	}
	if len(m.rules) == 0 {
		now := Rules{root: Unplaced}
		if err := now.load(nil); err != nil {
			return err
		}
		m.rules = append(m.rules, now)
	}
	return nil
}

func sortedPositions(set map[int]bool) []int {
	var out []int
	for at := range set {
		out = append(out, at)
	}
	slices.SortFunc(out, cmp.Compare[int])
	return out
}

// isGuard reports whether a sign-off is of something that decides.
func isGuard(s *journal.Signoff) bool {
	for p := range s.Covers {
		if inGuardFolder(p) {
			return true
		}
	}
	return false
}

// same reports whether two entries decide alike: notes may be edited freely.
func same(a, b candidate) bool {
	if (a.content == nil) != (b.content == nil) {
		return false
	}
	kind := journal.KindSettings
	if f, ok := journal.FileOf(a.path); ok {
		kind = f.Kind
	}
	x, y := leavesOf(a.content, a.path, guardKeys(kind)), leavesOf(b.content, b.path, guardKeys(kind))
	if len(x) != len(y) {
		return false
	}
	for k, v := range x {
		if w, ok := y[k]; !ok || v != w {
			return false
		}
	}
	return true
}

// guardKeys are the parts of a guard file that decide.
func guardKeys(kind journal.Kind) []string {
	switch kind {
	case journal.KindSettings:
		return GuardSettings
	case journal.KindPerson:
		return GuardPerson
	case journal.KindSite:
		return []string{"owner", "stage", "void"}
	case journal.KindOwner:
		return []string{"self", "since", "until", "void"}
	}
	return nil
}

// guardSigned reports whether enough authorised people signed this entry of a
// guard file up to a commit: as many others than who proposed it as the rules
// before it ask for.
func (m *Mainline) guardSigned(key string, c candidate, at int) bool {
	return m.signedUnder(&m.rules[len(m.rules)-1], key, c, at)
}

// signedUnder is the same by other rules than those before the entry.
func (m *Mainline) signedUnder(asking *Rules, key string, c candidate, at int) bool {
	if c.content == nil {
		return false // nobody can sign what is gone: an entry is ended, not deleted
	}
	digests := signedDigests(m.names(), c.path, c.content)
	people, accepted := map[string]bool{}, map[string]bool{}
	of := guardSubject(c)
	demands := asking.guardDemands(of, m.day(at))
	for _, a := range m.acts {
		if _, copied := m.copyOf(a.signoff.ID, a.content); copied || a.at > at || !coversKey(a.signoff, key, digests...) && !(a.signoff.Decision == journal.DecidedRefused && m.refuses(a.signoff, key, c)) || m.withdrawn(a, at) != nil {
			continue
		}
		rules := m.before(a.at)
		if len(m.sidesOver(a.at)) > 0 {
			rules = asking
		}
		if v := m.proof(a, rules); v.Kind != history.Good || v.Principal != a.signoff.By || maySign(rules.Journal, of, a.signoff.By, a.signoff.On) != "" {
			continue
		}
		switch a.signoff.Decision {
		case journal.DecidedRefused:
			return false
		case journal.DecidedAccepted:
			accepted[a.signoff.By], people[a.signoff.By] = true, true
		case journal.DecidedProposed:
			people[a.signoff.By] = true
		}
	}
	return met(demands, accepted) && len(people) > most(demands)
}

// guardSubject is the subject of a guard file, of itself alone.
func guardSubject(c candidate) subject {
	s := subject{kind: journal.KindSettings, path: c.path}
	f, ok := journal.FileOf(c.path)
	if !ok {
		return s
	}
	s.kind = f.Kind
	switch _, record := Read(f, c.content); r := record.(type) {
	case *journal.Owner:
		s.owners = []string{r.ID}
	case *journal.Site:
		s.owners, s.stages = []string{r.Owner}, []string{r.Stage}
	case *journal.Target:
		s.owners = []string{r.Owner}
	}
	return s
}

func coversKey(s *journal.Signoff, key string, digests ...string) bool {
	for p, d := range s.Covers {
		if recordKey(p) == key && slices.Contains(digests, strings.ToLower(d)) {
			return true
		}
	}
	return false
}

// load reads people, owners, sites and settings from their entries.
func (r *Rules) load(entries map[string]candidate) error {
	files := map[string][]byte{journal.SettingsFile: []byte("format: 1\n")}
	for _, c := range entries {
		if c.content != nil {
			files[c.path] = c.content
		}
	}
	j, err := journal.Load(overlay.New(nil, files), journal.Options{})
	if err != nil {
		return fmt.Errorf("read people and policy: %w", err)
	}
	r.Journal, r.Ring, r.entries = j, Keyring(j), maps.Clone(entries)
	return nil
}

// RulesOf takes a journal's own people and policy, where there is no history
// to ask.
func RulesOf(j *journal.Journal) *Rules {
	return &Rules{Journal: j, Ring: Keyring(j), root: Unplaced}
}

// Keyring is the keys of people/, each with its dates and its person's. A key
// that was revoked counts for nothing: what came before its revocation is judged
// by the rules of before.
func Keyring(j *journal.Journal) *history.Keyring {
	ring, _ := history.NewKeyring(keys(j))
	return ring
}

// UnreadableKeys says of which person's record a key cannot be read.
func UnreadableKeys(j *journal.Journal) []string {
	if _, err := history.NewKeyring(keys(j)); err != nil {
		return strings.Split(err.Error(), "\n")
	}
	return nil
}

func keys(j *journal.Journal) []history.Key {
	day := func(t time.Time) time.Time {
		if t.IsZero() {
			return t
		}
		return time.Date(t.Year(), t.Month(), t.Day(), 0, 0, 0, 0, j.Settings.Zone)
	}
	var out []history.Key
	for _, p := range j.People.List {
		if p.Void != nil {
			continue
		}
		for _, k := range p.Keys {
			key := history.Key{Principal: p.ID, Names: p.Email, Since: day(k.Since)}
			if k.Revoked != nil {
				if key.Revoked = day(k.Revoked.On); key.Revoked.IsZero() {
					key.Revoked = day(p.Since.AddDate(0, 0, 1)) // the record does not say when
				}
			}
			if p.Since.After(k.Since) {
				key.Since = day(p.Since)
			}
			until := k.Until
			if until.IsZero() || !p.Until.IsZero() && p.Until.Before(until) {
				until = p.Until
			}
			if !until.IsZero() {
				key.Until = day(until).AddDate(0, 0, 1).Add(-time.Second)
			}
			if strings.Contains(k.Key, "BEGIN PGP") {
				key.OpenPGP = k.Key
			} else {
				key.SSH = k.Key
			}
			out = append(out, key)
		}
	}
	return out
}

// SharedAddresses are the addresses that stand in more than one person's
// record: who commits with one of them is unknown.
func SharedAddresses(j *journal.Journal) map[string][]string {
	people := map[string][]string{}
	for _, p := range j.People.List {
		for _, e := range p.Email {
			e = strings.ToLower(e)
			if !slices.Contains(people[e], p.ID) {
				people[e] = append(people[e], p.ID)
			}
		}
	}
	for e, ids := range people {
		if len(ids) < 2 {
			delete(people, e)
		}
	}
	return people
}
