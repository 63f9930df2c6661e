package evidence

import (
	"fmt"
	"slices"
	"strings"

	"wj/journal"
	"wj/journal/history"
	"wj/journal/overlay"
)

// act is a sign-off as the mainline first had it. What was done to its file
// later does not change what the person signed.
type act struct {
	signoff *journal.Signoff
	path    string
	content []byte
	blob    history.Hash
	at      int // of the statement and its signature, whichever came later
	files   map[string][]byte
	// Of an act that came with a joined journal: what the statement was there, the
	// line that judges it, and the act as that line has it.
	brought  *journal.Joined
	original []byte
	in       *Mainline
	there    *act
}

// readActs reads every sign-off that was ever brought, also one that a merge
// left out: a refusal is not undone by the branch that it was given on, nor by
// who had a file of its name before.
func (m *Mainline) readActs() error {
	m.acts, m.others = map[string]*act{}, map[string][]*act{}
	keys := map[string]bool{}
	for key := range m.files {
		keys[key] = true
	}
	for key := range m.aside {
		keys[key] = true
	}
	for key := range keys {
		id, ok := strings.CutPrefix(key, journal.KindSignoff.Folder()+" ")
		if !ok || strings.HasSuffix(id, ".sig") || strings.HasSuffix(id, ".asc") {
			continue
		}
		for n, v := range m.everSeen(key) {
			if n > 0 && m.acts[id] != nil && m.acts[id].blob == v.blob {
				continue
			}
			a, err := m.readAct(v)
			if err != nil {
				return err
			}
			if a == nil {
				continue
			}
			if m.acts[id] == nil {
				m.acts[id] = a
			} else if restraint(a.signoff) > 0 {
				m.others[id] = append(m.others[id], a)
			}
		}
	}
	m.name()
	return nil
}

// everSeen are the contents that a file ever had: as the mainline first had it,
// then those of its branches and later ones, the oldest first.
func (m *Mainline) everSeen(key string) []fileVersion {
	var list []fileVersion
	add := func(v fileVersion) {
		if !v.blob.IsZero() && !slices.ContainsFunc(list, func(o fileVersion) bool { return o.blob == v.blob }) {
			list = append(list, v)
		}
	}
	if t := m.files[key]; t != nil {
		add(m.first(key))
	}
	for _, v := range slices.Backward(m.aside[key]) {
		add(v)
	}
	if t := m.files[key]; t != nil {
		for _, v := range t.versions {
			add(v)
		}
	}
	return list
}

// restraint orders decisions by how much they hold back.
func restraint(s *journal.Signoff) int {
	switch s.Decision {
	case journal.DecidedRefused:
		return 2
	case journal.DecidedRequested:
		return 1
	}
	return 0
}

// reclaim gives the name of a sign-off to the refusal or request that its signer
// gave under it, where a file of that name had held something else before, or was
// edited on its branch. It reports whether anything became another.
func (m *Mainline) reclaim() (changed bool) {
	own := func(a *act) int {
		person, ok := m.before(a.at).Journal.People.Get(a.signoff.By)
		if !ok || !m.claimed(a, person) {
			return -1
		}
		return restraint(a.signoff)
	}
	for id, list := range m.others {
		for _, b := range list {
			if own(b) > max(own(m.acts[id]), 0) {
				m.acts[id], changed = b, true
			}
		}
	}
	if changed {
		m.name()
	}
	return changed
}

// name notes under which name each statement first came.
func (m *Mainline) name() {
	m.given = map[string]string{}
	for id, a := range m.acts {
		digest := journal.Digest(lines(a.content))
		other, known := m.given[digest]
		if b := m.acts[other]; !known || a.at < b.at || a.at == b.at && id < other {
			m.given[digest] = id
		}
	}
}

// copyOf is the sign-off of which a content is a copy under another name: a
// signature holds for a copy too, and what was withdrawn or refused since would
// come again with it.
func (m *Mainline) copyOf(id string, content []byte) (string, bool) {
	first, known := m.given[journal.Digest(lines(content))]
	return first, known && first != id
}

// first is the version in which the mainline first had a file.
func (m *Mainline) first(key string) fileVersion {
	if t := m.files[key]; t != nil {
		if i := slices.IndexFunc(t.versions, func(v fileVersion) bool { return !v.blob.IsZero() }); i >= 0 {
			return t.versions[i]
		}
	}
	return fileVersion{}
}

// readAct reads a sign-off and the signatures that first came beside it; nil
// where it is none that can be read.
func (m *Mainline) readAct(v fileVersion) (*act, error) {
	f, ok := journal.FileOf(v.path)
	if v.blob.IsZero() || !ok {
		return nil, nil
	}
	content, err := m.repo.Blob(v.blob)
	if err != nil {
		return nil, fmt.Errorf("read %s: %w", v.path, err)
	}
	_, record := Read(f, content)
	s, ok := record.(*journal.Signoff)
	if !ok {
		return nil, nil
	}
	a := &act{signoff: s, path: v.path, content: content, blob: v.blob, at: v.at, files: map[string][]byte{v.path: content}}
	if m.brought != nil {
		a.brought, a.original = m.brought, m.brought.Original(f.Kind, content)
	}
	for _, name := range SignatureFiles(v.path) {
		if at, signature := m.besides(a, name); signature != nil {
			a.files[name], a.at = signature, max(a.at, at)
		}
	}
	return a, nil
}

// besides finds the signature that was given with a statement: the first file of
// that name that is one of it, whoever's; else the first one.
func (m *Mainline) besides(a *act, name string) (at int, signature []byte) {
	nobody, _ := history.NewKeyring(nil)
	for _, v := range m.everSeen(recordKey(name)) {
		content, err := m.repo.Blob(v.blob)
		if err != nil {
			continue
		}
		switch nobody.VerifyDetached(lines(a.statement()), string(lines(content)), Namespace, a.signoff.On).Kind {
		case history.Bad, history.Malformed, history.WrongNamespace, history.None:
			if signature == nil {
				at, signature = v.at, content
			}
		default:
			return v.at, content
		}
	}
	return at, signature
}

// proof judges the signature beside a sign-off by some rules, at the time that
// it states and at the time when it came.
func (m *Mainline) proof(a *act, rules *Rules) history.SignatureCheck {
	fsys := overlay.New(nil, a.files)
	v, _ := signatureBeside(fsys, a.path, a.statement(), rules.Ring, a.signoff.On)
	if v.Kind != history.Good {
		return v
	}
	if c, ok := m.commit(a.at); ok && c.floor.After(a.signoff.On) {
		v, _ = signatureBeside(fsys, a.path, a.statement(), rules.Ring, c.floor)
	}
	return v
}

// withdrawn finds the act by which the signer took a sign-off back, up to a
// position.
func (m *Mainline) withdrawn(a *act, at int) *act {
	for _, w := range m.acts {
		if w.at > at || w.signoff.Decision != journal.DecidedWithdrawn || w.signoff.Of != a.signoff.ID || w.signoff.By != a.signoff.By {
			continue
		}
		rules := m.before(w.at)
		if rules.Policy().Proof {
			if v := m.proof(w, rules); v.Kind == history.Good && v.Principal == w.signoff.By {
				return w
			}
			continue
		}
		if person, ok := rules.Journal.People.Get(w.signoff.By); ok && m.claimed(w, person) {
			return w
		}
	}
	return nil
}

// claimed reports whether a commit that brought a sign-off bears an address of
// a person, or the sign-off that person's signature.
func (m *Mainline) claimed(a *act, person *journal.Person) bool {
	if v := m.proof(a, m.before(a.at)); v.Kind == history.Good {
		return v.Principal == person.ID
	}
	return slices.ContainsFunc(m.originsFor(a), func(o Origin) bool { return o.By(person) })
}

// originsFor are the commits that made the content of a sign-off as it was
// brought.
func (m *Mainline) originsFor(a *act) []Origin { return m.originsOf(a.path, a.blob) }

// listing is how the key of a signature came to the record of its signer.
type listing struct {
	founding bool   // with what founds the journal
	signed   bool   // as many others as the policy asks for signed the entry
	own      bool   // its commit bears an address of the signer
	by       Origin // the commit that brought it
}

// listed finds the entry of people/ by which a good signature first counted.
func (m *Mainline) listed(a *act, person *journal.Person) (listing, bool) {
	if a.in != nil {
		return a.in.listed(a.there, person)
	}
	for i := range m.rules {
		r := &m.rules[i]
		if v := m.proof(a, r); v.Kind != history.Good || v.Principal != person.ID {
			continue
		}
		if r.after <= m.founded {
			return listing{founding: true}, true
		}
		key := journal.KindPerson.Folder() + " " + person.ID
		var entry fileVersion
		for _, v := range m.files[key].versions {
			if v.at <= r.after {
				entry = v
			}
		}
		found := listing{}
		for _, o := range m.originsOf(entry.path, entry.blob) {
			found.by = o
			found.own = found.own || o.By(person)
		}
		content, err := m.repo.Blob(entry.blob)
		found.signed = err == nil && m.guardSigned(key, candidate{path: entry.path, content: content}, Uncommitted)
		return found, true
	}
	return listing{}, false
}
