package exchange

import (
	"slices"

	"wj/journal"
	"wj/journal/exchange/dataset"
)

// Part is what of a journal concerns some owners: their waters whole, and of what
// they share with others (lots, meters, methods, people) the bare facts.
type Part struct{ own, bare map[string]bool }

// OwnersPart is the part of a journal that is of these owners, with these
// sessions.
func OwnersPart(j *journal.Journal, owners []string, sessions map[string]bool) Part {
	p := Part{map[string]bool{}, map[string]bool{}}
	keep := func(k journal.Kind, id string) { p.own[recordKey(k, id)] = true }
	for _, id := range owners {
		keep(journal.KindOwner, id)
	}
	for id := range sessions {
		keep(journal.KindSession, id)
	}
	for _, s := range j.Sites.List {
		if slices.ContainsFunc(owners, s.OwnedBy) {
			keep(journal.KindSite, s.ID)
		}
	}
	for _, t := range j.Targets.List {
		if slices.Contains(owners, t.Owner) {
			keep(journal.KindTarget, t.ID)
		}
	}
	for _, c := range j.Changes.List {
		if p.own[recordKey(journal.KindTarget, c.For)] && !slices.ContainsFunc(c.Basis, func(w journal.Basis) bool { return !p.own[recordKey(journal.KindSession, w.Session)] }) {
			keep(journal.KindChange, c.ID)
		}
	}
	for _, b := range j.Batches.List {
		if slices.Contains(owners, b.Owner) && (b.Change == "" || p.own[recordKey(journal.KindChange, b.Change)]) {
			keep(journal.KindBatch, b.ID)
		}
	}
	for _, r := range j.Reports.List {
		if slices.Contains(owners, r.Owner) && p.covers(r.RestsOn) {
			keep(journal.KindReport, r.ID)
		}
	}
	for _, e := range j.Events.List {
		if len(e.Sites) > 0 && !slices.ContainsFunc(e.Sites, func(id string) bool { return !p.own[recordKey(journal.KindSite, id)] }) {
			keep(journal.KindEvent, e.ID)
		}
	}
	links := &shared{p: p}
	_, _ = dataset.Export(j, dataset.Options{Measured: true, Choose: p.Keep}, links) // what it cannot read, the export itself reports
	return p
}

// covers reports whether all paths are of records that are kept.
func (p Part) covers(paths map[string]string) bool {
	for path := range paths {
		if f, ok := journal.FileOf(path); !ok || !p.own[recordKey(f.Kind, f.ID)] {
			return false
		}
	}
	return true
}

// Keep chooses the records that are exported at all.
func (p Part) Keep(f journal.File) bool {
	key := recordKey(f.Kind, f.ID)
	return p.own[key] || p.bare[key]
}

// Names chooses those of which only the bare facts are exported.
func (p Part) Names(f journal.File) bool { return !p.own[recordKey(f.Kind, f.ID)] }

// shared finds the shared records that kept ones refer to.
type shared struct{ p Part }

func (s *shared) Write(e *dataset.Entry) error {
	for _, row := range e.Rows {
		if row.Table.Name != "record_links" {
			continue
		}
		switch kind := row.Values[4].(string); kind {
		case "lots", "instruments", "methods", "people":
			s.p.bare[kind+"/"+row.Values[5].(string)] = true
		}
	}
	return nil
}

func (s *shared) Finish() error { return nil }
