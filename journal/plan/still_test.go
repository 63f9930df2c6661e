package plan

import (
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"strconv"
	"strings"
	"testing"
	"time"

	"wj/journal"
	"wj/journal/journaltest"
	"wj/water"
)

// stillTests are what the simulated photometer reads of a well: its value, and the accuracy that is
// declared, absolute and as a part, 95 %.
var stillTests = []struct {
	id                        string
	unit                      string
	truth, absolute, relative float64
}{
	{"alkalinity", "mg/L CaCO3", 236, 5, 0.05}, {"calcium_hardness", "mg/L CaCO3", 340, 5, 0.05}, {"total_hardness", "mg/L CaCO3", 420, 5, 0.05},
	{"chloride", "mg/L", 44, 2, 0.05}, {"sulfate", "mg/L", 178, 5, 0.08},
}

// stillYearOf simulates a year of one well that does not move, sampled so often, and reports whether
// an approval expired at any sample. Errors are the bench's that all readings share, a lot's, new in
// each quarter, and a reading's own: parts of the declared standard uncertainty.
func stillYearOf(t *testing.T, r *rand.Rand, every int, bench, lot, own float64) (lapsed string) {
	files := journaltest.Blend()
	for name := range files {
		if strings.HasPrefix(name, "sessions/") || strings.HasPrefix(name, "changes/") {
			delete(files, name)
		}
	}
	meter := "---\nname: Meter\nmeasures:\n"
	for _, x := range stillTests {
		meter += fmt.Sprintf("  %s: {accuracy: %g %s + %g %%}\n", x.id, x.absolute, x.unit, 100*x.relative)
	}
	files["instruments/meter-1.md"] = meter + "---\n"
	shared, lots := map[string]float64{}, map[string]float64{}
	for _, x := range stillTests {
		shared[x.id] = bench * r.NormFloat64()
	}
	start := time.Date(2025, 1, 6, 6, 0, 0, 0, time.UTC)
	sample := func(site string, when time.Time, share float64) string {
		text := fmt.Sprintf("---\nsite: %s\nsampled: %s\nby: ines\ninstrument: meter-1\nreadings:\n", site, when.Format("2006-01-02T15:04Z"))
		for _, x := range stillTests {
			key := fmt.Sprint(x.id, when.YearDay()/91)
			if _, known := lots[key]; !known {
				lots[key] = lot * r.NormFloat64()
			}
			truth := x.truth * share
			u := (x.absolute + x.relative*truth) / 1.96
			text += fmt.Sprintf("  %s: %.0f %s\n", x.id, math.Max(0, truth+u*(shared[x.id]+lots[key]+own*r.NormFloat64())), x.unit)
		}
		return text + "---\n"
	}
	signedOn := start.Add(24 * time.Hour)
	files["sessions/2025-01-06-well.md"] = sample("well", start, 1)
	files["sessions/2025-01-06-ro.md"] = sample("ro", start, 0.02)
	var looks []time.Time
	for day := every; day <= 365; day += every {
		when := start.AddDate(0, 0, day)
		files["sessions/"+when.Format(time.DateOnly)+"-well.md"] = sample("well", when, 1)
		looks = append(looks, when.Add(time.Hour))
	}
	change := "---\nfor: bitter\nauthor: ines\nproposed: 2025-01-07\nbasis:\n  - {session: 2025-01-06-well, share: 40 %}\n  - {session: 2025-01-06-ro, share: 60 %}\nvolume: 1500 L\nadd:\n  gypsum: {amount: 210 g, lot: GY-1}\n"
	files["changes/2025-01-07-bitter.md"] = change + "---\n"
	// The target keeps two of the values with a chance of 95 % each, as they were read.
	book := Open(journaltest.Load(t, files))
	c, _ := book.j.Changes.Get("2025-01-07-bitter")
	w, err := book.OnBasis(c)
	if err != nil {
		t.Fatal(err)
	}
	target := "---\nname: Bitter\nranges:\n"
	expect := "expect:\n"
	for _, id := range []water.ID{water.Calcium, water.Magnesium, water.Chloride, water.Sulfate, water.Alkalinity} {
		v := book.Verdict(w, id).Value
		margin := 6.0
		if id == water.Sulfate || id == water.Alkalinity { // near their limits: a chance of 95 %
			margin = 1.645
		}
		target += fmt.Sprintf("  %s: {max: %.1f %s}\n", id, v.Value+margin*v.U, id.Info().Unit)
		expect += fmt.Sprintf("  %s: %s\n", id, Text(v))
	}
	files["targets/bitter.md"] = target + "---\n"
	files["changes/2025-01-07-bitter.md"] = change + expect + "---\n"
	book = Open(journaltest.Load(t, files))
	c, _ = book.j.Changes.Get("2025-01-07-bitter")
	signed := &journal.Signoff{Of: c.ID, On: signedOn, Covers: map[string]string{"sessions/2025-01-06-well.md": "", "sessions/2025-01-06-ro.md": ""}}
	for _, at := range looks {
		moves, err := book.Moved(c, signed, at)
		if err != nil {
			t.Fatal(err)
		}
		if len(moves) > 0 {
			return moves[0].Words
		}
	}
	return ""
}

// TestStillWater: of approvals on water that does not move at most 5 % end in a year, with meters that
// err as their makers declare. The errors that readings share may be of any size; those of their own are
// the larger part where a bench has one careful person and one meter.
func TestStillWater(t *testing.T) {
	years, few := 3, true
	if n, err := strconv.Atoi(os.Getenv("WJ_CASES")); err == nil {
		years, few = n, false
	}
	for _, c := range []struct {
		name            string
		every           int // days
		bench, lot, own float64
		mostShare       float64
	}{
		{name: "a month, as declared", every: 30, bench: 0.6, lot: 0.5, own: 0.62, mostShare: 0.05},
		{name: "a fortnight, as declared", every: 14, bench: 0.6, lot: 0.5, own: 0.62, mostShare: 0.05},
		{name: "a fortnight, better than declared", every: 14, bench: 0.4, lot: 0.3, own: 0.4, mostShare: 0.05},
	} {
		lapsed, words := 0, ""
		for seed := range years {
			if w := stillYearOf(t, rand.New(rand.NewPCG(uint64(seed), 77)), c.every, c.bench, c.lot, c.own); w != "" {
				lapsed++
				words = w
			}
		}
		t.Logf("%s: %d of %d years (%s)", c.name, lapsed, years, words)
		if !few && float64(lapsed) > c.mostShare*float64(years)+2*math.Sqrt(c.mostShare*float64(years)) || few && lapsed > 1 {
			t.Errorf("%s: %d of %d approvals ended on still water: %s", c.name, lapsed, years, words)
		}
	}
}
