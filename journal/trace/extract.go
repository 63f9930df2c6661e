package trace

import (
	"fmt"
	"strings"

	"wj/journal"
)

// Extract says which records may be handed to one owner: those of the owner's
// sites; what is made of them and of nobody else's water (changes, batches,
// sign-offs, reports, actions, events); and what they depend on that is no
// water: lots, instruments, methods, targets and people, with the sign-offs of these. Water that a site gave
// under another owner stays with that owner.
func Extract(j *journal.Journal, owner string) (func(journal.File) bool, error) {
	if _, ok := j.Owners.Get(owner); !ok {
		return nil, fmt.Errorf("there is no owner %q", owner)
	}
	kept := map[string]bool{}
	add := func(r *journal.Record) { kept[r.Path] = true }
	for _, o := range j.Owners.List {
		if o.ID == owner {
			add(&o.Record)
		}
	}
	for _, s := range j.Sites.List {
		if s.OwnedBy(owner) {
			add(&s.Record)
		}
	}
	graph := NewGraph(j)
	shared := map[journal.Kind]bool{journal.KindLot: true, journal.KindInstrument: true, journal.KindMethod: true, journal.KindTarget: true, journal.KindPerson: true}
	// own reports whether a record depends on water, and on the owner's only.
	own := func(record journal.Any) bool {
		r := record.Base()
		if s, ok := record.(*journal.Session); ok {
			site, ok := j.Sites.Get(s.Site)
			return ok && site.OwnerAt(s.Sampled.In(j.Settings.Zone)) == owner
		}
		if e, ok := record.(*journal.Event); ok {
			for _, id := range e.Sites {
				if site, ok := j.Sites.Get(id); !ok || site.OwnerAt(e.On.In(j.Settings.Zone)) != owner {
					return false
				}
			}
		}
		water := false
		for _, l := range graph.Up(journal.File{Kind: r.Kind, ID: r.ID, Path: r.Path}) {
			switch {
			case l.To.Path != "" && kept[l.To.Path] && !shared[l.To.Kind]:
				water = true
			case !shared[l.To.Kind] && (!l.Side || l.To.Kind == journal.KindSite):
				return false
			}
		}
		return water
	}
	// Each kind depends on those before it; actions and sign-offs may be of one
	// another, so they are asked again while something is found.
	for found := -1; found != len(kept); {
		found = len(kept)
		j.Each(func(record journal.Any) {
			r := record.Base()
			switch r.Kind {
			case journal.KindSession, journal.KindChange, journal.KindBatch, journal.KindEvent, journal.KindSignoff, journal.KindReport, journal.KindAction:
				if !kept[r.Path] && own(record) {
					add(r)
				}
			}
		})
	}
	for _, f := range j.Files {
		if !kept[f.Path] {
			continue
		}
		for _, l := range graph.Up(f) {
			if shared[l.To.Kind] && l.To.Path != "" {
				kept[l.To.Path] = true
			}
		}
	}
	for _, meter := range j.Instruments.List {
		for _, m := range meter.Measures {
			if method, ok := j.Methods.Get(m.Method); ok && kept[meter.Path] {
				kept[method.Path] = true
			}
		}
	}
	// Who signed the settings, a person or what else is shared goes along with that,
	// and what is of such a person in turn.
	read := map[string]bool{}
	for found := -1; found != len(kept); {
		found = len(kept)
		for _, f := range j.Files {
			if kept[f.Path] && f.Kind != journal.KindPerson && !read[f.Path] {
				read[f.Path] = true
				if err := addPeople(j, f, kept); err != nil {
					return nil, err
				}
			}
		}
		for _, s := range j.Signoffs.List {
			if !kept[s.Path] && signsKept(j, s, kept) {
				add(&s.Record)
			}
		}
	}
	return func(f journal.File) bool { return kept[f.Path] }, nil
}

// signsKept reports whether a sign-off is of something that is handed out, and
// covers nothing else.
func signsKept(j *journal.Journal, s *journal.Signoff, kept map[string]bool) bool {
	if s.Of != journal.SettingsFile {
		found := j.Find(s.Of)
		if len(found) != 1 || !kept[found[0].Path] {
			return false
		}
	}
	for path := range s.Covers {
		if path != journal.SettingsFile && !kept[path] {
			return false
		}
	}
	return true
}

// addPeople keeps the people whom a record names in any of its fields.
func addPeople(j *journal.Journal, f journal.File, kept map[string]bool) error {
	d, _, err := j.ReadRecord(f)
	if err != nil {
		return err
	}
	for n := range d.Nodes {
		if p, ok := j.People.Get(strings.TrimSpace(d.Text(int32(n)))); ok {
			kept[p.Path] = true
		}
	}
	return nil
}
