package query

import (
	"maps"
	"slices"
)

// Unite makes one result of those of several journals that were asked the same:
// each row behind the name of its journal, in the order that was asked for, and no
// more rows than its limit. Groups stay those of their journal, and a note is kept
// where all have it.
func Unite(journals []string, list []*Result) *Result {
	out := *list[0]
	out.Columns = append([]Column{{Name: "journal"}}, out.Columns...)
	out.Rows, out.Aside, out.j = nil, map[string]int{}, nil
	out.Counts = Counts{}
	sessions := true
	for i, one := range list {
		for _, row := range one.Rows {
			row.Cells = append([]Cell{{Text: journals[i]}}, row.Cells...)
			out.Rows = append(out.Rows, row)
			sessions = sessions && row.Session != nil
		}
		out.add(one.Counts)
		for kind, n := range maps.All(one.Aside) {
			out.Aside[kind] += n
		}
		out.Notes = slices.DeleteFunc(slices.Clone(out.Notes), func(note string) bool { return !slices.Contains(one.Notes, note) })
	}
	if sessions {
		out.sort(out.by)
		if out.limit > 0 && len(out.Rows) > out.limit {
			out.Rows = out.Rows[:out.limit:out.limit]
		}
		out.Shown = len(out.Rows)
	}
	return &out
}
