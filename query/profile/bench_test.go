package profile

import (
	"fmt"
	"math"
	"strings"
	"testing"
	"testing/fstest"
	"time"

	"wj/journal"
)

// bench is a small invented journal; each session is its id, and its text from below "site:" on.
func bench(t *testing.T, sessions map[string]string) *journal.Journal {
	t.Helper()
	m := fstest.MapFS{}
	put := func(name, text string) { m[name] = &fstest.MapFile{Data: []byte(text)} }
	put("wj.yaml", "format: 1\nname: Quillmarsh Brewery\ntimezone: Europe/Vilnius\n")
	put("owners/quillmarsh.md", "---\nname: Quillmarsh Brewery\nself: true\n---\n")
	for _, by := range []string{"ines", "pia"} {
		put("people/"+by+".md", "---\nname: "+by+"\n---\n")
	}
	put("sites/well.md", "---\nname: Well\nowner: quillmarsh\nstage: intake\n---\n")
	put("sites/bench.md", "---\nname: Bench\nowner: quillmarsh\nstage: other\n---\n")
	put("instruments/meter-2.md", "---\nname: Photometer\nmeasures:\n  sulfate: {units: mg/L, range: [2 mg/L, 500 mg/L], resolution: 1 mg/L, accuracy: 4 mg/L, repeatability: 1 mg/L}\n---\n")
	for id, text := range sessions {
		site := "well"
		if strings.Contains(id, "-bench") {
			site = "bench"
		}
		if !strings.Contains(text, "by: ") {
			text = "by: ines\n" + text
		}
		put("sessions/"+id+".md", fmt.Sprintf("---\nsite: %s\nsampled: %sT08:15+02:00\ninstrument: meter-2\n%s\n", site, id[:10], text))
	}
	j, err := journal.Load(m, journal.Options{Sessions: true})
	if err != nil {
		t.Fatal(err)
	}
	return j
}

func sulfate(value string) string { return "readings:\n  sulfate: " + value + "\n---\n" }

// days are sessions at the well, each so many days after the one before.
func days(first string, apart int, values ...float64) map[string]string {
	at, _ := time.Parse("2006-01-02", first)
	out := map[string]string{}
	for _, v := range values {
		out[at.Format("2006-01-02")+"-well"] = sulfate(fmt.Sprintf("%.3f mg/L", v))
		at = at.AddDate(0, 0, apart)
	}
	return out
}

func near(t *testing.T, what string, got, want, within float64) {
	t.Helper()
	if !(math.Abs(got-want) <= within) {
		t.Errorf("%s: %v, want %v", what, got, want)
	}
}

// The limits of NIST/SEMATECH e-Handbook 6.3.2.2 (10 values, 45.8159 to 55.8041), reached through a journal; a later level
// three sigma up is found, with the session that it began with.
func TestControlThroughTheJournal(t *testing.T) {
	values := []float64{49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1}
	p := profileOf(t, bench(t, days("2026-01-01", 1, values...)), "well", "sulfate", Options{Thresholds: Thresholds{Baseline: 10}})
	near(t, "lower", p.Control[0].Chart.Lower, 45.8159, .001)
	near(t, "upper", p.Control[0].Chart.Upper, 55.8041, .001)
	if c := p.Control[0]; c.Sums != nil || len(c.Beyond) > 0 {
		t.Errorf("a quiet series signals: %+v", c)
	}
	values = append(values, values...)
	for range 6 {
		values = append(values, 50.81+5)
	}
	p = profileOf(t, bench(t, days("2026-01-01", 1, values...)), "well", "sulfate", Options{})
	c := p.Control[0]
	if c.Sums == nil || !c.Sums.Still || c.Sums.N < 6 || c.Sums.N > 10 || c.Averages == nil || !c.Averages.Still || c.Averages.Since.Session != "2026-01-21-well" {
		t.Fatalf("CUSUM %+v, EWMA %+v", c.Sums, c.Averages)
	}
	values = append(values, 50, 51, 50, 49, 50, 51, 50, 52, 50, 49, 48, 50, 51, 50, 50, 49, 50, 51, 50)
	c = profileOf(t, bench(t, days("2026-01-01", 1, values...)), "well", "sulfate", Options{}).Control[0]
	if c.Sums == nil || c.Sums.Still || c.Sums.Until.Session != "2026-01-26-well" {
		t.Errorf("the level that came back: %+v", c.Sums)
	}
}

// A line of 10 mg/L a year comes to its limits on days that can be counted on the fingers.
func TestProjection(t *testing.T) {
	var values []float64
	for i := range 12 {
		values = append(values, 100+10*float64(i*73)/365.2425)
	}
	j := bench(t, days("2024-01-01", 73, values...))
	p := profileOf(t, j, "well", "sulfate", Options{Limits: []Target{{"up", 130}, {"down", 90}, {"behind", 110}}})
	if len(p.Trend.Projections) != 3 || p.Trend.Kendall.P >= TrendP {
		t.Fatalf("%+v", p.Trend)
	}
	year := 365.2425 * 24 * float64(time.Hour)
	start := p.Series.Points[0].Sampled
	up, down, behind := p.Trend.Projections[0], p.Trend.Projections[1], p.Trend.Projections[2]
	if up.Passed || up.At.Sub(start.Add(time.Duration(3*year))).Abs() > 3*time.Hour {
		t.Errorf("130 is reached %v", up.At)
	}
	if down.Passed || !down.At.IsZero() || !down.Earliest.IsZero() {
		t.Errorf("90 is reached %+v", down)
	}
	if !behind.Passed || behind.At.Sub(start.Add(time.Duration(year))).Abs() > 3*time.Hour {
		t.Errorf("110 was passed %+v", behind)
	}
}

// Too few readings say how many are needed, and give no number.
func TestTooFew(t *testing.T) {
	p := profileOf(t, bench(t, days("2026-01-01", 7, 100, 101)), "well", "sulfate", Options{Limits: []Target{{"asked for", 120}}})
	for what, text := range map[string]string{"trend": p.Trend.Lack, "control": p.Control[0].Lack, "outliers": p.Outliers.Lack} {
		if !strings.Contains(text, "too few values: 2 ") || !strings.Contains(text, " needed") {
			t.Errorf("%s: %q", what, text)
		}
	}
	if p.All.HasQuarts || p.All.HasTwenty || p.Trend.Slope != nil || len(p.Trend.Projections) > 0 || p.Outliers.Grubbs != nil {
		t.Errorf("%+v", p)
	}
}

// A value far off is explained by a text, replicates or an amendment, and by nothing else.
func TestExplainedOutliers(t *testing.T) {
	var values []float64
	for i := range 20 {
		values = append(values, 100+float64(i*7%5))
	}
	sessions := days("2026-01-01", 7, values...)
	sessions["2026-02-02-well"] = sulfate("160 mg/L")
	sessions["2026-02-03-well"] = sulfate("161 mg/L") + "The tap was open for a minute only."
	sessions["2026-02-04-well"] = sulfate("[160 mg/L, 162 mg/L]")
	sessions["2026-02-05-well"] = sulfate("{value: 159 mg/L, note: cloudy}")
	sessions["2026-02-06-well"] = "amended:\n  - {key: readings.sulfate, was: 61 mg/L, by: ines, on: 2026-02-07, reason: misread}\n" + sulfate("158 mg/L")
	p := profileOf(t, bench(t, sessions), "well", "sulfate", Options{})
	if len(p.Outliers.Unexplained) != 1 || p.Outliers.Unexplained[0].Point.Session != "2026-02-02-well" || !(p.Outliers.Unexplained[0].Z > 3.5) {
		t.Errorf("unexplained %+v", p.Outliers.Unexplained)
	}
	why := ""
	for _, o := range p.Outliers.Explained {
		why += o.Why + " "
	}
	if why != "note replicates note amended " {
		t.Errorf("explained by %s", why)
	}
}

// Student's data (Biometrika 6 (1908) 1–25, ten pairs, mean difference −1.58, 95 %: −2.4599 to −0.7001 with R 4.2), moved up
// by 10 into mg/L, as bench and laboratory of one day; further pairs are too far apart, or bounds.
func TestLaboratory(t *testing.T) {
	first := []float64{0.7, -1.6, -0.2, -1.2, -0.1, 3.4, 3.7, 0.8, 0.0, 2.0}
	second := []float64{1.9, 0.8, 1.1, 0.1, -0.1, 4.4, 5.5, 1.6, 4.6, 3.4}
	sessions := map[string]string{}
	lab := func(id, value string) {
		sessions[id] = "source: lab\nlaboratory: Ostrel\n" + sulfate(value)
	}
	for i := range first {
		day := fmt.Sprintf("2026-%02d-10-well", i+1)
		sessions[day] = sulfate(fmt.Sprintf("%.1f mg/L", 10+first[i]))
		lab(fmt.Sprintf("2026-%02d-11-well--lab", i+1), fmt.Sprintf("%.1f ± 1 mg/L", 10+second[i]))
	}
	lab("2026-01-20-well", "50 mg/L")
	sessions["2026-01-25-well"] = sulfate("<2 mg/L")
	lab("2026-01-26-well", "1.2 mg/L")
	p := profileOf(t, bench(t, sessions), "well", "sulfate", Options{})
	l := p.Laboratory
	if len(l.Pairs) != 10 || l.Bounds != 1 || l.Alone != 1 || l.Lack != "" {
		t.Fatalf("%d pairs, %d bounds, %d alone, %q", len(l.Pairs), l.Bounds, l.Alone, l.Lack)
	}
	near(t, "mean difference", l.Test.MeanDifference, -1.58, 1e-9)
	near(t, "lower", l.Test.Limits.Low, -2.45988576, 1e-6)
	near(t, "upper", l.Test.Limits.High, -0.70011424, 1e-6)
	near(t, "p", l.Test.P, 0.00283289, 1e-6)
	// The meter's 4 mg/L with its resolution of 1 mg/L (u = 1/√12, GUM F.2.2.1), and the laboratory's 1 mg/L, all at 95 %.
	near(t, "worst E_n", l.Worst.En, -4.6/math.Sqrt(16+4.0/12+1), 1e-9)
}

// Replicates, duplicates, check standards and blanks, worked out by hand.
func TestQuality(t *testing.T) {
	sessions := map[string]string{
		"2026-01-01-well":    sulfate("[99 mg/L, 101 mg/L]"), // 2 %, range 2 ≤ 2.77
		"2026-01-02-well":    "by: pia\n" + sulfate("[98 mg/L, 102 mg/L]"),
		"2026-01-03-well":    sulfate("[90 mg/L, 95 mg/L, 110 mg/L]"), // 20 %, range 20
		"2026-01-04-well":    sulfate("100 mg/L"),
		"2026-01-04-well--2": "sample: duplicate\nduplicate_of: 2026-01-04-well\n" + sulfate("105 mg/L"), // 5/102.5
		"2026-01-05-bench":   "sample: check-standard\nstandard: {sulfate: 100 mg/L}\n" + sulfate("98 mg/L"),
		"2026-01-06-bench":   "sample: check-standard\nstandard: {sulfate: 200 mg/L}\n" + sulfate("204 mg/L"),
		"2026-01-07-bench":   "sample: check-standard\nstandard: {sulfate: 50 mg/L}\n" + sulfate("48 mg/L"),
		"2026-01-08-bench":   "sample: blank\n" + sulfate("2 mg/L"),
		"2026-01-09-bench":   "sample: blank\n" + sulfate("3 mg/L"),
		"2026-01-10-bench":   "sample: blank\n" + sulfate("4 mg/L"),
		"2026-01-11-bench":   "sample: blank\n" + sulfate("<2 mg/L"),
	}
	p := profileOf(t, bench(t, sessions), "well", "sulfate", Options{})
	r := p.Replicates
	if len(r.People) != 3 || r.People[0].N != 3 || r.People[1].By != "ines" || r.People[2].By != "pia" || !r.Percent || !math.IsNaN(r.People[0].Top) {
		t.Fatalf("replicates %+v", r)
	}
	near(t, "median", r.People[0].Median, 4, 1e-9)
	near(t, "worst", r.People[0].Worst, 20, 1e-9)
	// 95 % ranges for a repeatability of 1 mg/L: 2.77 of two, 3.31 of three (ISO 5725-6:1994, table 1).
	if r.Judged != 3 || r.Exceeded != 2 {
		t.Errorf("%d of %d exceed", r.Exceeded, r.Judged)
	}
	near(t, "duplicate", p.Duplicates.People[0].Median, 500/102.5, 1e-9)
	if p.Series.Others != 1 {
		t.Errorf("%d other samples", p.Series.Others)
	}
	if len(p.Standards) != 1 || p.Standards[0].N != 3 {
		t.Fatalf("standards %+v", p.Standards)
	}
	s := p.Standards[0]
	near(t, "recovery", s.Mean, (98+102+96)/3.0, 1e-9)
	near(t, "lowest", s.Low, 96, 1e-9)
	near(t, "highest", s.High, 102, 1e-9)
	if p.Blanks.Measured != 3 || p.Blanks.Bounds != 1 || !p.Blanks.Limit.Shaky {
		t.Errorf("blanks %+v", p.Blanks)
	}
	near(t, "detection limit", p.Blanks.Limit.Limit, 3+6.964557, 1e-5) // t(0.99, 2) = 6.9646: Abramowitz & Stegun, Table 26.10
}
