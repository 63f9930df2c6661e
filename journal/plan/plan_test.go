package plan

import (
	"io/fs"
	"math"
	"strings"
	"testing"
	"testing/fstest"
	"time"

	"pgregory.net/rapid"

	example "wj/example-journal"
	"wj/journal"
	"wj/water"
	"wj/water/treat"
)

const (
	wellPath   = "sessions/2026/2026-06-09-north-well.md"
	lessGypsum = "2026-06-11-wicket-bitter-less-gypsum"
	oldDose    = "2023-11-08-wicket-bitter"
)

// story is the example journal with some files replaced.
func story(t testing.TB, edits map[string]func(string) string) *journal.Journal {
	t.Helper()
	files := fstest.MapFS{}
	err := fs.WalkDir(example.FS(), ".", func(p string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		src, err := fs.ReadFile(example.FS(), p)
		files[p] = &fstest.MapFile{Data: src}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	for p, edit := range edits {
		old := ""
		if f := files[p]; f != nil {
			old = string(f.Data)
		}
		files[p] = &fstest.MapFile{Data: []byte(edit(old))}
	}
	j, err := journal.Load(files, journal.Options{Sessions: true})
	if err != nil {
		t.Fatal(err)
	}
	return j
}

func text(s string) func(string) string { return func(string) string { return s } }

// wellOf is a bench session of the well; sulfate and total hardness are read in
// a sample diluted 1:1.
func wellOf(day, calcium, total, chloride, sulfate string) string {
	return `---
site: north-well
sampled: ` + day + `T10:12+03:00
tested: ` + day + `T10:18+03:00
by: ines
instrument: meter-2
readings:
  pH:               {value: 7.2, lot: PH-2602}
  alkalinity:       {value: 246 mg/L CaCO3, lot: AL-2603}
  calcium_hardness: {value: ` + calcium + ` mg/L CaCO3, lot: CH-2604}
  total_hardness:   {value: ` + total + ` mg/L CaCO3, dilution: 2, lot: TH-2604}
  chloride:         {value: ` + chloride + ` mg/L, lot: CL-2604}
  sulfate:          {value: ` + sulfate + ` mg/L, dilution: 2, lot: SU-2604}
  temperature:      11 degC
---
`
}

func at(t testing.TB, s string) time.Time {
	t.Helper()
	v, err := journal.ParseTime(s)
	if err != nil {
		t.Fatal(err)
	}
	return v
}

func change(t testing.TB, j *journal.Journal, id string) *journal.Change {
	t.Helper()
	c, ok := j.Changes.Get(id)
	if !ok {
		t.Fatalf("no change %s", id)
	}
	return c
}

// The figures were computed by hand from the story's waters and doses before
// this package was written: blend, the dose of 2023 on that day's water, the
// proposal and its half-widths, margins in standard uncertainties, costs, and
// between what the well's sulfate must stay.
func TestReviewFigures(t *testing.T) {
	j := story(t, map[string]func(string) string{wellPath: text(wellOf("2026-06-09", "417", "271.5", "44", "153"))})
	b := Open(j)
	now := at(t, "2026-06-11T18:00+03:00")
	proposed, err := b.OnBasis(change(t, j, lessGypsum))
	if err != nil {
		t.Fatal(err)
	}
	before, err := b.OnDay(change(t, j, oldDose), now)
	if err != nil {
		t.Fatal(err)
	}
	near := func(what string, got, want, within float64) {
		t.Helper()
		if !(math.Abs(got-want) <= within) {
			t.Errorf("%s: %.3f, want %g ± %g", what, got, want, within)
		}
	}
	for _, r := range []struct {
		id                                   water.ID
		blend, now, proposed, spread, margin float64
	}{
		{water.Calcium, 67.3, 134.9, 121.7, 5, 6.9},
		{water.Magnesium, 12.3, 12.3, 12.3, 4, math.NaN()},
		{water.Sodium, 16.9, 16.9, 16.9, math.Hypot(10, 2*0.4*0.037*12.6*22.99), math.NaN()},
		{water.Chloride, 18.3, 47.3, 56.9, 5, 7.1},
		{water.Sulfate, 122.9, 245.6, 201.0, 14, 2.9},
		{water.Alkalinity, 101.4, 79.3, 79.3, 8, 2.85}, // by titration: 0.16 of the lactate takes its proton back at pH 4.5
		{water.ResidualAlkalinity, 46.2, -24.2, -14.74, 8, 3.9},
	} {
		v, n := b.Verdict(proposed, r.id), b.Verdict(before, r.id)
		blend, err := proposed.Prediction.Blend(r.id)
		if err != nil || !v.Known || !n.Known {
			t.Fatal(r.id, err, v.Why, n.Why)
		}
		within := 0.06
		switch r.id {
		case water.Sodium:
			within = 0.5 // by difference: the sum of all roundings of the other figures
		case water.Alkalinity, water.ResidualAlkalinity:
			within = 0.15 // the protons that sulfate and the ionic strength hold at the end point were not counted by hand
		}
		near(r.id.String()+" blend", blend.Value, r.blend, within)
		// The permeate of that day is the bench's where the bench has a number (chloride 1 for 1.2).
		near(r.id.String()+" before", n.Value.Value, r.now, math.Max(within, 0.25))
		near(r.id.String()+" proposed", v.Value.Value, r.proposed, within)
		near(r.id.String()+" half-width", v.Value.Expanded(), r.spread, 0.75)
		if !math.IsNaN(r.margin) {
			near(r.id.String()+" margin", v.Margin, r.margin, 0.15)
		}
		if out := r.id == water.Sulfate; n.Inside() == out || !v.Inside() {
			t.Errorf("%s: inside before %v, proposed %v", r.id, n.Inside(), v.Inside())
		}
	}
	for i, want := range []float64{0.44, 0.31, 0.68} {
		cost, _ := proposed.Prediction.Doses[i].Cost()
		near(proposed.Prediction.Doses[i].Substance, cost, want, 0.01)
	}
	bound := b.Bounds(proposed)[1]
	if bound.Site != "north-well" || bound.ID != water.Sulfate {
		t.Errorf("after alkalinity the tightest is %s of %s", bound.ID, bound.Site)
	}
	near("low", bound.Low, 253.5, 0.3)
	near("high", bound.High, 403.5, 0.3)
	if d := b.Recompute(proposed); len(d) > 0 {
		t.Errorf("recomputed otherwise: %v", d)
	}
}

// 1480 L of the demo's dose is 207 g, 118 g and 74 mL on a scale of 1 g and 1 mL.
func TestScaled(t *testing.T) {
	j := story(t, nil)
	b := Open(j)
	w, err := b.OnDay(change(t, j, lessGypsum), at(t, "2026-06-16T05:00+03:00"))
	if err != nil {
		t.Fatal(err)
	}
	if w, err = w.Scaled(1480); err != nil {
		t.Fatal(err)
	}
	for i, want := range []string{"207", "118", "74"} {
		if got := w.Prediction.Doses[i].AmountText(); got != want {
			t.Errorf("%s: %s, want %s", w.Prediction.Doses[i].Substance, got, want)
		}
	}
}

// 75 for 44 mg/L in 40 % of the blend, and the bench's 1.0 for the laboratory's
// 1.2 in the rest, make 56.9 + 12.4 - 0.1 = 69.2 mg/L of chloride.
func TestMoved(t *testing.T) {
	later := "sessions/2026/2026-09-22-north-well.md"
	for _, c := range []struct {
		name, change, when, session, want string
	}{
		{"nothing newer", lessGypsum, "2026-06-12T12:00+03:00", "", ""},
		{"drifts inside", lessGypsum, "2026-09-20T12:00+03:00", "", ""},
		{"sulfate leaves the target", lessGypsum, "2026-09-24T12:00+03:00", wellOf("2026-09-22", "425", "276", "44", "205"), "over the 240 of the target"},
		{"chloride moves inside", lessGypsum, "2026-09-24T12:00+03:00", wellOf("2026-09-22", "425", "276", "75", "159"), "chloride would be 69.2 ± "},
		{"the dose of 2023, renewed in 2025, in June 2026", oldDose, "2026-06-11T12:00+03:00", "", "(237 when signed)"},
		{"the dose of 2023 right after its renewal", oldDose, "2025-10-22T12:00+03:00", "", ""},
		{"before the renewal: by less than the two readings may differ", oldDose, "2025-10-20T12:00+03:00", "", ""},
	} {
		edits := map[string]func(string) string{}
		if c.session != "" {
			edits[later] = text(c.session)
		}
		j := story(t, edits)
		got := Open(j).MovedWords(change(t, j, c.change), at(t, c.when), nil)
		if (c.want == "") != (got == "") || !strings.Contains(got, c.want) {
			t.Errorf("%s: %q, want %q", c.name, got, c.want)
		}
		unknown := func(s *journal.Session) bool { return "sessions/"+s.ID+".md" != later && s.Path != later }
		if got := Open(j).MovedWords(change(t, j, c.change), at(t, c.when), unknown); c.session != "" && got != "" {
			t.Errorf("%s, by what was known: %q", c.name, got)
		}
	}
}

// A newer bound leaves an older number alone that it agrees with, and takes the
// place of one that it contradicts; a recalled lot's readings count no more.
func TestToday(t *testing.T) {
	permeate := func(alkalinity string) string {
		return "---\nsite: ro-permeate\nsampled: 2026-06-10T08:00+03:00\nby: ines\ninstrument: meter-2\nreadings:\n  alkalinity: " + alkalinity + "\n  sulfate: {value: 3 mg/L, lot: SU-2604}\n---\n"
	}
	number := func(edits map[string]func(string) string, id water.ID) (float64, water.Bound) {
		j := story(t, edits)
		w, err := Open(j).OnDay(change(t, j, lessGypsum), at(t, "2026-06-11T18:00+03:00"))
		if err != nil {
			t.Fatal(err)
		}
		m, _ := w.Sources[1].Analysis.Measured(id)
		return m.Value, m.Bound
	}
	path := "sessions/2026/2026-06-10-ro-permeate.md"
	if v, bound := number(map[string]func(string) string{path: text(permeate("<10 mg/L CaCO3"))}, water.Alkalinity); math.Abs(v-5) > 0.1 || bound != water.Exact {
		t.Errorf("a bound of 10 over a number of 5: %g %v", v, bound)
	}
	if v, bound := number(map[string]func(string) string{path: text(permeate("<4 mg/L CaCO3"))}, water.Alkalinity); v != 4 || bound != water.Below {
		t.Errorf("a bound of 4 against a number of 5: %g %v", v, bound)
	}
	if v, _ := number(map[string]func(string) string{path: text(permeate("<10 mg/L CaCO3"))}, water.Sulfate); v != 3 {
		t.Errorf("the newest sulfate: %g, want 3", v)
	}
	recall := func(s string) string {
		return strings.Replace(s, "\n---\n", "\nrecalled: {on: 2026-06-11, reason: reads high}\n---\n", 1)
	}
	if v, _ := number(map[string]func(string) string{path: text(permeate("<10 mg/L CaCO3")), "lots/SU-2604.md": recall}, water.Sulfate); math.Abs(v-0.8) > 0.01 {
		t.Errorf("sulfate without the recalled lot: %g, want the laboratory's 0.8", v)
	}
}

// A newest sample of one reading, with a recalled lot, is left out, and no dose rests on the older
// one in its place without a word; a newer reading with a good lot settles it.
func TestRecalledNewestSample(t *testing.T) {
	sample := func(day, lot string) string {
		return "---\nsite: north-well\nsampled: 2026-06-" + day + "T08:00+03:00\nby: ines\ninstrument: meter-2\nreadings:\n  sulfate: {value: 118 mg/L, dilution: 2, lot: " + lot + "}\n---\n"
	}
	recall := text("---\nanalyte: sulfate\nexpires: 2027-12\nrecalled: {on: 2026-06-11, reason: reads high}\n---\n")
	edits := map[string]func(string) string{"sessions/2026/2026-06-10-north-well.md": text(sample("10", "SU-9")), "lots/SU-9.md": recall}
	reasons := func() string {
		j := story(t, edits)
		b := Open(j)
		w, err := b.OnDay(change(t, j, lessGypsum), at(t, "2026-06-11T18:00+03:00"))
		if err != nil {
			t.Fatal(err)
		}
		return strings.Join(b.doubtful(w), "\n")
	}
	if got := reasons(); !strings.Contains(got, "the newer sample 2026-06-10-north-well is doubtful: sulfate was read with lot SU-9, recalled on 2026-06-11; repeat the reading") {
		t.Errorf("recalled: %q", got)
	}
	edits["sessions/2026/2026-06-11-north-well.md"] = text(sample("11", "SU-2604"))
	if got := reasons(); got != "" {
		t.Errorf("repeated with a good lot: %q", got)
	}
}

// E_n = |195 − 201| / √(25.6² + 14²) = 0.21 and so on, by hand from the story's
// readings and the meter's promise of ±(5 + 8 %) with a dilution of 2.
func TestVerification(t *testing.T) {
	j := story(t, nil)
	batch, ok := j.Batches.Get("2026-118")
	if !ok {
		t.Fatal("no batch 2026-118")
	}
	b := Open(j)
	v, ok := b.Of(batch)
	if !ok || v.Verdict() != "verified" {
		t.Fatalf("%v %s", ok, v.Line())
	}
	want := map[water.ID]float64{water.Sulfate: 6 / math.Hypot(2*5+0.08*195, 14), water.Chloride: 1 / math.Hypot(2+0.05*58, 5)}
	for _, i := range v.Ions {
		if e, ok := want[i.ID]; ok && math.Abs(math.Abs(i.ErrorRatio)-e) > 0.005 {
			t.Errorf("%s: E_n %.3f, want %.3f", i.ID, i.ErrorRatio, e)
		}
		if !i.Inside() {
			t.Errorf("%s is outside", i.ID)
		}
	}
	c := change(t, j, lessGypsum)
	for i := range c.Expect {
		if c.Expect[i].Name == water.Sulfate {
			c.Expect[i].Value.Value = 155 // 40 off, both together are uncertain by 29, and of four values one may be off by 1.27 times that
		}
	}
	if v := b.Verification(c, v.Session); v.Verdict() != "missed" || v.Missed()[0].ID != water.Sulfate {
		t.Errorf("%s", v.Line())
	}
}

func TestPrice(t *testing.T) {
	gram, millilitre := treat.Product{Unit: water.Gram}, treat.Product{Unit: water.Millilitre}
	for _, c := range []struct {
		text  string
		goods treat.Product
		want  float64
		fails string
	}{
		{"2.10 EUR/kg", gram, 2.10, ""}, {"9.10 EUR/L", millilitre, 9.10, ""}, {"0.5 EUR / g", gram, 500, ""}, {"3 EUR/mL", millilitre, 3000, ""},
		{"2.10 EUR/L", gram, 0, "doses are in g"}, {"2,10 EUR/kg", gram, 0, "not a number"}, {"2.10 EUR", gram, 0, "write it as"}, {"2 EUR/sack", gram, 0, "is no unit"}, {"", gram, 0, "has no price"}, {"-1 EUR/kg", gram, 0, "not a number"},
	} {
		got, _, err := Price(&journal.Lot{Price: c.text}, c.goods)
		if c.fails == "" && (err != nil || math.Abs(got-c.want) > 1e-9) || c.fails != "" && (err == nil || !strings.Contains(err.Error(), c.fails)) {
			t.Errorf("%q: %g, %v; want %g %s", c.text, got, err, c.want, c.fails)
		}
	}
}

// What is written down as a change is what was worked out: read back, it gives
// the same water, and its expectations recompute.
func TestRecordReadsBack(t *testing.T) {
	j := story(t, nil)
	b := Open(j)
	shelf, currency, err := b.Shelf(at(t, "2026-09-20T12:00+03:00"))
	if err != nil || len(shelf) != 3 || currency != "EUR" {
		t.Fatalf("%v %q %v", shelf, currency, err)
	}
	sessions := map[string]*journal.Session{}
	for name, id := range map[string]string{"north-well": "2026-09-15-north-well", "ro-permeate": "2026-06-05-ro-permeate"} {
		s, ok := j.Sessions.Get(id)
		if !ok {
			t.Fatal(id)
		}
		sessions[name] = s
	}
	well, permeate := b.SourceOf(sessions["north-well"]), b.SourceOf(sessions["ro-permeate"])
	rapid.Check(t, func(t *rapid.T) {
		share, litres := float64(rapid.IntRange(1, 99).Draw(t, "share"))/100, float64(rapid.IntRange(10, 50000).Draw(t, "volume"))
		p := treat.Plan{Volume: litres, UVolume: treat.TypicalVolumeUncertainty * litres, Temperature: math.NaN(),
			Waters: []treat.Portion{{Name: "north-well", Analysis: &well.Analysis, Share: share, UShare: treat.TypicalShareUncertainty}, {Name: "ro-permeate", Analysis: &permeate.Analysis, Share: 1 - share, UShare: treat.TypicalShareUncertainty}}}
		for _, g := range shelf {
			if n := rapid.IntRange(0, 300).Draw(t, g.Substance); n > 0 {
				p.Additions = append(p.Additions, treat.Addition{Product: g, Amount: float64(n)})
			}
		}
		c, err := Record("wicket-bitter", sessions, p, water.Quantity{Value: p.Volume, Unit: water.Litre}, "")
		if err != nil {
			t.Fatal(err)
		}
		c.Author, c.Proposed = "ines", time.Date(2026, 9, 20, 0, 0, 0, 0, time.UTC)
		w, err := b.OnBasis(c)
		if err != nil {
			t.Fatal(err)
		}
		direct, err := treat.Predict(p)
		if err != nil {
			t.Fatal(err)
		}
		for _, id := range b.Values(c) {
			x, err1 := w.Value(id)
			y, err2 := direct.Value(id)
			if (err1 == nil) != (err2 == nil) || math.Abs(x.Value-y.Value) > 1e-9*(1+math.Abs(y.Value)) || math.Abs(x.U-y.U) > 1e-9*(1+y.U) {
				t.Fatalf("%s: %v %v, want %v %v", id, x, err1, y, err2)
			}
		}
		for _, e := range b.Expect(w) {
			q, err := water.ParseQuantity(e.Value)
			id, ok := water.Lookup(e.Key)
			if err != nil || !ok {
				t.Fatal(e, err)
			}
			c.Expect = append(c.Expect, journal.Expected{Name: id, Value: q})
		}
		if d := b.Recompute(w); len(d) > 0 {
			t.Fatalf("%v", d)
		}
	})
}

// Own mashes make the estimate once there are eight of the beer.
func TestMash(t *testing.T) {
	j := story(t, nil)
	b := Open(j)
	w, err := b.OnBasis(change(t, j, lessGypsum))
	if err != nil {
		t.Fatal(err)
	}
	early, err := b.MashPH(w, at(t, "2024-03-01T12:00+02:00"))
	if err != nil || early.Method != "residual alkalinity" || early.HalfWidth < treat.MashSpread {
		t.Errorf("with two mashes: %+v %v", early, err)
	}
	late, err := b.MashPH(w, at(t, "2026-09-20T12:00+03:00"))
	if err != nil || late.Method != "own mashes" || math.Abs(late.PH-5.35) > 0.02 || late.HalfWidth > treat.MashSpread {
		t.Errorf("with all mashes: %+v %v", late, err)
	}
}

// A basis that is old, and one that newer water contradicts, is named before anything is drafted.
func TestDoubtsOfABasis(t *testing.T) {
	j := story(t, nil)
	b := Open(j)
	w, err := b.OnBasis(change(t, j, lessGypsum))
	if err != nil {
		t.Fatal(err)
	}
	if d := b.Doubts(w, at(t, "2026-06-11T12:00+03:00")); len(d) != 0 {
		t.Errorf("on the day: %q", d)
	}
	late := strings.Join(b.Doubts(w, at(t, "2026-09-20T12:00+03:00")), "\n")
	if !strings.Contains(late, "2026-06-09-north-well is 103 days old") {
		t.Errorf("in September: %s", late)
	}
}

// Each thing that makes a basis doubtful is named by itself.
func TestEachDoubtIsNamed(t *testing.T) {
	edit := func(old, new string) func(string) string {
		return func(src string) string {
			if !strings.Contains(src, old) {
				t.Fatalf("the story has no %q", old)
			}
			return strings.Replace(src, old, new, 1)
		}
	}
	front := func(line string) func(string) string { return edit("---\n", "---\n"+line+"\n") }
	for name, c := range map[string]struct {
		edits map[string]func(string) string
		want  string
	}{
		"a void session":        {map[string]func(string) string{wellPath: front(`void: {by: ines, on: 2026-06-10T08:00+03:00, reason: "the bottle was another's"}`)}, "is void: the bottle was another's"},
		"a failed meter check":  {map[string]func(string) string{"sessions/2026/2026-06-02-bench.md": edit("sulfate:          {value: 98 mg/L", "sulfate:          {value: 148 mg/L")}, "2026-06-09-north-well is doubtful"},
		"a recalled reagent":    {map[string]func(string) string{"lots/AL-2603.md": front(`recalled: {on: 2026-06-10, reason: "wrong blank"}`)}, "2026-06-09-north-well is doubtful"},
		"a recalled additive":   {map[string]func(string) string{"lots/GY-26-02.md": front(`recalled: {on: 2026-06-10, reason: "lead"}`)}, "lot GY-26-02 of gypsum is recalled: lead"},
		"an expired additive":   {map[string]func(string) string{"lots/GY-26-02.md": edit("expires: 2030-01", "expires: 2026-05")}, "lot GY-26-02 of gypsum expired"},
		"permeate over a limit": {map[string]func(string) string{"sites/ro-permeate.md": front(`limits: {conductivity: {max: 5 uS/cm, source: "the maker's leaflet"}}`)}, "2026-06-09-ro-permeate: conductivity is "},
		"chlorine in the feed":  {map[string]func(string) string{"sessions/2026/2026-06-04-carbon-outlet.md": edit("total_chlorine: {value: <0.02 mg/L", "total_chlorine: {value: 0.40 mg/L")}, "of chlorine (2026-06-04-carbon-outlet), which ruins its membranes"},
		"a basis that lapses":   {map[string]func(string) string{"sessions/2026/2026-06-10-north-well.md": text(wellOf("2026-06-10", "272", "418", "44", "420"))}, "it would expire at once"},
	} {
		b := Open(story(t, c.edits))
		w, err := b.OnBasis(change(t, b.j, lessGypsum))
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		if got := strings.Join(b.Doubts(w, at(t, "2026-06-11T12:00+03:00")), "\n"); !strings.Contains(got, c.want) {
			t.Errorf("%s: %q, want %q", name, got, c.want)
		}
	}
}
