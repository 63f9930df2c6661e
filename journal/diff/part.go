package diff

import (
	"slices"

	"wj/journal"
	"wj/journal/evidence"
)

// Load reads of the later state what a reviewer of the differences must see:
// the records that differ, the series of the sites that they belong to, and of
// each change its waters and the checks of the meters. Other sessions are
// listed and not opened.
func (s *States) Load(check bool) (*journal.Journal, error) {
	rest, err := journal.Load(withoutSessions{s.After}, journal.Options{})
	if err != nil {
		return nil, err
	}
	part := Touched(s.Pairs)
	series := func(session string) {
		for _, site := range rest.SitesNamed(session) {
			part.Sites[site] = true
		}
	}
	change := func(c *journal.Change) {
		for _, b := range c.Basis {
			series(b.Session)
		}
		part.Sites[c.Tank] = true
	}
	doses := false
	for _, p := range s.Pairs {
		f, ok := journal.FileOf(p.Path)
		if !ok {
			continue
		}
		content := p.After
		if content == nil {
			content = p.Before
		}
		_, record := evidence.Read(f, content)
		switch r := record.(type) {
		case *journal.Session:
			part.Sites[r.Site] = true
		case *journal.Change:
			doses = true
			change(r)
			for _, other := range rest.Changes.List { // what it is compared with
				if other.For == r.For || other.ID == r.Supersedes {
					change(other)
				}
			}
		}
	}
	for _, site := range rest.Sites.List {
		if doses && site.Stage == "other" { // where check standards are tested
			part.Sites[site.ID] = true
		}
	}
	return journal.Load(s.After, journal.Options{Sessions: true, Only: part.Holds, Check: check})
}

// Earlier reads the earlier state without opening its sessions; they are
// listed only where one of them differs.
func (s *States) Earlier() (*journal.Journal, error) {
	fsys := s.Before
	if !slices.ContainsFunc(s.Pairs, func(p FilePair) bool {
		f, ok := journal.FileOf(p.Path)
		return ok && f.Kind == journal.KindSession && p.Before != nil
	}) {
		fsys = withoutSessions{fsys}
	}
	return journal.Load(fsys, journal.Options{})
}

// Guards lists what the later state changes of what it is judged by.
func (s *States) Guards(earlier, later *journal.Journal, at string, isError func(rule string) bool) []evidence.GuardChange {
	differs := map[string]bool{}
	for _, p := range s.Pairs {
		differs[p.Path] = true
	}
	return slices.DeleteFunc(evidence.Guards(earlier, later, at, isError), func(g evidence.GuardChange) bool { return !differs[g.Path] })
}
