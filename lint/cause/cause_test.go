package cause

import (
	"os"
	"strconv"
	"testing"
	"time"
)

// cases is how many worlds a test looks at: a few, or WJ_CASES.
func cases(few int) int {
	if n, err := strconv.Atoi(os.Getenv("WJ_CASES")); err == nil {
		return n
	}
	return few
}

func describe(sites []Site, sessions []Session, v *Explanation) string {
	s := &sessions[v.Session]
	text := sites[s.Site].Name + " " + s.Time.Format("2006-01-02") + " odds " + strconv.FormatFloat(v.Odds, 'g', 3, 64) + " " + names[v.Best.Kind]
	if v.Best.Reading >= 0 {
		text += " of " + s.Readings[v.Best.Reading].ID.String() + " " + s.Readings[v.Best.Reading].Number
	}
	if v.Second != nil {
		text += " or " + names[v.Second.Kind]
	}
	return text + " " + strconv.FormatFloat(v.Best.Posterior, 'f', 2, 64)
}

var names = [numKinds]string{"unit", "ten", "typo", "swap", "dilution", "bottle", "supply", "lot", "test", "meter", "change", "treatment", "cut"}

// TestGoodJournals: of good sessions at most 1.5 in a hundred get a verdict.
func TestGoodJournals(t *testing.T) {
	for _, season := range []float64{0, 0.03, 0.06} {
		for _, declared := range []bool{true, false} {
			warned, total := 0, 0
			var kinds [numKinds]int
			for seed := range cases(2) {
				w := newWorld(uint64(seed), season, 0.7, declared)
				w.run(60)
				total += len(w.sessions)
				for _, v := range Explain(w.sites, w.sessions, DefaultOdds, nil) {
					warned++
					kinds[v.Best.Kind]++
					if warned <= 6 {
						t.Log(describe(w.sites, w.sessions, &v))
					}
				}
			}
			share := 100 * float64(warned) / float64(total)
			t.Logf("season %g, supplies declared %v: %d of %d (%.2f %%) %v", season, declared, warned, total, share, kinds)
			if share > 1.5 {
				t.Errorf("season %g, supplies declared %v: %.2f %% of good sessions are reported", season, declared, share)
			}
		}
	}
}

// TestWaterOnTheMove: a water that one reading of moves by a third in two years is no lot
// that reads wrong, and no failed test.
func TestWaterOnTheMove(t *testing.T) {
	for seed := range cases(2) {
		w := newWorld(uint64(4000+seed), 0.03, 0.6, true)
		w.truth[wellA][sul] = 190
		day := time.Date(2024, 1, 8, 8, 0, 0, 0, time.UTC)
		for n := range 104 {
			w.lots = n / 40
			w.truth[wellA][sul] *= 0.996
			w.sessions = append(w.sessions, w.session(wellA, day.AddDate(0, 0, 7*n)))
		}
		for _, o := range Explain(w.sites, w.sessions, DefaultOdds, nil) {
			t.Errorf("world %d: %s at week %d, odds %.3g", seed, names[o.Best.Kind], o.Session, o.Odds)
		}
	}
}
