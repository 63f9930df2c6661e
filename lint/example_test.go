package lint_test

import (
	"fmt"
	"testing/fstest"
	"time"

	"wj/journal"
	"wj/lint"
)

// A journal in memory is judged, and each finding printed with its place. The
// moment that counts as now is given, so the result is the same on every day.
func ExampleRun() {
	j, err := journal.Load(fstest.MapFS{
		"wj.yaml":         {Data: []byte("format: 1\nname: Example\ntimezone: Europe/Berlin\n")},
		"people/jonas.md": {Data: []byte("---\nname: Jonas Welk\n---\n")},
		"owners/house.md": {Data: []byte("---\nname: House\n---\n")},
		"sites/tap.md":    {Data: []byte("---\nname: Tap\nowner: house\nstage: intake\n---\n")},
		"sessions/2026/2026-03-04-tap.md": {Data: []byte(`---
site: tap
sampled: 2026-03-04T08:15+01:00
by: jonas
readings:
  sulfate: 84
  clhoride: 31 mg/L
---
`)},
	}, journal.Options{Check: true, Sessions: true})
	if err != nil {
		fmt.Println(err)
		return
	}
	result := lint.Run(j, lint.Options{Now: time.Date(2026, 3, 5, 9, 0, 0, 0, time.UTC)})
	for _, d := range result.Diagnostics {
		fmt.Printf("%s:%d:%d: %s: %s [%s]\n", d.Path, d.Line, d.Column, d.Severity, d.Message, d.Rule)
		fmt.Println("  help:", d.Help)
	}
	fmt.Println(result.Count(lint.Error), "errors in", result.Files, "files")
	// Output:
	// sessions/2026/2026-03-04-tap.md:6:12: error: 84: sulfate has no unit [unit/missing]
	//   help: as read: mg/L, mg/L SO4, mg/L S, mmol/L, meq/L?
	// sessions/2026/2026-03-04-tap.md:7:3: error: "clhoride" is not a key here [format/unknown-key]
	//   help: did you mean chloride?
	// 2 errors in 5 files
}
