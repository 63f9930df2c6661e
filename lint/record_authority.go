package lint

import (
	"time"

	"wj/journal"
	"wj/journal/evidence"
	"wj/journal/judge"
)

var recordAuthority = &Rule{
	Name: "record/authority", Severity: Warning, Scope: Whole, Reach: OfRecord, Check: checkRecordAuthority,
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
		trained, any := judge.MayTest(p.Journal, person, at)
		if !any {
			p.Report(s.Path, []string{"by"}, "%s had no role to test on %s", person.ID, p.date(at)).
				Blame(person.Path, []string{"roles"}, "%s tested without the role", person.ID).
				Help("add the role to people/%s.md with its first day, or say who supervised", person.ID)
			continue
		}
		for i := range s.Readings {
			r := &s.Readings[i]
			m := methodOf(p.Journal, s, r)
			if m == nil || trained(m.ID) {
				continue
			}
			p.ReportReading(s, r, "value", "%s was not trained for %s on %s", person.ID, m.ID, p.date(at)).Help("record the training in people/%s.md with its day, or say who supervised", person.ID)
		}
	}
	for _, b := range p.Journal.Batches.List {
		if b.Void != nil || b.Brewed.IsZero() {
			continue
		}
		for _, x := range []struct{ key, who string }{{"dosed_by", b.DosedBy}, {"witnessed_by", b.WitnessedBy}} {
			if person, ok := p.Journal.People.Get(x.who); ok {
				p.absent(b.Path, []string{x.key}, person, judge.BrewEnd(p.Journal, b))
			}
		}
	}
	verdicts := p.run.facts.verdicts()
	for _, s := range p.Journal.Signoffs.List {
		person, ok := p.Journal.People.Get(s.By)
		if s.Void != nil || !ok || s.On.IsZero() || p.absent(s.Path, []string{"by"}, person, s.On) {
			continue
		}
		c, isChange := p.Journal.Changes.Get(s.Of)
		v, judged := verdicts[s.ID]
		if !isChange || c.Author == s.By || judged && v.Standing != evidence.NotAllowed {
			continue // an author who signs is change/self-signed's
		}
		if why := evidence.MaySign(p.Journal, p.Journal, c, s.By, s.On); why != "" {
			f := p.Report(s.Path, []string{"by"}, "%s", why).
				Blame(person.Path, []string{"roles"}, "%s signed without the role", person.ID).
				Help("have somebody with the role sign; roles are in people/ with their first and last day")
			if f.also = p.brewedWith(c); len(f.also) > 1 { // what was brewed with it had no approval
				p.as(f, Error)
			}
		} else if judged && len(v.Why) > 0 {
			p.Report(s.Path, []string{"by"}, "this sign-off does not count: %s", v.Why[0]).Help("ask %s; wj verify shows what history and keys say of it", s.By)
		}
	}
}

func (p *Pass) absent(path string, keys []string, person *journal.Person, at time.Time) bool {
	if person.Covers(at.In(p.zone())) {
		return false
	}
	span, when := "since", "joined on "+journal.FormatDate(person.Since)
	if !person.Until.IsZero() && p.day(at).After(person.Until) {
		span, when = "until", "left on "+journal.FormatDate(person.Until)
	}
	p.Report(path, keys, "%s %s, and this is of %s", person.ID, when, p.date(at)).
		Blame(person.Path, []string{span}, "%s %s, and acted beyond that", person.ID, when).
		Help("who was it really? correct the name, or the dates in people/%s.md", person.ID)
	return true
}
