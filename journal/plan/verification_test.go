package plan

import (
	"fmt"
	"testing"
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
