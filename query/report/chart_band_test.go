package report

import (
	"fmt"
	"io/fs"
	"os"
	"regexp"
	"strings"
	"testing"
	"testing/fstest"
	"time"

	"wj/journal"
	"wj/lint"
	"wj/water"
)

// TestBandOfTheLinter holds the expected band of a chart to the limits that site/control tells, over the example journal with its
// newest readings of a value raised: whatever time and source the chart is asked for.
func TestBandOfTheLinter(t *testing.T) {
	told := regexp.MustCompile(`(\w+) at ([\w-]+) has left its control limits (\S+) to ([\d.]+)`)
	seen := 0
	for _, value := range []string{"chloride", "alkalinity", "calcium_hardness", "total_hardness", "sulfate", "conductivity"} {
		m := fstest.MapFS{}
		reading := regexp.MustCompile(`(?m)^(  ` + value + `: +\{value: )([\d.]+)`)
		err := fs.WalkDir(os.DirFS("../../example-journal"), ".", func(p string, d fs.DirEntry, err error) error {
			if err != nil || d.IsDir() {
				return err
			}
			content, err := os.ReadFile("../../example-journal/" + p)
			if p >= "sessions/2026/2026-03" && p < "sessions/2027" {
				content = reading.ReplaceAllFunc(content, func(b []byte) []byte {
					var v float64
					parts := reading.FindSubmatch(b)
					fmt.Sscan(string(parts[2]), &v)
					return []byte(string(parts[1]) + water.Round(v*1.35, 3))
				})
			}
			m[p] = &fstest.MapFile{Data: content}
			return err
		})
		if err != nil {
			t.Fatal(err)
		}
		j, err := journal.Load(m, journal.Options{Sessions: true})
		if err != nil {
			t.Fatal(err)
		}
		for _, d := range lint.Run(j, lint.Options{Now: time.Date(2026, 10, 9, 12, 0, 0, 0, time.UTC), Only: []string{"site/control"}}).Diagnostics {
			found := told.FindStringSubmatch(d.Message)
			if found == nil {
				t.Fatalf("%s: no limits in %q", d.Path, d.Message)
			}
			f, _ := journal.FileOf(d.Path)
			s, _ := j.Sessions.Get(f.ID)
			id, _ := water.Lookup(found[1])
			if site, _ := j.Sites.Get(found[2]); j.Preferred(site.Owner, id) != id.Info().Unit {
				continue
			}
			for _, q := range []ChartRequest{{}, {From: time.Date(2025, 1, 1, 0, 0, 0, 0, time.UTC)}, {Sources: []string{"bench"}}} {
				q.Values, q.Sites = []string{found[1]}, []string{found[2]}
				c, err := NewChart(j, q)
				if err != nil || c.Control == nil {
					t.Fatal(q, err)
				}
				for _, e := range c.Control.Expected {
					for _, p := range c.Control.Points {
						if p.Session != s.ID || p.Regime != e.Regime {
							continue
						}
						seen++
						if water.Round(float64(*e.Lower), 3) != found[3] || !strings.HasPrefix(found[4], water.Round(float64(*e.Upper), 3)) {
							t.Errorf("%s: the linter says %s to %s, the chart since %s %v to %v", d.Message, found[3], found[4], q.From.Format("2006"), *e.Lower, *e.Upper)
						}
					}
				}
			}
		}
	}
	t.Log(seen, "bands compared")
	if seen < 3 {
		t.Errorf("only %d bands compared", seen)
	}
}
