package example_test

import (
	"fmt"
	"os"
	"slices"
	"strings"
	"testing"
	"time"

	"wj/journal"
	"wj/lint"
)

// Every fault planted in the untidy twin is found on its line, and the rules
// that have faults there find nothing else. (Rows for later rules need only be
// found.) Rows for rules that do not exist
// yet wait until they do.
func TestUntidyTwinHidesNothing(t *testing.T) {
	raw, err := os.ReadFile("../testdata/untidy-journal/expected.tsv")
	if err != nil {
		t.Fatal(err)
	}
	var want []string
	rules, later := map[string]bool{}, false
	for _, line := range strings.Split(strings.TrimSpace(string(raw)), "\n") {
		field := strings.Split(line, "\t")
		if strings.HasPrefix(line, "#") {
			later = later || line == "# later"
			continue
		}
		if len(field) != 3 {
			t.Fatalf("%q is not path, line, rule", line)
		}
		if _, known := lint.Find(field[2]); known {
			want = append(want, line)
			rules[field[2]] = rules[field[2]] || !later
		}
	}
	j, err := journal.Load(os.DirFS("../testdata/untidy-journal"), journal.Options{Check: true, Sessions: true})
	if err != nil {
		t.Fatal(err)
	}
	var got []string
	for _, d := range lint.Run(j, lint.Options{Now: time.Date(2026, time.September, 28, 12, 0, 0, 0, time.UTC)}).Diagnostics {
		row := fmt.Sprintf("%s\t%d\t%s", d.Path, d.Line, d.Rule)
		if rules[d.Rule] && !slices.Contains(want, row) {
			t.Errorf("found, but not planted: %s: %s", row, d.Message)
		}
		got = append(got, row)
	}
	for _, row := range want {
		if !slices.Contains(got, row) {
			t.Errorf("planted, but not found: %s", row)
		}
	}
	if len(want) < 40 {
		t.Errorf("only %d faults are planted", len(want))
	}
}
