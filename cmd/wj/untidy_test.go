package main

import (
	"fmt"
	"os"
	"sort"
	"strings"
	"testing"
	"time"

	"wj/journal"
	"wj/lint"
)

// lintNow is the day as of which the journals are judged, so that nothing in
// them grows overdue as the years pass.
var lintNow = time.Date(2026, 10, 1, 12, 0, 0, 0, time.UTC)

func lintDir(t *testing.T, dir string) []lint.Diagnostic {
	t.Helper()
	j, err := journal.Load(journal.Dir(dir), journal.Options{Check: true, Sessions: true})
	if err != nil {
		t.Fatal(err)
	}
	return lint.Run(j, lint.Options{Now: lintNow}).Diagnostics
}

// Every fault planted in the untidy journal is found on its line by the rule
// that is meant for it, and nothing else is found.
func TestUntidyJournal(t *testing.T) {
	src, err := os.ReadFile("../../testdata/untidy-journal/expected.tsv")
	if err != nil {
		t.Fatal(err)
	}
	want := map[string]bool{}
	for _, line := range strings.Split(string(src), "\n") {
		if f := strings.Split(strings.TrimSpace(line), "\t"); len(f) == 3 && !strings.HasPrefix(line, "#") {
			if _, known := lint.Find(f[2]); known {
				want[strings.Join(f, " ")] = true
			}
		}
	}
	if len(want) < 45 {
		t.Fatalf("only %d faults are expected", len(want))
	}
	got := map[string]string{}
	for _, d := range lintDir(t, "../../testdata/untidy-journal") {
		got[fmt.Sprintf("%s %d %s", d.Path, d.Line, d.Rule)] = d.Message
		if d.Message == "" || d.Help == "" {
			t.Errorf("%s:%d %s: a finding without message or next step", d.Path, d.Line, d.Rule)
		}
	}
	for _, w := range sortedKeys(want) {
		if _, ok := got[w]; !ok {
			t.Errorf("not found: %s", w)
		}
	}
	for _, g := range sortedKeys(got) {
		if !want[g] {
			t.Errorf("found, but not planted: %s: %s", g, got[g])
		}
	}
}

func sortedKeys[V any](m map[string]V) []string {
	keys := make([]string, 0, len(m))
	for k := range m {
		keys = append(keys, k)
	}
	sort.Strings(keys)
	return keys
}

// The example journal is clean: no finding of any severity.
func TestExampleJournalIsClean(t *testing.T) {
	for _, d := range lintDir(t, "../../example-journal") {
		t.Errorf("%s:%d:%d %s %s: %s", d.Path, d.Line, d.Column, d.Severity, d.Rule, d.Message)
	}
}
