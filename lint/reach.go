package lint

import (
	"slices"
	"time"

	"wj/journal"
)

// Reach is which sessions a rule must see to say of a record what it says with the
// whole journal before it. All records that are no sessions are always seen.
type Reach uint8

// The reaches, each with what those before it reach.
const (
	OfRecord  Reach = iota + 1 // the record itself, and those that it names
	OfSite                     // the sessions of its site and of the sites that share its water, and the waters of changes
	OfBench                    // the sessions of some months around with the same lots, meters and people
	OfJournal                  // every session, of which those months say nearly all
)

// Part is the sessions that must be seen to find what a change of some records makes
// new: what it does not hold is the same before and after. It is an answer for the two
// states together: compare their findings, see [PartOf].
type Part struct {
	journal.Part
	touched map[string]bool // the records that differ
	alone   map[string]bool // the records of which rules that reach the record alone can say something new; nil: of all
	only    bool            // of others nothing is asked
}

// Touched is a record that differs between two states of a journal, nil in that where it
// is not there or cannot be read.
type Touched struct {
	journal.File
	Before, After journal.Any
}

// wholeUpTo is how many sessions are always seen together, since that costs little.
const wholeUpTo = 2000

// months is how far around a session the others at the bench are looked at; a lot counts
// as long as it was in use where that is longer.
const months = 120 * 24 * time.Hour // common practice, no source: no check of a meter is awaited longer

// PartOf finds the part that the records touch. j is the later state, without its
// sessions, and names all of its files.
func PartOf(j *journal.Journal, touched []Touched) *Part {
	return partOf(j, touched, wholeUpTo)
}

func partOf(j *journal.Journal, touched []Touched, whole int) *Part {
	b := &partBuilder{j: j, p: &Part{Part: journal.Part{Files: map[string]bool{}, Sites: map[string]bool{}}, touched: map[string]bool{}, alone: map[string]bool{}}, changes: map[string]bool{}}
	for _, t := range touched {
		b.p.touched[t.Path] = true
	}
	if len(j.SessionFiles()) <= whole {
		b.p.Everything = true
		return b.p
	}
	for _, t := range touched {
		b.p.Files[t.Path] = true
		if b.p.alone != nil {
			b.p.alone[t.Path] = true
		}
		if t.Kind == journal.KindSite && !sameSupply(t.Before, t.After) {
			b.p.Everything = true // it may be the water of any sample
		}
		for _, record := range []journal.Any{t.Before, t.After} {
			b.touch(t.File, record)
		}
	}
	b.share()
	for _, c := range j.Changes.List { // their waters may have moved
		if slices.ContainsFunc(c.Basis, func(x journal.Basis) bool { return b.named(x.Session) }) || b.p.Sites[c.Tank] {
			b.change(c.ID)
		}
	}
	b.share()
	for _, site := range j.Sites.List {
		if site.Stage == journal.StageOther { // where check standards are tested
			b.p.Sites[site.ID] = true
		}
	}
	return b.p
}

// sameSupply reports whether two states of a site say the same of where its water comes
// from.
func sameSupply(before, after journal.Any) bool {
	a, ok := before.(*journal.Site)
	b, ok2 := after.(*journal.Site)
	return ok && ok2 && a.Stage == b.Stage && slices.Equal(a.FedBy, b.FedBy)
}

// partOfPaths is the part of a whole journal that concerns some of its records, and the
// journal with no other sessions; nil where any path is no record, or where all is read.
func partOfPaths(j *journal.Journal, paths []string) (*journal.Journal, *Part) {
	if len(paths) == 0 || len(j.Sessions.List) <= wholeUpTo {
		return j, nil
	}
	wanted := map[string]bool{}
	for _, p := range paths {
		if _, ok := journal.FileOf(p); !ok {
			return j, nil
		}
		wanted[p] = true
	}
	var touched []Touched
	for _, f := range j.Files {
		if wanted[f.Path] {
			t := Touched{File: f}
			_, t.After, _ = j.ReadRecord(f)
			if t.Before = t.After; t.After == nil {
				return j, nil
			}
			touched = append(touched, t)
		}
	}
	p := PartOf(j, touched)
	if p.Everything {
		return j, nil
	}
	var left []string
	for _, s := range j.Sessions.List {
		if f := (journal.File{Kind: s.Kind, ID: s.ID, Path: s.Path}); !p.Holds(j, f) {
			left = append(left, s.Path)
		}
	}
	return j.WithoutSessions(left), p
}

type partBuilder struct {
	j       *journal.Journal
	p       *Part
	changes map[string]bool
}

// touch adds what one state of a record is about.
func (b *partBuilder) touch(f journal.File, record journal.Any) {
	switch r := record.(type) {
	case nil:
		b.sites(b.j.SitesNamed(f.ID)...)
	case *journal.Session:
		b.sites(r.Site)
		b.sites(b.j.SitesNamed(f.ID)...)
		b.session(r)
	case *journal.Site:
		b.p.alone = nil
		b.sites(r.ID)
	case *journal.Event:
		b.sites(r.Sites...)
	case *journal.Lot:
		b.p.alone = nil
		if from, to, known := inUse(r); known || r.Substance != "" {
			b.days(from, to)
		} else {
			b.p.Everything = true
		}
	case *journal.Change:
		b.change(r.ID)
		for _, other := range b.j.Changes.List { // what it is compared with
			if other.For == r.For || other.ID == r.Supersedes {
				b.change(other.ID)
			}
		}
	case *journal.Target:
		for _, c := range b.j.Changes.List {
			if c.For == r.ID {
				b.change(c.ID)
			}
		}
	case *journal.Batch:
		b.change(r.Change)
	case *journal.Signoff:
		b.names(r.Of)
	case *journal.Action:
		b.names(r.About...)
	case *journal.Report:
		for path := range r.RestsOn {
			b.p.Files[path] = true
		}
	case *journal.Anchor:
	default: // a meter, a method, a person or an owner: any session may name it
		b.p.Everything = true
	}
}

// names adds records by their ids.
func (b *partBuilder) names(ids ...string) {
	for _, id := range ids {
		for _, f := range b.j.Find(id) {
			b.p.Files[f.Path] = true
			switch f.Kind {
			case journal.KindSession:
				b.sites(b.j.SitesNamed(id)...)
			case journal.KindSite:
				b.sites(id)
			case journal.KindChange:
				b.change(id)
			}
		}
	}
}

func (b *partBuilder) sites(ids ...string) {
	for _, id := range ids {
		b.p.Sites[id] = true
	}
}

// named reports whether a session is of one of the sites.
func (b *partBuilder) named(session string) bool {
	return slices.ContainsFunc(b.j.SitesNamed(session), func(site string) bool { return b.p.Sites[site] })
}

// change adds the waters of a change, and those that verified it.
func (b *partBuilder) change(id string) {
	c, ok := b.j.Changes.Get(id)
	if !ok || b.changes[id] {
		return
	}
	b.changes[id] = true
	b.sites(c.Tank)
	for _, basis := range c.Basis {
		b.names(basis.Session)
		if len(basis.Session) > len(time.DateOnly) {
			if day, err := journal.ParseDate(basis.Session[:len(time.DateOnly)]); err == nil {
				b.days(day.Add(-months), day.Add(months))
			}
		}
	}
	if !c.Proposed.IsZero() {
		b.days(c.Proposed, c.Proposed.Add(months))
	}
}

// session adds the months around a session, and those in which its lots were in use.
func (b *partBuilder) session(s *journal.Session) {
	if s.Sampled.IsZero() {
		return
	}
	b.days(s.Sampled.Add(-months), s.Sampled.Add(months))
	b.lots(s)
	if s.DuplicateOf != "" {
		b.names(s.DuplicateOf)
	}
}

// lots adds the time in which the lots of a session were in use.
func (b *partBuilder) lots(s *journal.Session) {
	from, to := s.Sampled.Add(-months), s.Sampled.Add(months)
	for i := range s.Readings {
		if lot, ok := b.j.Lots.Get(s.Readings[i].Lot); ok {
			if first, last, known := inUse(lot); known && first.Before(to) && last.After(from) {
				b.days(first, last)
			}
		}
	}
}

// inUse is when a lot was used; known is false where its record does not say from when.
func inUse(l *journal.Lot) (from, to time.Time, known bool) {
	from, to = l.Received, l.Finished
	if from.IsZero() {
		from = l.Opened
	}
	if to.IsZero() && !l.Expires.IsZero() {
		to = l.Expires.AddDate(1, 0, 0) // later uses are each wrong by themselves
	}
	if to.IsZero() {
		to = time.Date(9999, 1, 1, 0, 0, 0, 0, time.UTC)
	}
	return from, to, !from.IsZero()
}

func (b *partBuilder) days(from, to time.Time) {
	span := [2]string{from.AddDate(0, 0, -1).Format(time.DateOnly), to.AddDate(0, 0, 1).Format(time.DateOnly)}
	for i, d := range b.p.Days {
		if d[0] <= span[1] && span[0] <= d[1] {
			b.p.Days[i] = [2]string{min(d[0], span[0]), max(d[1], span[1])}
			return
		}
	}
	b.p.Days = append(b.p.Days, span)
}

// share adds the sites that give water to one of the part, or get it from one.
func (b *partBuilder) share() {
	for grown := true; grown; {
		grown = false
		for _, site := range b.j.Sites.List {
			for _, from := range site.FedBy {
				if b.p.Sites[site.ID] != b.p.Sites[from] {
					b.p.Sites[site.ID], b.p.Sites[from], grown = true, true, true
				}
			}
		}
	}
}

// judges reports whether rules that reach a record alone are run on a session: where they
// can say something new, and where they decide what becomes of another rule's finding.
func (p *Part) judges(s *journal.Session) bool {
	return !p.partial() || p.alone == nil || p.alone[s.Path] || len(s.Ignore) > 0
}

// add has the records judged in which other rules found something.
func (p *Part) add(found []*Finding) {
	if !p.partial() || p.alone == nil {
		return
	}
	for _, f := range found {
		p.alone[f.d.Path] = true
	}
}

// whole reports whether the whole series of a site is there.
func (p *Part) whole(site string) bool { return !p.partial() || p.Sites[site] }

// quiet reports whether a site's sessions are there for the sake of others alone.
func (p *Part) quiet(site string) bool { return p.partial() && p.alone != nil && !p.Sites[site] }

// passes reports whether a session is there so that others are judged by it.
func (p *Part) passes(s *journal.Session) bool { return p.partial() && p.only && !p.alone[s.Path] }

// partial reports whether sessions are left out.
func (p *Part) partial() bool { return p != nil && !p.Everything }

// Earlier makes the earlier state of the later one, which was loaded with the part: the
// files of before are as they were, those of added were not there. It cannot where a
// file is gone, or where ids meet: then the earlier state has to be read.
func (p *Part) Earlier(j *journal.Journal, before map[string][]byte, added []string) (*journal.Journal, bool) {
	touched := map[string]bool{}
	for path := range before {
		touched[path] = true
		if f, ok := journal.FileOf(path); ok && !slices.ContainsFunc(j.Find(f.ID), func(g journal.File) bool { return g == f }) {
			return nil, false
		}
	}
	for _, path := range added {
		touched[path] = true
	}
	if slices.ContainsFunc(j.Problems, func(p journal.Problem) bool { return p.Rule == journal.RuleID }) {
		return nil, false
	}
	then := j.Without(added).With(before)
	for _, problem := range j.Problems {
		if !touched[problem.Path] {
			then.Problems = append(then.Problems, problem)
		}
	}
	return then, true
}
