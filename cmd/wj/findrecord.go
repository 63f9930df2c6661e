package main

import "wj/journal"

// find finds the one record that a person means by a path, an id or a part of an
// id that is unique.
func find(j *journal.Journal, word string) (journal.File, error) { return j.Record(word) }

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
