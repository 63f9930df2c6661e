package exchange

import (
	"testing"
	"time"

	"wj/journal"
	"wj/journal/journaltest"
	"wj/journal/judge"
)

// Waters of two owners leave in one file only where that is asked for; a calendar has the brewery's lots only where
// the brewery's own affairs are in it.
func TestApart(t *testing.T) {
	files := journaltest.Blend()
	files["owners/tarrow.md"] = "---\nname: Tarrow Lane\n---\n"
	files["sites/bore.md"] = "---\nname: Bore\nowner: tarrow\nstage: intake\nschedule:\n  - {every: 30 d, analytes: [nitrate]}\n---\n"
	j := journaltest.Load(t, files)
	now := time.Date(2026, 7, 20, 9, 0, 0, 0, time.UTC)
	due := judge.Due(j, now)
	for _, c := range []struct {
		owners    []string
		all       bool
		due, lots int
		hint      string
	}{
		{nil, false, 0, 0, "name them: --owner tarrow, or say --all-owners"},
		{nil, true, len(due), 1, ""},
		{[]string{"tarrow"}, false, 1, 0, ""},
		{[]string{"quillmarsh"}, false, len(due) - 1, 1, ""},
	} {
		cal := NewCalendar(j, due, now, c.owners, true)
		err := CalendarsApart([]Calendar{cal}, c.owners, c.all)
		if journal.HintOf(err) != c.hint || err == nil && (len(cal.Due) != c.due || len(cal.Lots) != c.lots) {
			t.Errorf("%q, all %t: %d tests, %d lots, %v", c.owners, c.all, len(cal.Due), len(cal.Lots), err)
		}
	}
}
