package query

import (
	"fmt"
	"slices"
	"strings"
	"testing"
)

func TestRecord(t *testing.T) {
	j := months(t)
	r := mustRun(t, j, Request{Where: mustCompile(t, `site == "north-well" and sample == "routine"`), Columns: []string{"id", "sulfate", "chloride", "pH", "lot(sulfate)", "month", "1 - conductivity / 520"}})
	fields := []string{"id", "sulfate", "sulfate_bound", "sulfate_limit", "sulfate_unit", "chloride", "chloride_bound", "chloride_limit", "chloride_unit",
		"pH", "pH_bound", "pH_limit", "lot(sulfate)", "month", "1 - conductivity / 520", "1 - conductivity / 520_bound", "1 - conductivity / 520_limit"}
	if got := r.Fields(); !slices.Equal(got, fields) {
		t.Errorf("fields %q", got)
	}
	seen := map[string]string{}
	for i := range r.Rows {
		record := r.Record(i)
		for k, f := range record {
			if f.Name != fields[k] {
				t.Fatalf("row %d: field %d is %q", i, k, f.Name)
			}
			seen[f.Name] += fmt.Sprintf("%v ", f.Value)
		}
	}
	for name, want := range map[string]string{
		"sulfate": "290 310 330 350 ", "sulfate_bound": "<nil> <nil> <nil> <nil> ", "sulfate_unit": "mg/L mg/L mg/L mg/L ",
	} {
		if seen[name] != want {
			t.Errorf("%s: %s", name, seen[name])
		}
	}
	if want := 2; strings.Count(seen["chloride_bound"], "<") < want || strings.Count(seen["chloride"], "nil") < want || strings.Count(seen["chloride_limit"], "5") < want {
		t.Errorf("chloride %s, bound %s, limit %s", seen["chloride"], seen["chloride_bound"], seen["chloride_limit"])
	}

	g, err := Reduce(r, nil, []string{"count", "median(chloride)", "max(chloride)", "min(chloride)", "last(chloride)"})
	if err != nil {
		t.Fatal(err)
	}
	got := fmt.Sprint(g.Record(0))
	want := "[{count 4} {median(chloride) <nil>} {median(chloride)_bound ..} {median(chloride)_limit <nil>} {median(chloride)_low 6} {median(chloride)_high 8.5} {median(chloride)_unit mg/L} " +
		"{max(chloride) 20} {max(chloride)_bound <nil>} {max(chloride)_limit <nil>} {max(chloride)_low <nil>} {max(chloride)_high <nil>} {max(chloride)_unit mg/L} " +
		"{min(chloride) <nil>} {min(chloride)_bound <} {min(chloride)_limit 5} {min(chloride)_low 0} {min(chloride)_high 5} {min(chloride)_unit mg/L} " +
		"{last(chloride) 12} {last(chloride)_bound <nil>} {last(chloride)_limit <nil>} {last(chloride)_unit mg/L}]"
	if got != want {
		t.Errorf("\n%s\n%s", got, want)
	}
}
