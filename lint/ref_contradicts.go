package lint

import (
	"math"
	"slices"

	"wj/journal"
	"wj/journal/judge"
)

var refContradicts = &Rule{
	Name: "ref/contradicts", Severity: Error, Scope: Whole, Reach: OfRecord, Check: checkRefContradicts, Bars: true,
	Title: "two records that belong together name different things, or a record leads back to itself",
}

// checkRefContradicts holds what records say of each other together: a verification and its batch
// name one change, a batch and its change one beer, a check and its lot one standard.
func checkRefContradicts(p *Pass) {
	j := p.Journal
	p.checkBelongs()
	for _, s := range j.Sessions.List {
		if s.Void != nil {
			continue
		}
		if b, ok := j.Batches.Get(s.Batch); ok && s.Change != "" && b.Change != "" && s.Change != b.Change {
			f := p.Report(s.Path, []string{"change"}, "this verifies %s, and %s was brewed with %s", s.Change, b.ID, b.Change).
				See(b.Path, []string{"change"}, "the batch").
				Help("which liquor was in the bottle? correct change or batch")
			f.also = []string{b.Path}
		}
		if judge.IsCheck(s) {
			p.otherStandard(s)
		}
	}
	for _, b := range j.Batches.List {
		c, ok := j.Changes.Get(b.Change)
		if b.Void != nil || !ok || c.For == b.Beer {
			continue
		}
		if _, own := j.Targets.Get(b.Beer); own {
			p.Report(b.Path, []string{"change"}, "a batch of %s, and %s is for %s", b.Beer, c.ID, c.For).
				See(c.Path, []string{"for"}, "the change").
				Help("name the change that was dosed by, or correct the beer")
		}
	}
	for _, c := range j.Changes.List {
		round(p, c.Path, "supersedes", c.ID, func(id string) []string {
			if o, ok := j.Changes.Get(id); ok && o.Supersedes != "" {
				return []string{o.Supersedes}
			}
			return nil
		})
	}
	for _, s := range j.Sites.List {
		f := round(p, s.Path, "fed_by", s.ID, func(id string) []string {
			if o, ok := j.Sites.Get(id); ok {
				return o.FedBy
			}
			return nil
		})
		if h, ok := p.run.facts.history(s.ID); f != nil && ok {
			for _, own := range h.All { // all that is held against the feed
				f.also = append(f.also, own.Path)
			}
		}
	}
}

// otherStandard reports a check whose session and whose lot state different true values.
func (p *Pass) otherStandard(s *journal.Session) {
	lot, ok := p.Journal.Lots.Get(s.StandardLot)
	if !ok {
		return
	}
	for i := range s.Readings {
		id := s.Readings[i].Analyte
		here, ok := s.Standard[id]
		there, ok2 := lot.Standard[id]
		if a, b := id.Info().Standard(here), id.Info().Standard(there); ok && ok2 && math.Abs(a-b) > 0.005*math.Abs(b) {
			p.Report(s.Path, []string{"standard", id.String()}, "the standard is written as %s, and %s holds %s", here, lot.ID, there).
				See(lot.Path, []string{"standard", id.String()}, "the lot").
				Help("read the bottle: correct the session or the lot; a standard that was diluted is written as it was tested, without standard_lot")
		}
	}
}

// round reports a record that leads back to itself by one of its fields, once for a circle: at
// the first of its ids.
func round(p *Pass, path, key, start string, next func(id string) []string) *Finding {
	seen, front := []string{}, next(start)
	for len(front) > 0 {
		id := front[0]
		front = front[1:]
		if id == start {
			through := ""
			if len(seen) > 0 {
				through = " through " + seen[len(seen)-1]
			}
			if len(seen) == 0 || start == slices.Min(append(slices.Clone(seen), start)) {
				return p.Report(path, []string{key}, "%s leads back to %s itself%s", key, start, through).
					Help("name another record, or remove the line")
			}
			return nil
		}
		if !slices.Contains(seen, id) {
			seen = append(seen, id)
			front = append(front, next(id)...)
		}
	}
	return nil
}
