package lint

import (
	"strings"

	"wj/journal"
)

var recordAuthor = &Rule{
	Name: "record/author", Severity: Warning, Scope: Session, Reach: OfRecord, Check: checkRecordAuthor, NeedsHistory: true,
	Title: "a session was committed by somebody else than the one who is said to have made it",
}

func checkRecordAuthor(p *Pass) {
	s := p.Session
	c, ok := p.Git.Added(s.Path)
	if !ok || c.Email == "" {
		return
	}
	for _, id := range []string{s.By, s.RecordedBy} {
		person, known := p.Journal.People.Get(id)
		if !known {
			continue
		}
		if len(person.Email) == 0 || hasAddress(person, c.Email) {
			return
		}
	}
	who := c.Email
	for _, person := range p.Journal.People.List {
		if hasAddress(person, c.Email) {
			who = person.ID
		}
	}
	p.Report(s.Path, []string{"by"}, "by says %s, and %s committed the record", s.By, who).
		Help("if %s only typed it, add recorded_by; if the address is a new one of %s, add it to people/%s.md", who, s.By, s.By)
}

func hasAddress(person *journal.Person, address string) bool {
	for _, e := range person.Email {
		if strings.EqualFold(strings.TrimSpace(e), address) {
			return true
		}
	}
	return false
}
