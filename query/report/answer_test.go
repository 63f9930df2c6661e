package report

import (
	"fmt"
	"strings"
	"testing"

	"wj/journal/journaltest"
	"wj/query"
)

func TestAnswer(t *testing.T) {
	j := journaltest.Load(t, journaltest.Blend())
	where, err := query.Compile("sulfate > 100")
	if err != nil {
		t.Fatal(err)
	}
	found, err := query.Run(j, query.Request{Where: where, Columns: []string{"id", "sulfate"}})
	if err != nil {
		t.Fatal(err)
	}
	a := Answer{found}
	got := fmt.Sprint(a.Said(), a.Fields(), a.Texts(), a.Table().Rows[0][1].Text, a.Objects()[0][1].Value)
	if want := "[1 of 2 sessions] [id sulfate sulfate_bound sulfate_limit sulfate_unit] [[2026-06-09-well 278   mg/L]]278278"; got != want {
		t.Errorf("%s\nnot %s", got, want)
	}
	if left := LeftOut(query.Counts{Void: 2, NoReading: 1}); strings.Join(left, ", ") != "1 without the reading, 2 void" {
		t.Errorf("left out: %q", left)
	}
}

func TestExplain(t *testing.T) {
	for name, want := range map[string]string{"": "list", "lot": "kind of record", "wj.yaml": "kind of record", "limit/health": "rule", "sulfate": "analyte", "residual_alkalinity": "computed value", "query": "query language", "map": "map of an import", "cause": "family of rules", "sulphur": ""} {
		if sort, page := Explain(name, nil); sort != want || (page == "") != (want == "") {
			t.Errorf("%q is %q, not %q", name, sort, want)
		}
	}
	for _, name := range Explained(nil) {
		if sort, _ := Explain(name, nil); sort == "" {
			t.Errorf("%q is not explained", name)
		}
	}
}
