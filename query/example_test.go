package query_test

import (
	"fmt"
	"testing/fstest"

	"wj/journal"
	"wj/query"
)

// Two sessions of one site, and the question which of them had more sulfate than
// 100 mg/L.
func Example() {
	j, err := journal.Load(fstest.MapFS{
		"wj.yaml":                         {Data: []byte("name: Example\n")},
		"sites/tap.md":                    {Data: []byte("---\nname: Tap\n---\n")},
		"sessions/2026/2026-03-04-tap.md": {Data: []byte("---\nsite: tap\nsampled: 2026-03-04T08:15+01:00\nreadings: {sulfate: 84 mg/L}\n---\n")},
		"sessions/2026/2026-03-11-tap.md": {Data: []byte("---\nsite: tap\nsampled: 2026-03-11T08:15+01:00\nreadings: {sulfate: 112 mg/L}\n---\n")},
	}, journal.Options{})
	if err != nil {
		fmt.Println(err)
		return
	}
	where, err := query.Compile("sulfate > 100")
	if err != nil {
		fmt.Println(err)
		return
	}
	r, err := query.Run(j, query.Request{Where: where, Columns: []string{"id", "sulfate"}})
	if err != nil {
		fmt.Println(err)
		return
	}
	for i := range r.Rows {
		fmt.Println(r.Record(i))
	}
	// Output: [{id 2026-03-11-tap} {sulfate 112} {sulfate_bound <nil>} {sulfate_limit <nil>} {sulfate_unit mg/L}]
}
