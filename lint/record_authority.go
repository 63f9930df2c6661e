package lint

import (
	"slices"
	"time"

	"wj/journal"
	"wj/journal/judge"
)

var recordAuthority = &Rule{
	Name: "record/authority", Severity: Warning, Scope: Whole, Check: checkRecordAuthority,
	Title: "somebody acted who was not there, or was not authorised for it, on that day",
}

// checkRecordAuthority asks for a role only of people who have any: a brewery
// that keeps no roles is not asked to begin with them.
func checkRecordAuthority(p *Pass) {
	for _, s := range p.Journal.Sessions.List {
		if s.Void != nil || !judge.Bench(s) {
			continue
		}
		at := judge.TestedAt(s, nil)
		person, ok := p.Journal.People.Get(s.By)
		if !ok || at.IsZero() {
			continue
		}
		if p.absent(s.Path, []string{"by"}, person, at) || len(person.Roles) == 0 {
			continue
		}
		tester := p.roles(person, at, "tester", "quality")
		if len(tester) == 0 {
			p.Report(s.Path, []string{"by"}, "%s had no role to test on %s", person.ID, p.date(at)).Help("add the role to people/%s.md with its first day, or say who supervised", person.ID)
			continue
		}
		for i := range s.Readings {
			r := &s.Readings[i]
			m := methodOf(p.Journal, s, r)
			if m == nil || slices.ContainsFunc(tester, func(role journal.Role) bool { return len(role.Methods) == 0 || slices.Contains(role.Methods, m.ID) }) {
				continue
			}
			p.ReportReading(s, r, "value", "%s was not trained for %s on %s", person.ID, m.ID, p.date(at)).Help("record the training in people/%s.md with its day, or say who supervised", person.ID)
		}
	}
	for _, s := range p.Journal.Signoffs.List {
		person, ok := p.Journal.People.Get(s.By)
		if s.Void != nil || !ok || s.On.IsZero() || p.absent(s.Path, []string{"by"}, person, s.On) || len(person.Roles) == 0 {
			continue
		}
		if len(p.roles(person, s.On, "reviewer", "quality")) == 0 {
			p.Report(s.Path, []string{"by"}, "%s had no role to review on %s", person.ID, p.date(s.On)).Help("have somebody with the role sign; roles stand in people/ with their first and last day")
		}
	}
}

func (p *Pass) absent(path string, keys []string, person *journal.Person, at time.Time) bool {
	if person.Covers(at.In(p.zone())) {
		return false
	}
	when := "joined on " + journal.FormatDate(person.Since)
	if !person.Until.IsZero() && p.day(at).After(person.Until) {
		when = "left on " + journal.FormatDate(person.Until)
	}
	p.Report(path, keys, "%s %s, and this is of %s", person.ID, when, p.date(at)).Help("who was it really? correct the name, or the dates in people/%s.md", person.ID)
	return true
}

func (p *Pass) roles(person *journal.Person, at time.Time, names ...string) []journal.Role {
	var out []journal.Role
	for _, role := range person.Roles {
		if slices.Contains(names, role.Role) && role.Covers(at.In(p.zone())) {
			out = append(out, role)
		}
	}
	return out
}
