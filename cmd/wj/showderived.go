package main

import (
	"errors"
	"fmt"
	"slices"
	"strings"

	"wj/journal"
	"wj/water"
)

// derivedTable writes what follows from the readings of an analysis, each value
// with its 95 % half-width and what it came from, and which values it lacks.
func derivedTable(b *strings.Builder, j *journal.Journal, owner string, analysis *water.Analysis) {
	var rows [][]string
	var absent []string
	ids := water.DerivedNames()
	values := analysis.DeriveAll(ids...)
	shared := sharedNotes(values)
	for i, v := range values {
		id := ids[i]
		if _, measured := analysis.Measured(id); measured {
			continue
		}
		if v.Err != nil {
			var a *water.Absent
			if errors.As(v.Err, &a) && worthSaying(id) {
				absent = append(absent, fmt.Sprintf("%s: %s", id, a.Reason))
			}
			continue
		}
		value, half, unit := inUnit(j, owner, id, v.Bound, v.Value.Value, v.U)
		note := "from " + names(v.From)
		if len(v.From) > 3 {
			note = fmt.Sprintf("from %s and %d more", names(v.From[:2]), len(v.From)-2)
		}
		own, marks := splitNote(v.Note, shared)
		if own != "" {
			note = own
		}
		rows = append(rows, []string{id.String(), value, half, unit, note + marks})
	}
	if len(rows) > 0 {
		b.WriteString("## Derived\n\n")
		mdTable(b, []string{"value", "result", "± 95 %", "unit", "from"}, []bool{false, true, true, false, false}, rows)
		for i, n := range shared {
			b.WriteString(footMarks[i] + " " + plain(n) + "  \n")
		}
		if len(shared) > 0 {
			b.WriteString("\n")
		}
	}
	if len(absent) > 0 {
		for i := range absent {
			absent[i] = plain(absent[i])
		}
		b.WriteString("Not to be had: " + strings.Join(absent, "; ") + ".\n\n")
	}
}

// footMarks are the marks of the notes under a table, as many as it may have.
var footMarks = [...]string{"¹", "²", "³", "⁴", "⁵"}

// longNote is from how many bytes on a remark is worth a mark of its own.
const longNote = 32

// sharedNotes are the remarks that stand beside more than one value: they are
// said once, under the table.
func sharedNotes(values []water.Derivation) []string {
	seen := map[string]int{}
	var shared []string
	for _, v := range values {
		if v.Err != nil || v.Note == "" {
			continue
		}
		for part := range strings.SplitSeq(v.Note, "; ") {
			seen[part]++
			if seen[part] == 2 && len(shared) < len(footMarks) && len(part) > longNote {
				shared = append(shared, part)
			}
		}
	}
	return shared
}

// splitNote parts a remark into what is said beside the value and the marks of
// what is said under the table.
func splitNote(note string, shared []string) (own, marks string) {
	var parts []string
	var at []int
	for part := range strings.SplitSeq(note, "; ") {
		if i := slices.Index(shared, part); i >= 0 {
			at = append(at, i)
		} else {
			parts = append(parts, part)
		}
	}
	slices.Sort(at)
	for _, i := range at {
		marks += " " + footMarks[i]
	}
	return strings.Join(parts, "; "), marks
}

// worthSaying limits what is said to be absent to the values that decide
// something for a brewer.
func worthSaying(id water.ID) bool {
	return id == water.Magnesium || id == water.Sodium || id == water.ResidualAlkalinity || id == water.ChargeBalance
}
