package evidence

import (
	"maps"
	"slices"
	"strings"

	"wj/journal"
)

// hold keeps back, where the policy asks for no proof, what would let somebody
// approve who could not before: a policy that asks for less, a reviewer more, another
// stage or past owner of a site, by which roles are limited, and a journal joined with
// its approvals, count once as many others signed them as the rules before ask for. Everything
// else counts at once. agreed are the entries of before that count.
func (m *Mainline) hold(now *Rules, newest, agreed, effective map[string]candidate, at int, trusted bool) error {
	var last *Rules
	if len(m.rules) > 0 {
		last = &m.rules[len(m.rules)-1]
	}
	var people []string
	settings, sites := false, maps.Clone(effective)
	for _, key := range slices.Sorted(maps.Keys(newest)) {
		id, person := strings.CutPrefix(key, journal.KindPerson.Folder()+" ")
		site := strings.HasPrefix(key, journal.KindSite.Folder()+" ")
		if !person && !site && key != journal.SettingsFile {
			continue
		}
		c := newest[key]
		old, there := agreed[key]
		asked := false
		if last != nil {
			_, asked = last.asks(guardSubject(c), m.day(at))
		}
		switch {
		case c.content == nil && asked: // what is taken out, and may come again as another, lets nothing
		case !asked, trusted, there && string(old.content) == string(c.content), !last.lets(old, c, there, person, site), m.agreedTo(key, c, at):
			agreed[key] = c
			continue
		}
		switch {
		case person:
			people = append(people, id)
		case site:
			sites[key] = old
		default:
			settings = true
		}
	}
	if !maps.EqualFunc(sites, effective, func(a, b candidate) bool { return string(a.content) == string(b.content) }) {
		if err := now.load(sites); err != nil {
			return err
		}
	}
	for _, id := range people {
		now.waits[id] = true
	}
	if settings {
		before := settingsIn(agreed[journal.SettingsFile].content)
		now.Journal.Settings.Policy, now.Journal.Settings.Joined, now.stated = before.Policy, before.Joined, last.states()
	}
	return nil
}

// lets reports whether an entry lets more be approved than the one before it.
func (r *Rules) lets(old, now candidate, there, person, site bool) bool {
	l := loosening{kind: journal.KindSettings, before: old, now: now, rules: r, isError: func(string) bool { return false }, fresh: !there}
	if person {
		l.kind = journal.KindPerson
		return l.roles() || l.fresh && !anyReviewer(r.Journal)
	}
	sections := []string{"policy", "joined"}
	if site {
		if l.kind, sections = journal.KindSite, []string{"owner", "stage"}; !there {
			return false
		}
	}
	was, is := leavesOf(old.content, now.path, sections), leavesOf(now.content, now.path, sections)
	names := maps.Clone(was)
	maps.Copy(names, is)
	for _, looser := range l.of(was, is, slices.Sorted(maps.Keys(names))) {
		if looser {
			return true
		}
	}
	return false
}

// agreedTo reports whether enough others than who made an entry signed it up to
// a commit, by signatures or as claims.
func (m *Mainline) agreedTo(key string, c candidate, at int) bool {
	digests, of := signedDigests(m.names(), c.path, lines(c.content)), guardSubject(c)
	var makers []Origin
	for _, v := range m.files[key].versions {
		if content, err := m.repo.Blob(v.blob); !v.blob.IsZero() && err == nil && string(content) == string(c.content) {
			makers = m.originsOf(v.path, v.blob)
		}
	}
	others := map[string]bool{}
	for _, a := range m.acts {
		s := a.signoff
		if _, copied := m.copyOf(s.ID, a.content); copied || a.at > at || !coversKey(s, key, digests...) || m.withdrawn(a, at) != nil {
			continue
		}
		rules := m.before(a.at)
		person, known := rules.Journal.People.Get(s.By)
		if !known || rules.waits[s.By] || !m.claimed(a, person) || maySign(rules.Journal, of, s.By, s.On) != "" || slices.ContainsFunc(makers, func(o Origin) bool { return o.By(person) }) {
			continue
		}
		switch s.Decision {
		case journal.DecidedRefused:
			return false
		case journal.DecidedAccepted:
			others[s.By] = true
		}
	}
	return met(m.rules[len(m.rules)-1].guardDemands(of, m.day(at)), others)
}
