package example_test

import (
	"testing"
	"time"

	example "wj/example-journal"
	"wj/journal"
	"wj/lint"
)

// The linter has nothing to say about the example, not even an information.
func TestLinterFindsNothing(t *testing.T) {
	j, err := journal.Load(example.FS(), journal.Options{Check: true, Sessions: true})
	if err != nil {
		t.Fatal(err)
	}
	result := lint.Run(j, lint.Options{Now: time.Date(2026, time.September, 28, 12, 0, 0, 0, time.UTC)})
	for _, d := range result.Diagnostics {
		t.Errorf("%s:%d:%d: %s: %s", d.Path, d.Line, d.Column, d.Rule, d.Message)
	}
	if result.Sessions < 350 {
		t.Errorf("only %d sessions were looked at", result.Sessions)
	}
}
