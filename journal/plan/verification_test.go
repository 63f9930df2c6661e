package plan

import (
	"fmt"
	"strings"
	"testing"

	"wj/water"
)

// TestDue: the first batch is tested, then at the latest the every-th after the
// last test, counted by hand. T is a tested batch, . one that was not.
func TestDue(t *testing.T) {
	for _, c := range []struct {
		batches string
		missed  string
		next    int
	}{
		{"", "[]", 0},
		{"T", "[]", 3},
		{".", "[0]", 1},    // never tested: the next one is due
		{".T", "[0]", 4},   // told once
		{"T..", "[]", 3},   // the fourth is due
		{"T...", "[3]", 4}, // and was left out
		{"T.T..", "[]", 5}, // an early test moves the next
		{"T.T...", "[5]", 6},
		{"T.....", "[3]", 6}, // one omission, one finding
		{"T......", "[3 6]", 7},
		{"TTTT", "[]", 6},
	} {
		tested := make([]bool, len(c.batches))
		for i := range tested {
			tested[i] = c.batches[i] == 'T'
		}
		missed, next := Due(tested, 3)
		if fmt.Sprint(missed) != c.missed || next != c.next {
			t.Errorf("%q: missed %v, next %d; want %s, %d", c.batches, missed, next, c.missed, c.next)
		}
	}
}

// Three tanks whose readings lie between nothing and equilibrium narrow the range, from the day after; what was computed before stays.
func TestSettledIsLearned(t *testing.T) {
	edits := map[string]func(string) string{
		"changes/2026-02-01-hot.md": text(`---
for: dark-mild
author: ines
proposed: 2026-02-01
basis:
  - {session: 2026-06-09-north-well, share: 100 %}
volume: 1000 L
temperature: 80 degC
---
`)}
	hot := `---
site: hot-liquor-tank
sample: verification
change: 2026-02-01-hot
sampled: DAYT10:12+03:00
tested: DAYT10:18+03:00
by: ines
instrument: meter-2
readings:
  alkalinity: {value: READ mg/L CaCO3, lot: AL-2603}
---
`
	for day, read := range map[string]string{"2026-07-01": "180", "2026-07-02": "185", "2026-07-03": "176"} {
		edits["sessions/2026/"+day+"-hot-liquor-tank.md"] = text(strings.NewReplacer("DAY", day, "READ", read).Replace(hot))
	}
	b := Open(story(t, edits))
	if s := b.settled(at(t, "2026-07-03T09:00+03:00")); s.Batches != 0 {
		t.Errorf("two tanks narrow it already: %+v", s)
	}
	s := b.settled(at(t, "2026-07-04T09:00+03:00"))
	if s.Batches != 3 || !(s.Low > 0 && s.High < 1 && s.High > s.Low+0.15) {
		t.Fatalf("three tanks: %+v", s)
	}
	c := change(t, b.j, "2026-02-01-hot")
	before, err := b.OnBasis(c)
	if err != nil {
		t.Fatal(err)
	}
	after, err := b.OnDay(c, at(t, "2026-07-04T09:00+03:00"))
	if err != nil {
		t.Fatal(err)
	}
	wide, err1 := before.Range(water.Alkalinity)
	narrow, err2 := after.Range(water.Alkalinity)
	if err1 != nil || err2 != nil || narrow.High-narrow.Low >= wide.High-wide.Low || 180 < narrow.Low || 180 > narrow.High {
		t.Errorf("%+v, after %+v, %v %v", wide, narrow, err1, err2)
	}
}
