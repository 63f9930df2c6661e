package query

import (
	"errors"
	"fmt"
	"math"
	"strings"
	"testing"
	"time"

	"wj/journal"
	"wj/water"
)

// months is a journal of several sessions for questions over time.
func months(t testing.TB) *journal.Journal {
	return bench(t, map[string]string{
		"2026-01-10-north-well":           "  sulfate: {value: 290 mg/L, lot: SU-1}\n  chloride: 20 mg/L\n---\nThe sample was Cloudy at first.",
		"2026-02-10-north-well":           "  sulfate: {value: 310 mg/L, lot: SU-1}\n  chloride: <5 mg/L\n",
		"2026-04-10-north-well":           "  sulfate: {value: 330 mg/L, lot: SU-1}\n  chloride: <5 mg/L\n",
		"2026-05-10-north-well":           "tested: 2026-05-10T12:15+03:00|  sulfate: {value: [345 mg/L, 355 mg/L], lot: SU-2}\n  chloride: 12 mg/L\n",
		"2026-05-12-north-well":           "void: {by: ines, on: 2026-05-13, reason: \"wrong bottle\"}|  sulfate: {value: 900 mg/L, lot: SU-2}\n",
		"2026-05-14-north-well--standard": "sample: check-standard\nstandard: {sulfate: 500 mg/L}|  sulfate: {value: 490 mg/L, lot: SU-2}\n",
		"2026-05-20-town-tap":             "source: lab|  sulfate: 45 mg/L\n  alkalinity: 118 mg/L CaCO3\n",
		"2026-05-31-town-tap":             "sampled: 2026-05-31T23:30+02:00|  alkalinity: 6.6 dKH\n  pH: 7.4\n",
	})
}

// A question at the bench and the sessions that answer it.
func TestQuestions(t *testing.T) {
	j := months(t)
	cases := []struct{ source, want string }{
		{`sulfate > 300 && site == "north-well"`, "2026-02-10-north-well 2026-04-10-north-well 2026-05-10-north-well 2026-05-14-north-well--standard"},
		{`sulfate > 300 and sample == "routine"`, "2026-02-10-north-well 2026-04-10-north-well 2026-05-10-north-well"},
		{`surely(sulfate > 300) and sample != "check-standard"`, "2026-05-10-north-well"}, // ±10 %: 330 − 33 = 297, 350 − 35 = 315
		{`void`, "2026-05-12-north-well"},
		{`not void and sulfate > 400`, "2026-05-14-north-well--standard"},
		{`owner == "tarrow-lane"`, "2026-05-20-town-tap 2026-05-31-town-tap"},
		{`stage == "intake" and source == "lab"`, "2026-05-20-town-tap"},
		{`regime == "summer" and known(chloride)`, "2026-05-10-north-well"},
		{`expired(sulfate)`, "2026-04-10-north-well"}, // SU-1: good until the end of March 2026
		{`recalled(sulfate) and sample == "routine"`, "2026-05-10-north-well"},
		{`expired() or recalled()`, "2026-04-10-north-well 2026-05-10-north-well 2026-05-14-north-well--standard"},
		{`uses("SU-1")`, "2026-01-10-north-well 2026-02-10-north-well 2026-04-10-north-well"},
		{`lot(sulfate) == "SU-1"`, "2026-01-10-north-well 2026-02-10-north-well 2026-04-10-north-well"},
		{`lot(sulfate) in ["SU-2"] and replicates(sulfate) > 1`, "2026-05-10-north-well"},
		{`text("cloudy")`, "2026-01-10-north-well"},
		{`body contains "Cloudy"`, "2026-01-10-north-well"},
		{`lower(body) contains "cloudy" and year == 2026`, "2026-01-10-north-well"},
		{`sampled >= date("2026-05-20")`, "2026-05-20-town-tap 2026-05-31-town-tap"},
		{`sampled > "2026-05-20"`, "2026-05-31-town-tap"},
		{`sampled <= "2026-02"`, "2026-01-10-north-well 2026-02-10-north-well"},
		{`sampled < "2026-02"`, "2026-01-10-north-well"},
		{`sampled == "2026-Q2" and below(chloride)`, "2026-04-10-north-well"},
		{`sampled in "2026-02"`, "2026-02-10-north-well"},
		{`sampled in ["2026-01", "2026-02"]`, "2026-01-10-north-well 2026-02-10-north-well"},
		// 23:30 at +02:00 on 31 May is 00:30 on 1 June in Vilnius (UTC+3 in summer): the journal's day counts.
		{`sampled == "2026-06-01"`, "2026-05-31-town-tap"},
		{`month == 6`, "2026-05-31-town-tap"},
		{`quarter == 1`, "2026-01-10-north-well 2026-02-10-north-well"},
		{`weekday == 3`, "2026-05-20-town-tap"}, // 20 May 2026 is a Wednesday
		{`last(20)`, "2026-05-14-north-well--standard 2026-05-20-town-tap 2026-05-31-town-tap"},
		{`last(weeks(2))`, "2026-05-20-town-tap 2026-05-31-town-tap"},
		{`age < 13`, "2026-05-20-town-tap 2026-05-31-town-tap"},
		{`sampled > now - days(13)`, "2026-05-20-town-tap 2026-05-31-town-tap"},
		{`tested - sampled > hours(2)`, "2026-05-10-north-well"},
		{`tested - sampled < "2 h"`, ""},
		{`id startsWith "2026-05-3" and pH > 7`, "2026-05-31-town-tap"},
		{`site matches "^(north|south)-well$" and year == 2026 and month < 2`, "2026-01-10-north-well"},
		{`batch == ""  and known(pH)`, "2026-05-31-town-tap"},
		{`known(alkalinity) == false and sampled == "2026-05-10"`, "2026-05-10-north-well"},
		{`alkalinity == "6.6 dKH"`, "2026-05-31-town-tap"},
	}
	for _, c := range cases {
		if got := find(t, j, c.source); got != c.want {
			t.Errorf("%s\n got %s\nwant %s", c.source, got, c.want)
		}
	}
}

// What is left out is counted, and why; nothing is counted twice and nothing is lost.
func TestCounts(t *testing.T) {
	j := months(t)
	for _, source := range []string{"chloride < 10", "chloride > 3", "sulfate > 300", "not (pH > 7)", "", "void"} {
		r := mustRun(t, j, Request{Where: mustCompile(t, source), Since: time.Date(2026, 2, 1, 0, 0, 0, 0, time.UTC)})
		if sum := r.Outside + r.Void + r.Looked; sum != r.Sessions {
			t.Errorf("%q: %d outside + %d void + %d looked at, of %d sessions", source, r.Outside, r.Void, r.Looked, r.Sessions)
		}
		if r.Matched+r.NoReading+r.Censored > r.Looked || r.Matched != len(r.Rows) {
			t.Errorf("%q: counts %+v", source, r)
		}
	}
	r := mustRun(t, j, Request{Where: mustCompile(t, "chloride > 3")})
	if r.Sessions != 8 || r.Void != 1 || r.Looked != 7 || r.Matched != 2 || r.NoReading != 3 || r.Censored != 2 {
		t.Errorf("chloride > 3: %+v", r)
	}
	if r := mustRun(t, j, Request{}); r.Matched != 7 {
		t.Errorf("all sessions: %d, want the 7 that are not void", r.Matched)
	}
	if r := mustRun(t, j, Request{IncludeVoid: true}); r.Matched != 8 {
		t.Errorf("all sessions with void ones: %d, want 8", r.Matched)
	}
}

func cells(r *Result) string {
	var lines []string
	for _, row := range r.Rows {
		var line []string
		for _, c := range row.Cells {
			if c.Missing {
				line = append(line, "-")
			} else {
				line = append(line, c.Text)
			}
		}
		lines = append(lines, strings.Join(line, " | "))
	}
	return strings.Join(lines, "\n")
}

// Columns show numbers with all digits, bounds as typed, other units where asked for, and derived values as such.
func TestCells(t *testing.T) {
	j := months(t)
	dKH, _ := water.ParseUnit("dKH")
	r := mustRun(t, j, Request{Where: mustCompile(t, `site == "town-tap" or below(chloride)`), Columns: []string{"id", "alkalinity", "chloride", "lot(sulfate)", "sulfate / 2", "sampled", "void"},
		Units: map[string]water.Unit{"alkalinity": dKH}, Sort: []SortKey{{By: "sulfate", Descending: true}}})
	want := `2026-04-10-north-well | - | <5 mg/L | SU-1 | 165 | 2026-04-10T08:15+02:00 | no
2026-02-10-north-well | - | <5 mg/L | SU-1 | 155 | 2026-02-10T08:15+02:00 | no
2026-05-20-town-tap | 6.611`
	got := cells(r)
	if !strings.HasPrefix(got, want) || !strings.Contains(got, "\n2026-05-31-town-tap | 6.6 | - | - | - | 2026-05-31T23:30+02:00 | no") {
		t.Errorf("cells:\n%s\nwant\n%s…", got, want)
	}
	if c := r.Columns[1]; c.Unit != dKH || !c.Number || c.Name != "alkalinity" {
		t.Errorf("column %+v", c)
	}
	bound := r.Rows[0].Cells[2]
	if bound.Bound != water.Below || bound.Value != 5 || bound.Number {
		t.Errorf("bound cell %+v", bound)
	}
	derived := mustRun(t, one(t, "calcium_hardness: 92 mg/L CaCO3", "total_hardness: 138 mg/L CaCO3"), Request{Columns: []string{"magnesium", "calcium_hardness"}}).Rows[0].Cells
	if !derived[0].Derived || derived[0].U <= 0 || derived[1].Derived || derived[1].U <= 0 || !derived[1].Assumed {
		t.Errorf("derived cells %+v", derived)
	}
	// √(15.003² + 1²) = 15.036 (GUM 5.1.2): the meter's ±10 % with its step, and ± 2 mg/L as typed.
	sum := mustRun(t, one(t, "sulfate: 300 mg/L", "chloride: 20 ± 2 mg/L"), Request{Columns: []string{"sulfate - chloride"}}).Rows[0].Cells[0]
	if sum.Text != "280" || sum.U < 15.035 || sum.U > 15.037 {
		t.Errorf("difference cell %+v", sum)
	}
	if r := mustRun(t, j, Request{Sort: []SortKey{{By: "sulfate"}}, Limit: 1, Columns: []string{"sulfate"}}); cells(r) != "45" || r.Matched != 7 {
		t.Errorf("limit: %q of %d", cells(r), r.Matched)
	}
	for _, q := range []Request{
		{Columns: []string{"sulphate"}}, {Columns: []string{""}}, {Columns: []string{"3"}}, {Columns: []string{"sulfate"}, Units: map[string]water.Unit{"sulfate": dKH}},
		{Columns: []string{"sulfate"}, Units: map[string]water.Unit{"alkalinity": dKH}}, {Columns: []string{"year"}, Units: map[string]water.Unit{"year": dKH}}, {Sort: []SortKey{{By: "nope"}}},
	} {
		if _, err := Run(j, q); err == nil {
			t.Errorf("%+v: no error", q)
		}
	}
}

// A name that no record has is said, since an empty answer looks like a good one.
func TestNotes(t *testing.T) {
	j := months(t)
	cases := []struct{ source, want string }{
		{`site == "nort-well"`, `the journal has no site "nort-well"; did you mean north-well?`},
		{`by in ["ines", "inez"]`, `the journal has no person "inez"; did you mean ines?`},
		{`source == "utilty"`, `source is never "utilty"; did you mean utility?`},
		{`uses("SU-3")`, `the journal has no lot "SU-3"`},
		{`lot(sulfate) == "SU-9"`, `the journal has no lot "SU-9"`},
		{`site == "north-well"`, ``},
	}
	for _, c := range cases {
		notes := strings.Join(mustRun(t, j, Request{Where: mustCompile(t, c.source)}).Notes, "\n")
		if !strings.HasPrefix(notes, c.want) || (c.want == "") != (notes == "") {
			t.Errorf("%s: notes %q, want %q", c.source, notes, c.want)
		}
	}
}

func TestParsePeriod(t *testing.T) {
	zone, err := time.LoadLocation("Europe/Vilnius")
	if err != nil {
		t.Skip(err)
	}
	cases := []struct{ text, start, end string }{
		{"2026", "2026-01-01T00:00:00+02:00", "2027-01-01T00:00:00+02:00"},
		{"2026-Q2", "2026-04-01T00:00:00+03:00", "2026-07-01T00:00:00+03:00"},
		{"2026-12", "2026-12-01T00:00:00+02:00", "2027-01-01T00:00:00+02:00"},
		{"2026-03-29", "2026-03-29T00:00:00+02:00", "2026-03-30T00:00:00+03:00"}, // the clocks go forward: 23 hours
		{"2024-02-29", "2024-02-29T00:00:00+02:00", "2024-03-01T00:00:00+02:00"},
		{"2026-03-04T08:15+01:00", "2026-03-04T08:15:00+01:00", "2026-03-04T08:15:01+01:00"},
		{"today", "2026-06-01T00:00:00+03:00", "2026-06-02T00:00:00+03:00"},
		{"last 90 d", "2026-03-03T12:00:00Z", "2026-06-01T12:00:01Z"},
		{"last 2 months", "2026-04-01T12:00:00Z", "2026-06-01T12:00:01Z"},
	}
	for _, c := range cases {
		start, end, err := ParsePeriod(c.text, zone, clock)
		if err != nil {
			t.Errorf("%s: %v", c.text, err)
			continue
		}
		if !same(start, c.start) || !same(end, c.end) {
			t.Errorf("%s: %v to %v, want %s to %s", c.text, start, end, c.start, c.end)
		}
	}
	for _, bad := range []string{"", "26", "2026-3", "2026-13", "2026-Q5", "2025-02-29", "04.03.2026", "last", "last d", "last 90", "last -1 d", "yesterday", "2026-03-04T08:15", "０２０２"} {
		if start, _, err := ParsePeriod(bad, zone, clock); err == nil {
			t.Errorf("%q was read as %v", bad, start)
		}
	}
}

func same(t time.Time, text string) bool {
	want, err := time.Parse(time.RFC3339, text)
	return err == nil && t.Equal(want)
}

// Groups by month and lot; bounds stay bounds. By hand: the median of 290, 310, 330, 350 is 320; that
// of <5, <5, 12, 20 lies between (0 + 12)/2 and (5 + 12)/2.
func TestReduce(t *testing.T) {
	j := months(t)
	well := mustRun(t, j, Request{Where: mustCompile(t, `site == "north-well" and sample == "routine"`)})
	cases := []struct {
		by, aggregates string
		want           string
	}{
		{"", "count,count(chloride),median(sulfate),mean(sulfate),min(sulfate),max(sulfate),first(sulfate),last(sulfate)", "4 | 4 | 320 | 320 | 290 | 350 | 290 | 350"},
		{"quarter", "count,median(sulfate)", "2026-Q1 | 2 | 300\n2026-Q2 | 2 | 340"},
		{"month", "sum", "!"},
		{"year,lot(sulfate)", "max(sulfate)", "2026 | SU-1 | 330\n2026 | SU-2 | 350"},
		{"regime", "count", "- | 3\nsummer | 1"},
		{"", "min(chloride),max(chloride),median(chloride),below(chloride),count(chloride)", "<5 | 20 | 6..8.5 | 2 | 4"},
		{"", "min(2 * sulfate)", "580"},
		{"site", "", "north-well | 4"},
		{"", "median(sulphate)", "!"},
		{"", "mean(site)", "!"},
		{"", "mean(sulfate", "!"},
		{"sulphate", "count", "!"},
		{"site", "first(lot(sulfate)),last(lot(sulfate)),last(by)", "north-well | SU-1 | SU-2 | ines"},
		// Sulfate 290, 310, 330, 350: rank (4+1) × 0.25 = 1.25 of NIST/SEMATECH e-Handbook 7.2.6.2.
		{"", "quantile(sulfate, 0.25),quantile(chloride,0.01)", "295 | <5"},
		{"", "quantile(sulfate)", "!"},
		{"", "quantile(sulfate, 25)", "!"},
		{"", "slope(site)", "!"},
		{"month", "slope(sulfate)", "2026-01 | -\n2026-02 | -\n2026-04 | -\n2026-05 | -"}, // of one reading there is none
	}
	split := SplitList
	for _, c := range cases {
		r, err := Reduce(well, split(c.by), split(c.aggregates))
		if c.want == "!" {
			if err == nil {
				t.Errorf("%s by %s: no error", c.aggregates, c.by)
			}
			continue
		}
		if err != nil {
			t.Errorf("%s by %s: %v", c.aggregates, c.by, err)
			continue
		}
		got := cells(r)
		if c.by == "regime" { // what is missing comes last
			c.want = "summer | 1\n- | 3"
		}
		if got != c.want {
			t.Errorf("%s by %s:\n%s\nwant\n%s", c.aggregates, c.by, got, c.want)
		}
	}
	none, err := Reduce(mustRun(t, j, Request{Where: mustCompile(t, "iron > 3")}), nil, []string{"count", "median(iron)"})
	if err != nil || cells(none) != "0 | -" {
		t.Errorf("of no session: %v %q", err, cells(none))
	}
	if _, err := Reduce(&Result{}, nil, nil); err == nil {
		t.Error("a result that no query made was grouped")
	}
}

// Readings on a line have its slope with no spread, in the unit a year; a bound makes it an interval.
func TestSlope(t *testing.T) {
	sessions := map[string]string{}
	for i := range 8 { // the first of January of eight years
		chloride := fmt.Sprintf("%d mg/L", 10+2*i)
		if i == 1 {
			chloride = "<12 mg/L"
		}
		sessions[fmt.Sprintf("%d-01-01-north-well", 2018+i)] = fmt.Sprintf("  sulfate: %d mg/L\n  chloride: %s\n", 100+10*i, chloride)
	}
	j := bench(t, sessions)
	r, err := Reduce(mustRun(t, j, Request{}), nil, []string{"slope(sulfate)", "slope(chloride)"})
	if err != nil {
		t.Fatal(err)
	}
	c, bound := r.Rows[0].Cells[0], r.Rows[0].Cells[1]
	if math.Abs(c.Value-10) > 0.02 || c.Note == "" || r.Columns[0].Per != "a year" || r.Columns[0].Unit != water.MilligramLitre {
		t.Errorf("%+v %+v", r.Columns[0], c)
	}
	if !bound.Interval || !(bound.Low <= 2 && bound.High >= 2) {
		t.Errorf("%+v", bound)
	}
}

// A series has the site's water in the order of sampling, with its bounds, and counts what it leaves out.
func TestHistory(t *testing.T) {
	j := months(t)
	s, err := History(j, "north-well", "sulfate", SeriesRequest{})
	if err != nil {
		t.Fatal(err)
	}
	var values []float64
	for _, p := range s.Points {
		values = append(values, p.Value)
	}
	if len(values) != 4 || values[0] != 290 || values[3] != 350 || s.Void != 1 {
		t.Errorf("values %v, %+v", values, s)
	}
	if p := s.Points[3]; p.Lot != "SU-2" || p.Regime != "summer" || p.Replicates != 2 || p.Instrument != "meter-2" || p.U <= 0 {
		t.Errorf("last point %+v", p)
	}
	c, err := History(j, "north-well", "chloride", SeriesRequest{})
	if err != nil || len(c.Points) != 4 || c.Points[1].Bound != water.Below || c.Points[1].Value != 5 {
		t.Errorf("chloride: %v %+v", err, c)
	}
	var unknown *journal.NotFound
	if _, err := History(j, "nort-well", "sulfate", SeriesRequest{}); !errors.As(err, &unknown) || unknown.Hint() != "did you mean north-well?" {
		t.Errorf("unknown site: %v", err)
	}
	all, err := Histories(j, SeriesRequest{Analytes: []water.ID{water.Alkalinity, water.Sulfate}, Samples: []string{"routine", "check-standard"}, Sources: []string{"bench"}})
	if err != nil || len(all) != 4 || all[1].Site != "north-well" || len(all[1].Points) != 5 || len(all[2].Points) != 1 || all[0].NoReading != 5 {
		t.Errorf("all: %v %+v", err, all)
	}
}

// A journal with its sessions in memory answers as one that reads them anew.
func TestLoadedSessions(t *testing.T) {
	lazy := months(t)
	loaded, err := journal.Load(lazy.FS, journal.Options{Sessions: true})
	if err != nil {
		t.Fatal(err)
	}
	for _, source := range []string{"sulfate > 300", "chloride < 10", `text("cloudy")`} {
		if a, b := find(t, lazy, source), find(t, loaded, source); a != b {
			t.Errorf("%s: %s read anew, %s in memory", source, a, b)
		}
	}
}

// A row costs no memory while it does not match.
func TestRowsDoNotAllocate(t *testing.T) {
	j := one(t, "sulfate: 168 mg/L", "alkalinity: 118 mg/L CaCO3", "calcium_hardness: 92 mg/L CaCO3", "total_hardness: 138 mg/L CaCO3")
	j, err := journal.Load(j.FS, journal.Options{Sessions: true})
	if err != nil {
		t.Fatal(err)
	}
	r := newRow(j, clock)
	for _, source := range []string{`sulfate > 300 and site == "north-well"`, "alkalinity > dKH(7)", "magnesium > 30", `sampled > "2026-05"`, "not (sulfate < 300 or month == 3)"} {
		x := mustCompile(t, source)
		n := testing.AllocsPerRun(100, func() {
			r.set(j.Sessions.List[0])
			if x.holds(r) == yes {
				t.Errorf("%s holds", source)
			}
		})
		if n > 0 {
			t.Errorf("%s: %v allocations a row", source, n)
		}
	}
}

func BenchmarkRow(b *testing.B) {
	j := one(b, "sulfate: 168 mg/L", "alkalinity: 118 mg/L CaCO3", "calcium_hardness: 92 mg/L CaCO3", "total_hardness: 138 mg/L CaCO3")
	j, err := journal.Load(j.FS, journal.Options{Sessions: true})
	if err != nil {
		b.Fatal(err)
	}
	for _, source := range []string{`sulfate > 300 and site == "north-well"`, "residual_alkalinity > dKH(7)", "surely(sulfate > 300)", "surely(residual_alkalinity > 90)"} {
		x := mustCompile(b, source)
		r := newRow(j, clock)
		b.Run(source, func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				r.set(j.Sessions.List[0])
				x.holds(r)
			}
		})
	}
}

// What is not the site's water, or tells of one moment twice, is in no aggregate,
// unless it is asked for.
func TestReduceLeavesAsideWhatIsNotTheSitesWater(t *testing.T) {
	j := months(t) // has a check standard at 490
	for _, c := range []struct {
		where, by string
		all       bool
		want      string
		aside     int
	}{
		{`site == "north-well"`, "", false, "350", 1},
		{`site == "north-well" and sample != "blank"`, "", false, "490", 0},
		{`site == "north-well"`, "", true, "490", 0},
		{`site == "north-well"`, "sample", false, "check-standard | 490\nroutine | 350", 0},
	} {
		r, err := Reduce(mustRun(t, j, Request{Where: mustCompile(t, c.where), AllSamples: c.all}), SplitList(c.by), []string{"last(sulfate)"})
		if err != nil {
			t.Fatal(err)
		}
		var rows []string
		for _, row := range r.Rows {
			var cells []string
			for _, cell := range row.Cells {
				cells = append(cells, cell.Text)
			}
			rows = append(rows, strings.Join(cells, " | "))
		}
		if got := strings.Join(rows, "\n"); got != c.want || r.Aside["check-standard"] != c.aside {
			t.Errorf("%s by %q: %s, aside %v", c.where, c.by, got, r.Aside)
		}
	}
}

// The unit of an expression is that of its quantities, or none.
func TestUnitOfAnExpression(t *testing.T) {
	for text, want := range map[string]string{
		"sulfate": "mg/L", "sulfate + chloride": "mg/L", "sulfate - 50": "mg/L", "2 * sulfate": "mg/L", "sulfate / 2": "mg/L", "(sulfate + chloride) / 2": "mg/L",
		"1 - conductivity / 520": "", "conductivity / 520 - 1": "", "100 * (1 - conductivity/520)": "", "1 + 2 * sulfate": "", "sulfate / chloride": "", "2 / sulfate": "",
		"sulfate * chloride": "", "sulfate / mmol(1)": "", "conductivity - conductivity / 2": "uS/cm", "abs(charge_balance)": "%", "u(sulfate)": "mg/L", "age / 2": "d", "pH": "",
	} {
		c, err := compileColumn(text, nil)
		if err != nil {
			t.Errorf("%s: %v", text, err)
		} else if got := c.Unit.String(); got != want {
			t.Errorf("%s is in %q, want %q", text, got, want)
		}
	}
}
