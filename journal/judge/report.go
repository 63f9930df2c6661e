package judge

import (
	"maps"
	"slices"

	"wj/journal"
	"wj/journal/evidence"
)

// Sent is a report and whether it still holds.
type Sent struct {
	*journal.Report
	ReplacedBy string   // the id of a later report; "" where there is none
	Changed    []string // the files that it depends on and that are no longer what they were, sorted
}

// Stale reports whether whoever got the report holds an old value, and no later
// report told them.
func (s *Sent) Stale() bool { return s.ReplacedBy == "" && len(s.Changed) > 0 }

// Reports judges the reports of a journal that are not void.
func Reports(j *journal.Journal) []Sent {
	replaced := map[string]string{}
	for _, r := range j.Reports.List {
		if r.Void == nil && r.Replaces != "" {
			replaced[r.Replaces] = r.ID
		}
	}
	var out []Sent
	for _, r := range j.Reports.List {
		if r.Void != nil {
			continue
		}
		s := Sent{Report: r, ReplacedBy: replaced[r.ID]}
		for _, p := range slices.Sorted(maps.Keys(r.RestsOn)) {
			if _, same := evidence.Same(j, p, r.RestsOn[p]); !same {
				s.Changed = append(s.Changed, p)
			}
		}
		out = append(out, s)
	}
	return out
}
