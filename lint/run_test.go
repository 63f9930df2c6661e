package lint

import (
	"fmt"
	"maps"
	"math"
	"reflect"
	"strings"
	"testing"
	"unicode/utf8"

	"wj/journal"
	"wj/water"
)

const expiredSession = `---
site: north-well
sampled: 2026-03-04T08:15+02:00
tested: 2026-03-04T08:25+02:00
by: ines
instrument: meter-2
readings:
  chloride: {value: 21 mg/L, lot: CL-2502}
  sulfate: {value: 200 mg/L, lot: SU-2601}
---
`

const sessionPath = "sessions/2026/2026-03-04-north-well.md"

func expiredJournal(t *testing.T, settings, ignore string) map[string]string {
	t.Helper()
	files := baseFiles(t)
	files["lots/CL-2502.md"] = "---\nanalyte: chloride\nexpires: 2026-02\n---\n"
	files[sessionPath] = strings.Replace(expiredSession, "readings:", ignore+"readings:", 1)
	files["wj.yaml"] += settings
	return files
}

func told(ds []Diagnostic) string {
	var out []string
	for _, d := range ds {
		out = append(out, fmt.Sprintf("%s:%d %s %s", d.Path, d.Line, d.Severity, d.Rule))
	}
	return strings.Join(out, "\n")
}

// TestSettings: severities and thresholds of wj.yaml, the options Only, Skip and
// Paths, and silences.
func TestSettings(t *testing.T) {
	expired, over := sessionPath+":8 error reagent/expired", sessionPath+":9 error range/over"
	both := expired + "\n" + over
	line := func(n int, rest string) string { return fmt.Sprintf("%s:%d %s", sessionPath, n, rest) }
	for _, c := range []struct {
		name, settings, ignore string
		opt                    Options
		want                   string
	}{
		{name: "defaults", want: both},
		{name: "severity", settings: "lint:\n  reagent/expired: info\n", want: line(8, "info reagent/expired") + "\n" + over},
		{name: "off", settings: "lint:\n  reagent/expired: off\n", want: over},
		{name: "severity beside thresholds", settings: "lint:\n  range/over: {severity: warning}\n", want: expired + "\n" + line(9, "warning range/over")},
		{name: "a word that is no severity", settings: "lint:\n  range/over: {severity: fatal}\n", want: both},
		{name: "format cannot be turned off", settings: "lint:\n  format/date: off\n", want: both + "\nwj.yaml:6 error format/value"},
		{name: "only", opt: Options{Only: []string{"range/over"}}, want: over},
		{name: "only a family", opt: Options{Only: []string{"range"}}, want: over},
		{name: "skip a family", opt: Options{Skip: []string{"range"}}, want: expired},
		{name: "only runs what is off", settings: "lint:\n  range/over: off\n", opt: Options{Only: []string{"range/over"}}, want: over},
		{name: "skip", opt: Options{Skip: []string{"range/over"}}, want: expired},
		{name: "folder", opt: Options{Paths: []string{"sessions/2026"}}, want: both},
		{name: "folder with a slash", opt: Options{Paths: []string{"sessions/2026/"}}, want: both},
		{name: "another folder", opt: Options{Paths: []string{"sessions/202"}}, want: ""},
		{name: "the root", opt: Options{Paths: []string{"."}}, want: both},
		{name: "silenced", ignore: "ignore: {reagent/expired: kept for the record}\n", want: line(10, "error range/over")},
		{name: "a stale silence of a rule that did not run", ignore: "ignore: {unit/kind: old}\n", opt: Options{Only: []string{"record/silenced", "range/over"}}, want: line(10, "error range/over")},
		{name: "a stale silence", ignore: "ignore: {unit/kind: old}\n", want: line(7, "warning record/silenced") + "\n" + line(9, "error reagent/expired") + "\n" + line(10, "error range/over")},
		{name: "a void session", ignore: "void: {by: ines, on: 2026-03-05T08:00+02:00, reason: wrong tap}\n", want: ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			c.opt.Now = at(t, "2026-03-31T12:00+03:00")
			got := told(lintFS(t, mapFS(expiredJournal(t, c.settings, c.ignore)), c.opt))
			if c.name == "a word that is no severity" {
				if !strings.Contains(got, "wj.yaml:6 error format/value") {
					t.Errorf("got\n%s", got)
				}
				return
			}
			if got != c.want {
				t.Errorf("got\n%s\nwant\n%s", got, c.want)
			}
		})
	}
}

// TestThresholds: every default can be read in its own unit, and what cannot be
// meant is refused.
func TestThresholds(t *testing.T) {
	for _, r := range Rules() {
		for i := range r.Settings {
			if _, err := r.Settings[i].parse(r.Settings[i].Default); err != nil {
				t.Errorf("%s %s: %v", r.Name, r.Settings[i].Key, err)
			}
			if r.Settings[i].Doc == "" || strings.HasSuffix(r.Settings[i].Doc, ".") {
				t.Errorf("%s %s: badly documented", r.Name, r.Settings[i].Key)
			}
		}
	}
	length := Threshold{Key: "radius", Default: "250 m", Unit: "m"}
	if v, err := length.parse("0.3 km"); err != nil || v != 300 {
		t.Errorf("0.3 km is %v m, %v", v, err)
	}
	for _, bad := range []string{"", "300", "300 L", "-3 m", "<3 m", "3 ± 1 m", "3,5 m", "many"} {
		if _, err := length.parse(bad); err == nil {
			t.Errorf("%q was taken for a length", bad)
		}
	}
}

// TestRegistry: names are unique and of a known form, titles are sentences
// without a stop.
func TestRegistry(t *testing.T) {
	seen := map[string]bool{}
	for _, r := range Rules() {
		if family, _, _ := strings.Cut(r.Name, "/"); family != string(r.Family) {
			t.Errorf("%s is in the family %q", r.Name, r.Family)
		}
		if seen[r.Name] || strings.Count(r.Name, "/") != 1 || r.Name != strings.ToLower(r.Name) || strings.ContainsAny(r.Name, " _") {
			t.Errorf("%q is no good name", r.Name)
		}
		seen[r.Name] = true
		if r.Title == "" || strings.HasSuffix(r.Title, ".") || (r.Check == nil) != (r.Scope == Form || r == recordSilenced) {
			t.Errorf("%s: title %q, scope %d", r.Name, r.Title, r.Scope)
		}
	}
}

// TestStable: the same journal gives the same findings in the same order.
func TestStable(t *testing.T) {
	p := newPlant(t, 7)
	p.season(at(t, "2025-01-06"), 20, "north-well", "town-main")
	for i := range 6 {
		s := p.session("north-well", at(t, "2025-06-02").AddDate(0, 0, i))
		s.readings[water.Sulfate].typed = "200 mg/L"
		s.readings[water.Alkalinity].typed = "24 mg/L CaCO3"
		p.write(s)
	}
	first := lintFS(t, mapFS(p.files), Options{Now: at(t, "2025-07-01")})
	for range 4 {
		if again := lintFS(t, mapFS(p.files), Options{Now: at(t, "2025-07-01")}); !reflect.DeepEqual(first, again) {
			t.Fatalf("first\n%s\nagain\n%s", told(first), told(again))
		}
	}
	if len(first) < 12 {
		t.Errorf("only %d findings", len(first))
	}
}

// TestApplyGuards: fixes of other files, unsafe fixes and overlapping fixes.
func TestApplyGuards(t *testing.T) {
	files := expiredJournal(t, "", "")
	files[sessionPath] = strings.Replace(strings.Replace(expiredSession, "chloride:", "Cl:", 1), "200 mg/L", "120,5 mg/L", 1)
	ds := lintFS(t, mapFS(files), Options{Now: at(t, "2026-03-31")})
	src := []byte(files[sessionPath])
	if out, n, err := Apply("wj.yaml", src, ds, true); n != 0 || err != nil || string(out) != string(src) {
		t.Errorf("another file's fixes were made: %d, %v", n, err)
	}
	safe, n, err := Apply(sessionPath, src, ds, false)
	if err != nil || n != 1 || strings.Contains(string(safe), "120,5") || !strings.Contains(string(safe), "Cl:") {
		t.Errorf("safe: %d, %v\n%s", n, err, safe)
	}
	all, n, err := Apply(sessionPath, src, ds, true)
	if err != nil || n != 2 || !strings.Contains(string(all), "chloride:") {
		t.Errorf("unsafe: %d, %v\n%s", n, err, all)
	}
	if _, _, err := Apply(sessionPath, src[:40], ds, true); err == nil {
		t.Error("fixes of another text were made")
	}
}

// TestDistance: a minute of arc of latitude is a nautical mile, 1852 m by
// definition (International Hydrographic Conference 1929), which a sphere of the
// earth's mean radius meets within 0.1 %; a quarter of a meridian is 10 002 km
// (Moritz 2000, Geodetic Reference System 1980).
func TestDistance(t *testing.T) {
	a := journal.Place{Latitude: 55, Longitude: 19, Set: true}
	if d := journal.Distance(a, journal.Place{Latitude: 55 + 1.0/60, Longitude: 19}); math.Abs(d/1852-1) > 0.001 {
		t.Errorf("a minute of arc is %g m", d)
	}
	if d := journal.Distance(journal.Place{}, journal.Place{Latitude: 90}); math.Abs(d/10_001_966-1) > 0.001 {
		t.Errorf("a quarter of a meridian is %g m", d)
	}
	if d := journal.Distance(a, a); d != 0 {
		t.Errorf("a place is %g m from itself", d)
	}
}

// FuzzRun: whatever a session, a change or the settings hold, nothing panics,
// every place lies in its file, and fixing twice changes nothing more. The run
// works on every core, so its coverage wavers: fuzz with -fuzzminimizetime 5x, or
// the time goes into shrinking inputs.
func FuzzRun(f *testing.F) {
	f.Add(expiredSession, "for: pale-lager\nauthor: ines\nproposed: 2026-03-11\nbasis:\n  - {session: 2026-03-04-north-well, share: 100 %}\nvolume: 0 L\nadd:\n  lactic_acid: {amount: 1 mL, strength: 80 % w/w}\n", "lint:\n  sample/place: {radius: 1 km}\n")
	f.Add("---\nsite: north-well\nsampled: 0001-01-01T00:00Z\nby: ines\nreadings:\n  pH: [7, 7,5]\n  alkalinity: {value: 0 mg/L CaCO3, dilution: 0}\n---\n", "basis: []\nvolume: 1 L\n", "jurisdictions: [us, who]\n")
	f.Add("---\nsite: hot-liquor\nsampled: 2026-03-04T08:15+02:00\nsample: check-standard\nstandard_lot: CS-2601\nby: pia\nreadings: {sulfate: 0 mg/L, chloride: >1 mg/L, total_hardness: -1 dH}\n---\n", "add: {chalk: 1 kg, sodium_metabisulfite: 1 g}\nvolume: 1 L\nbasis:\n  - {session: 2026-03-04-north-well, share: -1 %}\n", "lint: {reagent/expird: 1}\n")
	f.Add(strings.Repeat("\ufeff", 6)+expiredSession, "basis: []\r\r\r\r\r\r\n ois: x\n", "jurisdictions: [us]\r\r\n")
	base := map[string]string{}
	f.Fuzz(func(t *testing.T, session, change, settings string) {
		if len(session)+len(change)+len(settings) > 1<<14 {
			return
		}
		if len(base) == 0 {
			maps.Copy(base, baseFiles(t))
		}
		files := maps.Clone(base)
		files[sessionPath] = session
		files["changes/2026-03-11-pale-lager.md"] = "---\n" + change + "---\n"
		files["batches/2026-041.md"] = "---\nbeer: pale-lager\nbrewed: 2026-03-12\nchange: 2026-03-11-pale-lager\n---\n"
		files["wj.yaml"] += settings
		ds := lintFS(t, mapFS(files), Options{Now: at(t, "2026-03-31")})
		for _, d := range ds {
			if text, ok := files[d.Path]; ok && (d.Start < 0 || d.End < d.Start || d.End > len(text) || d.Line < 1 || d.Column < 1 || d.EndColumn < d.Column) {
				t.Fatalf("%+v lies outside a file of %d bytes", d, len(text))
			}
			if d.Message == "" || !utf8.ValidString(d.Message) && utf8.ValidString(session+change+settings) {
				t.Fatalf("%q is no message", d.Message)
			}
		}
		fixed := maps.Clone(files)
		for name, text := range files {
			out, _, err := Apply(name, []byte(text), ds, false)
			if err != nil {
				t.Fatal(err)
			}
			fixed[name] = string(out)
		}
		for range 3 { // an unlocked fix may show one beneath it
			again := lintFS(t, mapFS(fixed), Options{Now: at(t, "2026-03-31")})
			changed := false
			for name, text := range fixed {
				out, n, err := Apply(name, []byte(text), again, false)
				if err != nil {
					t.Fatal(err)
				}
				fixed[name], changed = string(out), changed || n > 0
			}
			if !changed {
				return
			}
		}
		t.Fatalf("fixes never come to an end:\n%s", fixed[sessionPath])
	})
}
