package lint

import (
	"slices"

	"wj/journal"
	"wj/journal/judge"
	"wj/water"
)

var reagentUnverified = &Rule{
	Name: "reagent/unverified", Severity: Warning, Scope: Whole, Reach: OfBench, Check: checkReagentUnverified,
	Title:    "a new lot was relied on without a check standard or a comparison with the old one",
	Settings: []Threshold{{"within", "14 d", "d", "how soon after its first use a lot must be checked"}},
}

// checkReagentUnverified speaks only where the journal checks the analyte with
// standards at all. A lot is verified by a check standard tested with it, or by
// a session that used it beside an older lot for the same analyte.
func checkReagentUnverified(p *Pass) {
	type found struct{ checked, overlap bool }
	state := map[string]*found{}
	standards := map[water.ID]bool{}
	uses := p.run.facts.uses()
	within := days(p.Setting("within"))
	for _, s := range p.Journal.Sessions.List {
		if s.Void != nil {
			continue
		}
		for i := range s.Readings {
			r := &s.Readings[i]
			use := uses[r.Lot]
			if s.Sample == journal.SampleStandard {
				standards[r.Analyte] = true
			}
			if use == nil {
				continue
			}
			f := state[r.Lot]
			if f == nil {
				f = &found{}
				state[r.Lot] = f
			}
			if at := judge.TestedAt(s, r); s.Sample == journal.SampleStandard && !at.After(use.FirstAt.Add(within)) {
				f.checked = true
			}
			if s.Sample == journal.SampleDuplicate {
				if o, ok := p.Journal.Sessions.Get(s.DuplicateOf); ok {
					if other, ok := o.Reading(r.Analyte); ok && other.Lot != r.Lot && other.Lot != "" {
						f.overlap = true
					}
				}
			}
		}
	}
	for _, lot := range p.Journal.Lots.List {
		use, used := uses[lot.ID]
		if !used || lot.Void != nil || len(lot.Analytes) == 0 || !slices.ContainsFunc(lot.Analytes, func(id water.ID) bool { return standards[id] }) {
			continue
		}
		f := state[lot.ID]
		if f == nil || f.checked || f.overlap || use.First.Void != nil || !p.Now.IsZero() && p.Now.Before(use.FirstAt.Add(within)) {
			continue
		}
		p.Report(use.First.Path, lotKeys(use.First, lot.ID), "lot %s was used from here on and was not checked within %s", lot.ID, span(within)).
			Help("test one standard with it, or one sample with it and the lot before; until then its results depend on the maker's word")
	}
}

// lotKeys lead to the first reading of a session that names the lot.
func lotKeys(s *journal.Session, lot string) []string {
	for i := range s.Readings {
		if s.Readings[i].Lot == lot {
			return []string{"readings", s.Readings[i].Analyte.String(), "lot"}
		}
	}
	return []string{"readings"}
}
