package cause

import (
	"math/rand/v2"
	"reflect"
	"slices"
	"testing"
)

// TestMemory: with a memory of the run before, whatever was edited, the verdicts up to
// the last session asked for are those of a run without.
func TestMemory(t *testing.T) {
	w := newWorld(3, 0.03, 0.7, true)
	w.run(40)
	sessions := slices.Clone(w.sessions)
	r := rand.New(rand.NewPCG(7, 7))
	var m Memory
	keys := make([]any, len(w.sites))
	for step := range 25 {
		before := sessions
		sessions = slices.Clone(sessions)
		n := len(sessions) - 1 - r.IntN(min(len(sessions)-1, 1+step*12))
		s := sessions[n]
		s.Readings = slices.Clone(s.Readings)
		i := r.IntN(len(s.Readings))
		s.Readings[i].Value *= []float64{0.5, 2, 1.22, 1.01, 10}[r.IntN(5)]
		switch sessions[n] = s; step % 7 {
		case 3:
			sessions = slices.Delete(sessions, n, n+1)
		case 5:
			sessions = slices.Insert(sessions, n, s)
		case 6:
			keys[0] = step // a site's record was edited
		}
		if step%5 == 0 { // two states alone, each whole
			two := Memory{Part: s.Time}
			for _, list := range [][]Session{sessions, before} {
				got, want := two.Explain(w.sites, keys, list, DefaultOdds, len(list)-1), Explain(w.sites, list, DefaultOdds, nil)
				if !reflect.DeepEqual(clean(got), clean(want)) {
					t.Fatalf("step %d: %d verdicts with the memory of the other state, %d without", step, len(got), len(want))
				}
			}
			if len(two.states) != 1 || two.states[0].n > n {
				t.Fatalf("step %d: %d states are kept", step, len(two.states))
			}
		}
		got := m.Explain(w.sites, keys, sessions, DefaultOdds, n)
		want := Explain(w.sites, sessions[:min(len(sessions), n+1+followUp)], DefaultOdds, nil)
		if len(got) == 0 && len(want) == 0 {
			continue
		}
		if !reflect.DeepEqual(clean(got), clean(want)) {
			t.Fatalf("step %d: %d verdicts and %d", step, len(got), len(want))
		}
	}
}

// clean takes out what is no number, and so not equal to itself.
func clean(list []Explanation) []Explanation {
	out := slices.Clone(list)
	for i := range out {
		v := &out[i]
		if v.Best.Means != v.Best.Means {
			v.Best.Means = -1
		}
		if v.Second != nil {
			c := *v.Second
			if c.Means != c.Means {
				c.Means = -1
			}
			v.Second = &c
		}
	}
	return out
}
