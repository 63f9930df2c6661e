package lint

import (
	"slices"
	"time"

	"wj/journal"
	"wj/journal/evidence"
	"wj/journal/judge"
)

// changes are the changes of the journal as judge has them, by id. Whether they
// are wrong in themselves is for the rules to say, and is not asked.
func (f *facts) changes() map[string]*judge.Change {
	f.changeOnce.Do(func() {
		f.changeList = map[string]*judge.Change{}
		j := f.run.j
		if len(j.Changes.List) == 0 {
			return
		}
		now := f.run.opt.Now
		if now.IsZero() {
			now = latestAct(j)
		}
		f.judged = judge.NewChanges(j, evidence.Facts{Now: now, Line: f.run.opt.Facts.Line, Unreadable: f.run.opt.Facts.Unreadable, Moved: f.book().MovedWords})
		for _, c := range j.Changes.List {
			f.changeList[c.ID] = f.judged.Change(c)
		}
	})
	return f.changeList
}

// latestAct is the newest moment that a sign-off or a batch shows: the present
// of a run that has no clock.
func latestAct(j *journal.Journal) time.Time {
	var out time.Time
	for _, s := range j.Signoffs.List {
		if s.On.After(out) {
			out = s.On
		}
	}
	for _, b := range j.Batches.List {
		if end := judge.BrewEnd(j, b); end.After(out) {
			out = end
		}
	}
	return out
}

// verdicts are the sign-offs of the journal's changes, judged, by their ids.
func (f *facts) verdicts() map[string]evidence.Verdict {
	out := map[string]evidence.Verdict{}
	for _, c := range f.changes() {
		for _, v := range c.Verdicts {
			out[v.Signoff.ID] = v
		}
	}
	return out
}

// over reports whether nobody will brew with a change: it was refused, or
// another one that was approved replaces it; or that cannot be known.
func (p *Pass) over(c *journal.Change) bool {
	r := p.run.facts.changes()[c.ID]
	return r != nil && (r.State == judge.Refused || r.State == judge.Superseded || r.State == judge.Unknown)
}

// followed reports whether a newer approved change stands for the same target:
// last winter's dose need not be renewed.
func (p *Pass) followed(c *journal.Change) bool {
	return slices.ContainsFunc(p.Journal.Changes.List, func(other *journal.Change) bool {
		r := p.run.facts.changes()[other.ID]
		return other != c && other.For == c.For && other.Proposed.After(c.Proposed) && r != nil && (r.State.Approved() || r.State == judge.Missed || r.State == judge.LapsedState || r.State == judge.Unknown)
	})
}
