package query_test

import (
	"strings"
	"testing"

	"wj/journal/journaltest"
	"wj/query"
)

func TestUnite(t *testing.T) {
	first, second := journaltest.Blend(), journaltest.Blend()
	journaltest.Replace("sessions/2026-06-09-well.md", "278 mg/L", "312 mg/L")(second)
	var list []*query.Result
	for _, files := range []map[string]string{first, second} {
		r, err := query.Run(journaltest.Load(t, files), query.Request{Columns: []string{"id", "sulfate"}, Sort: []query.SortKey{{By: "sulfate", Descending: true}}, Limit: 3})
		if err != nil {
			t.Fatal(err)
		}
		list = append(list, r)
	}
	all := query.Unite([]string{"one", "two"}, list)
	var got []string
	for _, row := range all.Rows {
		got = append(got, row.Cells[0].Text+" "+row.Cells[1].Text+" "+row.Cells[2].Text)
	}
	if want := "two 2026-06-09-well 312|one 2026-06-09-well 278|one 2026-06-05-ro <2 mg/L"; strings.Join(got, "|") != want {
		t.Errorf("%q, want %q", strings.Join(got, "|"), want)
	}
	if all.Matched != 4 || all.Fields()[0] != "journal" {
		t.Errorf("matched %d, fields %v", all.Matched, all.Fields())
	}
}
