package journal_test

import (
	"fmt"
	"testing/fstest"

	"wj/journal"
	"wj/water"
)

// A journal is loaded, each session is asked for its sulfate, and a value that
// follows from the readings is worked out where they are enough.
func ExampleLoad() {
	j, err := journal.Load(fstest.MapFS{
		"wj.yaml":                         {Data: []byte("name: Example\n")},
		"sites/tap.md":                    {Data: []byte("---\nname: Tap\n---\n")},
		"sessions/2026/2026-03-04-tap.md": {Data: []byte("---\nsite: tap\nsampled: 2026-03-04T08:15+01:00\nreadings: {sulfate: <5 mg/L, alkalinity: 4.8 dKH}\n---\n")},
		"sessions/2026/2026-03-11-tap.md": {Data: []byte("---\nsite: tap\nsampled: 2026-03-11T08:15+01:00\nreadings: {sulfate: 112 mg/L, chloride: 56 mg/L}\n---\n")},
	}, journal.Options{Sessions: true})
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, s := range j.Sessions.List {
		site, _ := j.Sites.Get(s.Site)
		if r, ok := s.Reading(water.Sulfate); ok {
			fmt.Printf("%s %s: %s as typed\n", journal.FormatDate(s.Sampled), site.Name, r.First)
		}
		var a water.Analysis
		j.Analysis(s, &a)
		if v, err := a.Value(water.SulfateChlorideRatio); err != nil {
			fmt.Println(" ", err)
		} else {
			fmt.Printf("  sulfate to chloride %s\n", water.Round(v.Value, 2))
		}
	}
	// Output:
	// 2026-03-04 Tap: <5 mg/L as typed
	//   no sulfate_chloride_ratio: needs chloride, sulfate is only known to be below 5.00
	// 2026-03-11 Tap: 112 mg/L as typed
	//   sulfate to chloride 2.0
}
