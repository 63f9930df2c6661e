package journal

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"wj/water/spelling"
)

// NotFound says that a word names no record, or more than one.
type NotFound struct {
	Word       string
	Kinds      []Kind // where it was looked for
	Candidates []File // what it may stand for
	Ambiguous  bool   // it stands for each of them
}

func (e *NotFound) Error() string {
	what := "record"
	if len(e.Kinds) == 1 {
		what = e.Kinds[0].String()
	}
	if e.Ambiguous {
		return fmt.Sprintf("%q may be any of %d %ss", e.Word, len(e.Candidates), strings.TrimSuffix(what, "s"))
	}
	return fmt.Sprintf("there is no %s %q", what, e.Word)
}

// Hint is the next step.
func (e *NotFound) Hint() string {
	const most = 8
	var names []string
	same := len(e.Candidates) > 1 // one id in several folders
	for _, f := range e.Candidates {
		same = same && f.ID == e.Candidates[0].ID
	}
	for _, f := range e.Candidates {
		if same {
			names = append(names, f.Path)
		} else {
			names = append(names, f.ID)
		}
	}
	switch {
	case e.Ambiguous && same:
		return "name the file: " + spelling.Or(names)
	case len(names) > most:
		return "one of " + strings.Join(names[:most], ", ") + fmt.Sprintf(" and %d more", len(names)-most)
	case e.Ambiguous:
		return "one of " + strings.Join(names, ", ")
	case len(names) > 0:
		return "did you mean " + spelling.Or(names) + "?"
	case len(e.Kinds) == 1:
		return "wj ls " + e.Kinds[0].Folder() + " lists them"
	}
	return "wj ls lists the records"
}

// Record finds the one record, of the kinds named or of any, that a person means
// by a path, an id, an id without its date, or a part of an id that no other has.
// The error is *NotFound.
func (j *Journal) Record(word string, kinds ...Kind) (File, error) {
	among := kinds
	if len(among) == 0 {
		among = Kinds()
	}
	if f, ok := FileOf(strings.TrimPrefix(word, "./")); ok && slices.Contains(among, f.Kind) && j.Exists(f.Kind, f.ID) {
		return f, nil
	}
	id := strings.TrimSuffix(word, ".md")
	notFound := &NotFound{Word: word, Kinds: kinds}
	files := func(ids ...string) (out []File) { // one of a kind and id
		for _, f := range j.Files {
			if slices.Contains(ids, f.ID) && slices.Contains(among, f.Kind) && !slices.ContainsFunc(out, func(g File) bool { return g.Kind == f.Kind && g.ID == f.ID }) {
				out = append(out, f)
			}
		}
		slices.SortStableFunc(out, func(a, b File) int { return cmp.Compare(slices.Index(ids, a.ID), slices.Index(ids, b.ID)) })
		return out
	}
	if found := files(id); len(found) == 1 {
		return found[0], nil
	} else if len(found) > 1 {
		notFound.Candidates, notFound.Ambiguous = found, true
		return File{}, notFound
	}
	var known []string
	for _, k := range among {
		known = append(known, j.IDs(k)...)
	}
	slices.Sort(known)
	found, candidates, ambiguous := spelling.Find(id, slices.Compact(known))
	if found != "" {
		candidates = []string{found}
	}
	notFound.Candidates, notFound.Ambiguous = files(candidates...), ambiguous
	if found != "" && len(notFound.Candidates) == 1 {
		return notFound.Candidates[0], nil
	}
	notFound.Ambiguous = ambiguous || found != ""
	return File{}, notFound
}

// ID is Record's id, of one kind.
func (j *Journal) ID(word string, kind Kind) (string, error) {
	f, err := j.Record(word, kind)
	return f.ID, err
}
