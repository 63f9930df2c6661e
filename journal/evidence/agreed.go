package evidence

import (
	"cmp"
	"maps"
	"slices"
	"strings"
	"time"

	"wj/journal"
	"wj/journal/history"
)

// unsigned is a value that decides, changed and not signed by enough others.
type unsigned struct {
	old, now string // as [leavesOf] writes them
	was, is  bool   // set before, set now
	from     string // the commit until which the old value held
	at       int    // position of the change
	commit   history.Hash
	why      string // what is missing
}

// agreement follows one guard file along the mainline: what of it others signed,
// and what not.
type agreement struct {
	v       *verifying
	key     string
	kind    journal.Kind
	path    string
	held    map[string]string // the values that hold: founding, without a policy, or signed
	from    string            // the newest commit that was seen
	there   bool              // the file was there before
	last    candidate         // the entry before
	pending map[string]unsigned
}

// changedGuards reports every value that decides and that the mainline, the
// branch that is checked out or the working files changed without the
// signatures that the policy of that day asks for. What founds the journal, or
// came before it had a policy, needs none; nor does what loosens nothing.
func (v *verifying) changedGuards() error {
	for _, key := range slices.Sorted(maps.Keys(v.m.files)) {
		kind, ok := guardKind(key)
		if !ok {
			continue
		}
		a := &agreement{v: v, key: key, kind: kind, held: map[string]string{}, pending: map[string]unsigned{}}
		for _, version := range v.m.files[key].versions {
			content, err := v.contentOf(version)
			if err != nil {
				return err
			}
			a.step(version.at, candidate{version.path, content}, version.blob)
		}
		if p := v.whereIs(key, a.path); p != "" {
			if content, err := readSmall(v.j.FS, p); err == nil && string(lines(content)) != string(lines(a.last.content)) {
				a.step(Uncommitted, candidate{p, content}, history.Hash{})
			}
		}
		a.report()
	}
	if err := v.changedBySides(); err != nil {
		return err
	}
	return v.changedSilences()
}

// guardKind is the kind of a file that decides, by its recordKey.
func guardKind(key string) (journal.Kind, bool) {
	if key == journal.SettingsFile {
		return journal.KindSettings, true
	}
	folder, id, _ := strings.Cut(key, " ")
	kind, ok := kindOf(folder)
	if !ok || strings.HasSuffix(id, ".sig") || strings.HasSuffix(id, ".asc") {
		return kind, false
	}
	return kind, kind == journal.KindPerson || guarded[kind] != nil
}

// contentOf is what a version holds; nil where it takes the file out, or where
// its content is not in this copy.
func (v *verifying) contentOf(version fileVersion) ([]byte, error) {
	if version.blob.IsZero() {
		return nil, nil
	}
	content, err := v.m.repo.Blob(version.blob)
	if err != nil {
		return nil, newEvents(v).missing(version.path, err)
	}
	return content, nil
}

// whereIs is the path at which a file lies now.
func (v *verifying) whereIs(key, p string) string {
	if key == journal.SettingsFile {
		return key
	}
	folder, id, _ := strings.Cut(key, " ")
	if kind, ok := kindOf(folder); ok {
		return fileOf(v.j, kind, id).Path
	}
	return p
}

// asks reports whether rules ask for signatures under a file that decides, and
// for whose: a journal without a policy, or of one person, has nobody to ask.
func (r *Rules) asks(s subject, at time.Time) ([]Demand, bool) {
	demands := r.guardDemands(s, at)
	n := most(demands)
	return demands, r.states() && n > 0 && len(r.Journal.People.List) > n
}

// states reports whether a policy is stated.
func (r *Rules) states() bool {
	return r.stated || len(Leaves(r.Journal.FS, journal.SettingsFile, policySections)) > 0
}

// step takes the next content of the file.
func (a *agreement) step(at int, c candidate, blob history.Hash) {
	m := a.v.m
	if c.content == nil {
		return // what is taken out is reported as deleted; what comes again continues it
	}
	rules := m.before(at)
	_, asked := rules.asks(guardSubject(c), m.day(at))
	now := leavesOf(c.content, c.path, guardKeysOf(a.kind))
	first := !a.there && !(a.kind == journal.KindPerson && at > m.founded)
	if at == Unplaced || at <= m.founded || !asked || first || m.agreedByJoin(m.Rules(), c) || rules.Policy().Proof && m.guardSigned(a.key, c, Uncommitted) {
		a.take(now)
	} else {
		g := loosening{kind: a.kind, before: a.last, now: c, rules: rules, isError: a.v.isError(rules), own: m.madeBy(a.key, c.path, blob, rules), fresh: !a.there}
		names := maps.Clone(a.held)
		maps.Copy(names, now)
		loosened := g.of(a.held, now, slices.Sorted(maps.Keys(names)))
		for name := range names {
			old, was := a.held[name]
			is, set := now[name]
			switch {
			case old == is && was == set:
				if p, put := a.pending[name]; put {
					a.v.Say("%s was %s from commit %s to %s, and nobody else signed that.", strings.ReplaceAll(name, "\x00", "."), cmp.Or(p.now, "not set"), a.v.nameAt(p.at), a.v.nameAt(at))
				}
				delete(a.pending, name)
			case !loosened[name]:
				delete(a.pending, name)
				if a.held[name] = is; !set {
					delete(a.held, name)
				}
			default:
				if p, known := a.pending[name]; known && p.now == is && p.is == set {
					continue
				}
				a.pending[name] = unsigned{old, is, was, set, a.from, at, a.v.hashAt(at), ""}
			}
		}
		if len(a.pending) == 0 {
			// nothing to sign
		} else if ok, why := a.v.signedBy(a.key, c, at, rules, m.originsOf(c.path, blob)); ok {
			a.take(now)
		} else {
			for name, p := range a.pending {
				p.why = why
				a.pending[name] = p
			}
		}
	}
	a.there, a.last, a.path, a.from = true, c, c.path, a.v.nameAt(at)
}

// take lets values hold.
func (a *agreement) take(now map[string]string) { a.held, a.pending = now, map[string]unsigned{} }

// report states what nobody signed, in the words of wj lint --base: what one
// commit changed of a file is one finding.
func (a *agreement) report() {
	if a.v.m.Rules().held[a.path] {
		return // its newest entry has no effect, which is reported
	}
	texts, of := map[int][]string{}, map[int]unsigned{}
	for _, name := range slices.Sorted(maps.Keys(a.pending)) {
		p := a.pending[name]
		texts[p.at] = append(texts[p.at], moveText(strings.Split(name, "\x00"), p.old, p.now, p.was, p.is, p.from, a.v.nameAt(p.at)))
		of[p.at] = p
	}
	for _, at := range slices.Sorted(maps.Keys(of)) {
		a.v.guardWrong(a.path, of[at].commit, strings.Join(texts[at], "; "), of[at].why)
	}
}

// guardWrong adds a finding on what decides.
func (v *verifying) guardWrong(path string, commit history.Hash, text, why string) {
	m := Missing{File: guardFile(path), Lacks: why}
	if r, err := v.m.repo.Revision(commit); !commit.IsZero() && err == nil {
		m.Day = r.Committer.When
	}
	v.unsigned = append(v.unsigned, m)
	v.wrongBy(commit, path, "wj review "+guardName(path)+", then another authorised person: wj sign "+guardName(path)+"; or put the value back", "%s; %s", text, why)
}

// nameAt names a position for a reader.
func (v *verifying) nameAt(at int) string {
	switch c, ok := v.m.commit(at); {
	case ok:
		return c.hash.Short()
	case at == Pending:
		return "the branch"
	case at == Uncommitted:
		return "the working files"
	}
	return "the oldest commit here"
}

func (v *verifying) hashAt(at int) history.Hash {
	c, _ := v.m.commit(at)
	return c.hash
}

func (v *verifying) isError(rules *Rules) func(string) bool {
	if v.opt.IsError == nil {
		return func(string) bool { return false }
	}
	return func(rule string) bool { return v.opt.IsError(rules.Journal, rule) }
}

// madeBy reports whether a person's record was changed by that person: a commit
// with an address that the rules before it know.
func (m *Mainline) madeBy(key, path string, blob history.Hash, rules *Rules) bool {
	_, id, _ := strings.Cut(key, " ")
	person, ok := rules.Journal.People.Get(id)
	return ok && slices.ContainsFunc(m.originsOf(path, blob), func(o Origin) bool { return o.By(person) })
}

// signedBy reports whether enough authorised others signed this content of a
// file, as the rules before its coming ask; why says what is missing. The
// sign-offs are judged already: one that covers an older content still counts
// for that.
func (v *verifying) signedBy(key string, c candidate, at int, rules *Rules, makers []Origin) (ok bool, why string) {
	of := guardSubject(c)
	if f, ok := journal.FileOf(c.path); ok { // a silence may be in a record of any kind
		_, record := Read(f, c.content)
		of.owners, of.stages = watersOf(rules.Journal, v.j, record)
	}
	demands, _ := rules.asks(of, v.m.day(at))
	digests := signedDigests(v.m.names(), c.path, lines(c.content))
	signed, others := map[string]bool{}, map[string]bool{}
	for _, s := range v.Signoffs {
		refuses := s.Refused() && v.m.refuses(s.Signoff, key, c)
		if !refuses && !signsGuard(s.Verdict, key, digests...) || !s.counted() {
			continue
		}
		day := v.m.before(s.At).Journal
		if mayReview(day, of, s.Signoff.By, s.Signoff.On) != "" {
			continue
		}
		switch {
		case s.Refused():
			return false, s.Signoff.By + " refused it"
		case s.Asks():
			return false, s.Signoff.By + " asks for changes"
		case remarks(s.Signoff):
			continue
		}
		signed[s.Signoff.By] = true
		person, known := day.People.Get(s.Signoff.By)
		if s.Accepts() && (rules.Policy().Proof || !known || !slices.ContainsFunc(makers, func(o Origin) bool { return o.By(person) })) {
			others[s.Signoff.By] = true
		}
	}
	switch {
	case !met(demands, others):
		return false, lacks(demands, others)
	case rules.Policy().Proof && len(signed) <= most(demands):
		return false, "who proposes it has not signed (wj sign --propose)"
	}
	return true, ""
}

// signsGuard reports whether a sign-off is of a file that decides: of its
// record, or of another one with which its signer named it. What a change or a
// batch covers of itself is not looked at as a change of what decides.
func signsGuard(v Verdict, key string, digests ...string) bool {
	if !coversKey(v.Signoff, key, digests...) {
		return false
	}
	if v.Record.Path != "" && recordKey(v.Record.Path) == key {
		return true
	}
	return v.Record.Kind != journal.KindChange && (v.Record.Kind != journal.KindBatch || !strings.HasPrefix(key, journal.KindChange.Folder()+" "))
}

// counted reports whether a sign-off counted for what it covers, whatever
// became of that later.
func (s Judged) counted() bool {
	return s.Standing == InForce || s.Standing == Lapsed || s.Standing == Void && !s.Altered && s.Signoff.Void == nil
}

// changedSilences reports rules for errors that a record silences without a
// second signature.
func (v *verifying) changedSilences() error {
	var err error
	v.j.Each(func(record journal.Any) {
		r := record.Base()
		if err != nil || len(r.Ignore) == 0 || r.Kind == journal.KindPerson {
			return
		}
		for _, rule := range slices.Sorted(maps.Keys(r.Ignore)) {
			if e := v.silence(r, rule); e != nil {
				err = e
				return
			}
		}
	})
	return err
}

// silence finds since when a record silences a rule, and who signed that.
func (v *verifying) silence(r *journal.Record, rule string) error {
	key := recordKey(r.Path)
	at, path, from := Uncommitted, r.Path, ""
	var makers []Origin
	var since []candidate
	var versions []fileVersion
	if t := v.m.files[key]; t != nil {
		versions = t.versions
	}
	silent := func(content []byte) bool {
		_, ok := leavesOf(content, path, []string{"ignore"})["ignore\x00"+rule]
		return ok
	}
	for _, version := range versions {
		content, err := v.contentOf(version)
		if err != nil {
			return err
		}
		switch {
		case content == nil:
		case !silent(content):
			since, from = nil, v.nameAt(version.at)
		default:
			if len(since) == 0 {
				at, makers = version.at, v.m.originsOf(version.path, version.blob)
			}
			since = append(since, candidate{version.path, content})
		}
	}
	if content, err := readSmall(v.j.FS, r.Path); err == nil {
		if len(since) == 0 {
			at, makers = Uncommitted, nil
		}
		since = append(since, candidate{r.Path, content})
	}
	rules := v.m.before(at)
	if _, asked := rules.asks(subjectOf(rules.Journal, v.j, recordOf(v.j, fileOf(v.j, r.Kind, r.ID))), v.m.day(at)); !asked || at == Unplaced || at <= v.m.founded || !v.isError(rules)(rule) {
		return nil
	}
	why := ""
	for _, c := range since {
		ok, missing := v.signedBy(key, c, at, rules, makers)
		if ok {
			return nil
		}
		why = missing
	}
	v.guardWrong(r.Path, v.hashAt(at), silenceText(rule, from, v.nameAt(at)), why)
	return nil
}
