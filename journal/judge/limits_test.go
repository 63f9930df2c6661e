package judge

import (
	"math"
	"strings"
	"testing"
	"testing/fstest"
	"time"

	"wj/journal"
	"wj/water"
)

// files makes a journal of files; wj.yaml, an owner and a person are added where
// they are missing.
func files(t *testing.T, list map[string]string) *journal.Journal {
	t.Helper()
	j := quick(list)
	for _, p := range j.Problems {
		t.Fatalf("the journal of the test is wrong: %s:%d %s", p.Path, p.Line, p.Message)
	}
	return j
}

// quick is files for a journal that need not be without faults.
func quick(list map[string]string) *journal.Journal {
	m := fstest.MapFS{}
	for name, text := range map[string]string{
		"wj.yaml":              "format: 1\nname: Quillmarsh Brewery\ntimezone: Europe/Vilnius\njurisdictions: eu\n",
		"owners/quillmarsh.md": "---\nname: Quillmarsh Brewery\nself: true\n---\n",
		"people/ines.md":       "---\nname: Ines\n---\n",
	} {
		m[name] = &fstest.MapFile{Data: []byte(text)}
	}
	for name, text := range list {
		if name != "wj.yaml" {
			text = "---\n" + strings.TrimSpace(text) + "\n---\n"
		}
		m[name] = &fstest.MapFile{Data: []byte(text)}
	}
	j, err := journal.Load(m, journal.Options{Check: true, Sessions: true})
	if err != nil {
		panic(err)
	}
	return j
}

func at(text string) time.Time {
	t, err := time.Parse("2006-01-02T15:04Z07:00", text)
	if err != nil {
		panic(err)
	}
	return t
}

// TestConform holds the verdict against the cases of JCGM 106:2012, figure 1:
// inside, straddling from inside, straddling from outside, outside; and a bound
// against what it leaves possible.
func TestConform(t *testing.T) {
	low, high := 6.5, 50.0
	for _, c := range []struct {
		v, u  float64
		bound water.Bound
		want  Conformity
	}{
		{40, 2, water.Exact, Within}, {48, 2, water.Exact, Inconclusive}, {52, 2, water.Exact, Inconclusive}, {61, 2, water.Exact, Over},
		{60, 0, water.Above, Over}, {30, 0, water.Above, Inconclusive}, {30, 0, water.Below, Within}, {60, 0, water.Below, Inconclusive}, {math.NaN(), 1, water.Exact, Unlimited},
	} {
		if got := Conform(water.Value{Value: c.v, U: c.u, Bound: c.bound}, nil, &high); got != c.want {
			t.Errorf("%s%g ± %g against 50: %s, want %s", c.bound, c.v, 2*c.u, got, c.want)
		}
	}
	if got := Conform(water.Value{Value: 6.1, U: 0.05}, &low, nil); got != Under {
		t.Errorf("pH 6.1 ± 0.1 against at least 6.5: %s", got)
	}
	if got := Conform(water.Value{Value: 6.1, U: 0.05}, nil, nil); got != Unlimited {
		t.Errorf("no limit: %s", got)
	}
}

// TestInForce: which limits hold where, and when, as docs/decisions says.
func TestInForce(t *testing.T) {
	site := func(stage, limits string) string {
		return "name: X\nowner: quillmarsh\nstage: " + stage + "\n" + limits
	}
	yaml := "format: 1\nname: Quillmarsh Brewery\ntimezone: Europe/Vilnius\njurisdictions: eu\n"
	j := files(t, map[string]string{
		"wj.yaml":          yaml + "limits:\n  sulfate: {max: 100 mg/L, source: house rule}\n  chloride: {min: 10 mg/L, max: 90 mg/L}\n",
		"sites/plain.md":   site("intake", ""),
		"sites/why.md":     site("intake", "limits:\n  sulfate: {max: 300 mg/L, reason: bore only blended}\n"),
		"sites/nowhy.md":   site("intake", "limits:\n  sulfate: {max: 300 mg/L}\n"),
		"sites/later.md":   site("intake", "limits:\n  sulfate: {max: 300 mg/L, reason: bore only blended, since: 2026-06-01}\n"),
		"sites/nitrate.md": site("intake", "limits:\n  nitrate: {max: 80 mg/L NO3, reason: we like it}\n"),
		"sites/half.md":    site("intake", "limits:\n  pH: {max: 9, reason: narrow}\n  chloride: {max: 200 mg/L}\n"),
		"sites/ro.md":      site("ro-permeate", ""),
		"sites/tank.md":    site("hot-liquor", ""),
		"sites/carbon.md":  site("carbon-outlet", ""),
	})
	l := NewLimits(j)
	for _, c := range []struct {
		site, day string
		id        water.ID
		want      string // the limits' words, joined by " | "
	}{
		{"plain", "2026-03-01", water.Sulfate, "250 mg/L (Directive (EU) 2020/2184, Annex I part C) | the journal's limit, at most 100 mg/L (house rule)"},
		{"why", "2026-03-01", water.Sulfate, "the site's own limit, at most 300 mg/L (bore only blended), in place of 250 mg/L (Directive (EU) 2020/2184, Annex I part C), in place of the journal's limit, at most 100 mg/L (house rule)"},
		{"nowhy", "2026-03-01", water.Sulfate, "250 mg/L (Directive (EU) 2020/2184, Annex I part C) | the site's own limit, at most 300 mg/L, in place of the journal's limit, at most 100 mg/L (house rule)"},
		{"later", "2026-05-31", water.Sulfate, "250 mg/L (Directive (EU) 2020/2184, Annex I part C) | the journal's limit, at most 100 mg/L (house rule)"},
		{"later", "2026-06-01", water.Sulfate, "the site's own limit, at most 300 mg/L (bore only blended), in place of 250 mg/L (Directive (EU) 2020/2184, Annex I part C), in place of the journal's limit, at most 100 mg/L (house rule)"},
		{"nitrate", "2026-03-01", water.Nitrate, "50 mg/L NO3 (Directive (EU) 2020/2184, Annex I part B) | the site's own limit, at most 80 mg/L NO3 (we like it)"},
		{"ro", "2026-03-01", water.PHValue, ""},
		{"ro", "2026-03-01", water.Nitrate, "50 mg/L NO3 (Directive (EU) 2020/2184, Annex I part B)"},
		{"ro", "2026-03-01", water.Sulfate, "the journal's limit, at most 100 mg/L (house rule)"},
		{"carbon", "2026-03-01", water.PHValue, ""},
		{"tank", "2026-03-01", water.Iron, "0.1 mg/L (opinion: brewing handbooks, common practice, no source)"},
		{"plain", "2026-03-01", water.Iron, "200 ug/L (Directive (EU) 2020/2184, Annex I part C)"},
		{"no-such-site", "2026-03-01", water.Iron, "200 ug/L (Directive (EU) 2020/2184, Annex I part C)"},
	} {
		var words []string
		for _, f := range l.Of(c.id, c.site, at(c.day+"T12:00+02:00")) {
			words = append(words, f.Words())
		}
		if got := strings.Join(words, " | "); got != c.want {
			t.Errorf("%s of %s on %s:\n got %s\nwant %s", c.id, c.site, c.day, got, c.want)
		}
	}
	// The end that an own limit does not set stays as it was.
	for _, f := range l.Of(water.PHValue, "half", at("2026-03-01T12:00+02:00")) {
		if f.Own == nil && (f.Min == nil || *f.Min != 6.5 || f.Max != nil) || f.Own != nil && (f.Min != nil || *f.Max != 9) {
			t.Errorf("pH of half: %+v", f)
		}
	}
	for _, f := range l.Of(water.Chloride, "half", at("2026-03-01T12:00+02:00")) {
		if f.Kind == 3 && (f.Min == nil || *f.Min != 10 || f.Max != nil) {
			t.Errorf("the journal's chloride at half: %+v", f)
		}
	}
}

// TestLimitDay: a limit holds from the first moment of its day in the journal's
// zone.
func TestLimitDay(t *testing.T) {
	j := files(t, map[string]string{"sites/a.md": "name: A\nowner: quillmarsh\nstage: other\nlimits:\n  iron: {max: 2 mg/L, reason: x, since: 2026-06-01}\n"})
	l := NewLimits(j)
	before, after := l.Of(water.Iron, "a", at("2026-05-31T20:59Z")), l.Of(water.Iron, "a", at("2026-05-31T21:01Z"))
	if before[0].Own != nil || after[0].Own == nil {
		t.Errorf("midnight in Vilnius: %s, %s", before[0].Words(), after[0].Words())
	}
}

// TestOverall: the worst counts, and a derived value is held to own limits only.
func TestOverall(t *testing.T) {
	j := files(t, map[string]string{
		"sites/a.md": "name: A\nowner: quillmarsh\nstage: intake\nlimits:\n  residual_alkalinity: {max: 50 mg/L CaCO3}\n",
		"sessions/2026-03-01-a.md": "site: a\nsampled: 2026-03-01T08:00+02:00\nby: ines\nsource: lab\nreadings:\n  sulfate: 326 ± 36 mg/L\n  iron: 1.85 ± 0.1 mg/L\n" +
			"  alkalinity: 150 ± 4 mg/L CaCO3\n  calcium_hardness: 90 ± 4 mg/L CaCO3\n  total_hardness: 120 ± 4 mg/L CaCO3\n",
		"sessions/2026-03-02-a.md": "site: a\nsampled: 2026-03-02T08:00+02:00\nby: ines\nsample: check-standard\nstandard: {sulfate: 900 mg/L}\nreadings:\n  sulfate: 900 ± 9 mg/L\n",
	})
	l := NewLimits(j)
	var a water.Analysis
	j.Analysis(j.Sessions.List[0], &a)
	list := l.Session(j.Sessions.List[0], &a)
	over := 0
	for _, x := range list {
		if x.Conformity == Over {
			over++
		}
	}
	if over != 3 {
		t.Errorf("%d over", over)
	}
	j.Analysis(j.Sessions.List[1], &a)
	if list := l.Session(j.Sessions.List[1], &a); len(list) > 0 {
		t.Errorf("a check standard is held to limits: %+v", list)
	}
}
