package writer

import (
	"slices"
	"strings"
	"time"

	"wj/journal"
)

// Person is who is recording: the person named, or the one whose address git has. Nobody is
// guessed: where the address is in no record, or that person was not here on the day, the
// error asks. named may be empty.
func Person(j *journal.Journal, named, email string, on time.Time) (string, error) {
	if named != "" {
		if !j.Exists(journal.KindPerson, named) {
			return "", journal.Hint("people: "+strings.Join(j.IDs(journal.KindPerson), ", "), "there is no person %q", named)
		}
		return named, nil
	}
	if p, ok := Owner(j, email); ok {
		if !p.Covers(on) {
			return "", journal.Hint("name the person: by=ID; if it was "+p.ID+", correct since in "+p.Path, "who was it on %s? %s (your git address) was not here then", journal.FormatDate(on), p.ID)
		}
		return p.ID, nil
	}
	var active []string
	for _, p := range j.People.List {
		if p.Covers(on) && p.Void == nil {
			active = append(active, p.ID)
		}
	}
	whose := "git knows no address of yours (git config user.email)"
	if email != "" {
		whose = "your git address " + email + " is in no record of people/"
	}
	if len(active) == 0 {
		return "", journal.Hint("wj new person ID name=… email=…", "who is recording? %s", whose)
	}
	return "", journal.Hint("name yourself: by=ID, or WJ_BY=ID for all commands ("+strings.Join(active, ", ")+")", "who is recording? %s", whose)
}

// Owner is the person whose address it is.
func Owner(j *journal.Journal, email string) (*journal.Person, bool) {
	if email == "" {
		return nil, false
	}
	for _, p := range j.People.List {
		if p.Void == nil && slices.ContainsFunc(p.Email, func(e string) bool { return strings.EqualFold(strings.TrimSpace(e), email) }) {
			return p, true
		}
	}
	return nil, false
}
