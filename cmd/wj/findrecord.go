package main

import (
	"wj/journal"
	"wj/lint"
)

// find finds the one record that a person means by a path, an id or a part of an
// id that is unique.
func find(j *journal.Journal, word string) (journal.File, error) { return j.Record(word) }

// loadAround reads the journal as far as it concerns one record: that is what its word
// names.
func (a *app) loadAround(word string) (j *journal.Journal, root string, f journal.File, err error) {
	var part *lint.Part
	var missing error
	j, root, err = a.load(journal.Options{Check: true, Sessions: true, Only: func(j *journal.Journal, one journal.File) bool {
		if part == nil && missing == nil {
			if f, missing = find(j, word); missing == nil {
				_, record, _ := j.ReadRecord(f)
				part = lint.PartOf(j, []lint.Touched{{File: f, Before: record, After: record}})
			}
		}
		return missing == nil && part.Holds(j, one)
	}})
	if err == nil {
		f, err = find(j, word)
	}
	return j, root, f, err
}

// resolveAll is resolve for several.
func resolveAll(j *journal.Journal, words []string, kind journal.Kind) error {
	for i := range words {
		if err := resolve(j, &words[i], kind); err != nil {
			return err
		}
	}
	return nil
}

// resolve replaces what a person wrote for a record of a kind by its id; an empty
// word stays empty.
func resolve(j *journal.Journal, word *string, kind journal.Kind) (err error) {
	if *word != "" {
		*word, err = j.ID(*word, kind)
	}
	return err
}
