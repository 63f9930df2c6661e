package lint

import (
	"time"

	"wj/journal"
)

// approvals are the sign-offs that accept a change and count by the journal's
// policy: not void, by another person than the author where the policy says so,
// with the role of a reviewer where that person has roles. by is the latest
// moment at which they may have been signed; zero: any.
func (p *Pass) approvals(c *journal.Change, by time.Time) []*journal.Signoff {
	var out []*journal.Signoff
	for _, s := range p.run.facts.signoffs()[c.ID] {
		if s.Decision != "accepted" || !by.IsZero() && s.On.After(by) {
			continue
		}
		if p.Journal.Settings.Policy.OtherThanAuthor && s.By == c.Author {
			continue
		}
		if person, ok := p.Journal.People.Get(s.By); ok && (len(person.Roles) > 0 && len(p.roles(person, s.On, "reviewer", "quality")) == 0 || !person.Covers(s.On.In(p.zone()))) {
			continue
		}
		out = append(out, s)
	}
	return out
}

// signed reports whether enough different people accepted a change.
func (p *Pass) signed(c *journal.Change) bool { return p.signedBy(c, time.Time{}) }

func (p *Pass) signedBy(c *journal.Change, by time.Time) bool {
	people := map[string]bool{}
	for _, s := range p.approvals(c, by) {
		people[s.By] = true
	}
	return len(people) >= p.Journal.Settings.Policy.Reviewers
}

// signoffs are the sign-offs of each record that are not void.
func (f *facts) signoffs() map[string][]*journal.Signoff {
	f.signOnce.Do(func() {
		f.signList = map[string][]*journal.Signoff{}
		for _, s := range f.run.j.Signoffs.List {
			if s.Void == nil {
				f.signList[s.Of] = append(f.signList[s.Of], s)
			}
		}
	})
	return f.signList
}

// brewEnd is the latest moment at which a batch may have begun: the moment
// itself, or the end of the day where only the day is known.
func (p *Pass) brewEnd(b *journal.Batch) time.Time {
	if b.Brewed.Location() == time.UTC && b.Brewed.Equal(journal.Day(b.Brewed)) {
		y, m, d := b.Brewed.Date()
		return time.Date(y, m, d+1, 0, 0, 0, 0, p.zone()).Add(-time.Second)
	}
	return b.Brewed
}

// batchesOf are the batches that used a change, in order of brewing.
func (p *Pass) batchesOf(change string) []*journal.Batch {
	var out []*journal.Batch
	for _, b := range p.Journal.Batches.List {
		if b.Void == nil && b.Change == change {
			at := len(out)
			for at > 0 && out[at-1].Brewed.After(b.Brewed) {
				at--
			}
			out = append(out[:at], append([]*journal.Batch{b}, out[at:]...)...)
		}
	}
	return out
}
