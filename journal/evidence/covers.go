package evidence

import (
	"fmt"
	"sort"

	"wj/journal"
)

// Needed is a record that a sign-off must cover. Evidence marks what the
// decision is computed from (the record itself, the sessions of a basis);
// without one of these a sign-off is of nothing.
type Needed struct {
	journal.File
	Evidence bool
}

// Covers lists what a sign-off of a record must cover: the record and
// everything that it rests on. Of a change these are its basis sessions, its
// target and the lots of its additives; of a batch its change. The error names
// a record that is referred to and does not exist.
func Covers(j *journal.Journal, record journal.Any) ([]Needed, error) {
	base := record.Base()
	needed := []Needed{{journal.File{Kind: base.Kind, ID: base.ID, Path: base.Path}, true}}
	seen := map[key]bool{keyOf(needed[0].File): true}
	var missing error
	need := func(kind journal.Kind, id string, evidence bool) {
		if id == "" || seen[key{kind, id}] {
			return
		}
		seen[key{kind, id}] = true
		f := fileOf(j, kind, id)
		if f.Path == "" {
			if missing == nil {
				missing = fmt.Errorf("%s rests on the %s %q, which does not exist", base.Path, kind, id)
			}
			return
		}
		needed = append(needed, Needed{f, evidence})
	}
	switch r := record.(type) {
	case *journal.Change:
		for _, b := range r.Basis {
			need(journal.KindSession, b.Session, true)
		}
		need(journal.KindTarget, r.For, false)
		for _, a := range r.Add {
			need(journal.KindLot, a.Lot, false)
		}
	case *journal.Batch:
		need(journal.KindChange, r.Change, false)
	}
	sort.SliceStable(needed[1:], func(a, b int) bool { return needed[1+a].Path < needed[1+b].Path })
	return needed, missing
}

// key names a record.
type key struct {
	kind journal.Kind
	id   string
}

func keyOf(f journal.File) key { return key{f.Kind, f.ID} }

// fileOf finds a record; Path is empty where it does not exist.
func fileOf(j *journal.Journal, kind journal.Kind, id string) journal.File {
	for _, f := range j.Find(id) {
		if f.Kind == kind {
			return f
		}
	}
	return journal.File{Kind: kind, ID: id}
}
