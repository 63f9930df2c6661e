package diff

import (
	"maps"
	"slices"
	"strings"
	"sync"

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
	w := window{part: part, around: map[string]bool{}, shortened: &s.Shortened}
	change := func(c *journal.Change) {
		for _, b := range c.Basis {
			series(b.Session)
			w.around[b.Session] = true
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
			w.around[f.ID] = true
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
		if doses && site.Stage == journal.StageOther { // where check standards are tested
			part.Sites[site.ID] = true
		}
	}
	return journal.Load(s.After, journal.Options{Sessions: true, Only: w.holds, Check: check})
}

// Of a series that is longer, these are read: its first sessions, by which its
// later ones are expected, and those around what the question touches.
const (
	seriesBegin = 100
	seriesPast  = 400
	seriesAfter = 50
	seriesWhole = seriesBegin + 2*seriesPast // sessions at most that are read as they are; common practice, no source
)

// window is a part whose long series are cut to what matters for some sessions.
type window struct {
	part      *journal.Part
	around    map[string]bool // ids of the sessions that the question is about
	shortened *[]string       // the sites whose series were cut

	once sync.Once
	left map[string]bool // files of the series that are left out
}

func (w *window) holds(j *journal.Journal, f journal.File) bool {
	w.once.Do(func() { w.shorten(j) })
	return !w.left[f.Path] && w.part.Holds(j, f)
}

func (w *window) shorten(j *journal.Journal) {
	files := j.SessionFiles()
	if w.part.Everything || len(files) <= seriesWhole {
		return
	}
	series := map[string][]journal.File{}
	for _, f := range files {
		if sites := j.SitesNamed(f.ID); len(sites) > 0 && w.part.Sites[sites[0]] {
			series[sites[0]] = append(series[sites[0]], f)
		}
	}
	w.left = map[string]bool{}
	for _, site := range slices.Sorted(maps.Keys(series)) {
		list := series[site]
		if len(list) <= seriesWhole {
			continue
		}
		slices.SortFunc(list, func(a, b journal.File) int { return strings.Compare(a.ID, b.ID) })
		keep := make([]bool, len(list))
		mark := func(from, to int) {
			for i := max(from, 0); i < min(to, len(list)); i++ {
				keep[i] = true
			}
		}
		mark(0, seriesBegin)
		mark(len(list)-seriesPast, len(list))
		for i, f := range list {
			if w.around[f.ID] {
				mark(i-seriesPast, i+seriesAfter)
			}
		}
		for i, f := range list {
			if !keep[i] {
				w.left[f.Path] = true
			}
		}
		*w.shortened = append(*w.shortened, site)
	}
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
