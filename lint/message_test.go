package lint

import (
	"regexp"
	"strings"
	"testing"

	"wj/water"
)

// notTheNumber are rules that speak of something else than the number at whose
// place they are told.
var notTheNumber = map[string]string{
	"instrument/check-due":  "of the meter, at the first reading that it made unchecked",
	"record/authority":      "of the person, at the reading that was beyond the training",
	"additive/lot":          "of the lot",
	"range/dilution":        "of the dilution, where it is told at the value",
	"site/overdue":          "of the schedule",
	"format/unknown-key":    "of the key",
	"dose/ion-max":          "of the whole liquor",
	"reagent/wrong-analyte": "of the lot",
}

// sourced are the rules that hold a number against a limit, and what of the limit's
// source their messages or next steps name.
var sourced = map[string]string{
	"limit/health": `CFR|Directive|WHO`, "limit/aesthetic": `CFR|Directive`, "limit/brewing": `no source`, "limit/probable": `CFR|Directive|own|journal`,
	"limit/site": `own limit|journal's limit`, "limit/stage": `no source|after the last event`,
	"range/over": `range of \S`, "range/under": `range of \S`, "range/impossible": `no source|no water`, "range/low-buffer": `Standard Methods`, "range/interference": `\((Standard Methods|method)`,
	"range/resolution": `the display`, "unit/instrument": `meter-2 shows`, "sample/stale": `CFR|Standard Methods|method`, "sample/replicates": `the method's accuracy|% of the mean`,
	"sample/place": `sample of it is taken within`, "instrument/check-failed": `the method's accuracy|SM 1020`, "chemistry/charge-balance": `SM 1030`, "chemistry/conductivity": `SM 2510`,
	"batch/weighed": `no source|none was weighed|does not ask`, "change/target": `of pale-lager|of mashed|of any sparge`, "change/lapsed": `uncertainty|policy`, "change/unsigned-use": `policy|emergency`,
	"dose/gypsum": `Nordstrom`, "dose/over-acid": `no source`, "dose/anion-from-acid": `from memory|no source`, "dose/lime-base": `no source|Plummer`, "dose/sulfite": `AWWA|1169/2011`,
	"dose/incompatible": `data sheets`, "dose/ion-max": `Palmer|Directive|CFR|no source`, "dose/acid-strength": `no source`, "dose/jurisdiction": `Beer Order`,
}

var numberForm = regexp.MustCompile(`[0-9]+(?:\.[0-9]+)?`)

// TestMessages looks at every finding of the firing fixtures: it names a place in
// its file, the number that is there as it was typed, the limit with its
// source, and what to do next.
func TestMessages(t *testing.T) {
	base, files, rules := baseFiles(t), fixtureFiles(t), 0
	for _, rule := range Rules() {
		for _, file := range files[rule.Name] {
			f := loadFixture(t, file, rule.Name)
			opt := Options{Now: f.now, Only: []string{rule.Name}}
			if f.git != nil {
				opt.History = f.git
			}
			if rule == recordGuardChanged {
				opt.Base = baseRevision(t, base, f.common)
			}
			fsys := mapFS(base, f.common, f.bad)
			for _, d := range lintFS(t, fsys, opt) {
				said := d.Message + " | " + d.Help
				if d.Path == "" || d.Message == "" || d.Help == "" {
					t.Errorf("%s: %+v lacks its place, its message or its next step", file, d)
				}
				if of, ok := sourced[rule.Name]; ok && !regexp.MustCompile(of).MatchString(said) {
					t.Errorf("%s: no source of the limit: %s", file, said)
				}
				stored, ok := fsys[d.Path]
				if !ok || d.Line < 1 || d.Column < 1 || d.End > len(stored.Data) {
					if ok || !strings.HasPrefix(rule.Name, "record/") {
						t.Errorf("%s: %s has no place: %s:%d:%d", file, rule.Name, d.Path, d.Line, d.Column)
					}
					continue
				}
				// A list of replicates and a long reading are placed at their key.
				typed := string(stored.Data[d.Start:max(d.Start, d.End)])
				if _, err := water.ParseQuantity(strings.Trim(typed, `"`)); err != nil || notTheNumber[rule.Name] != "" {
					continue
				}
				if number := numberForm.FindString(typed); number != "" && !strings.Contains(said, number) {
					t.Errorf("%s: %s is not named as typed: %s", file, typed, said)
				}
			}
		}
		rules++
	}
	if rules < 105 {
		t.Errorf("only %d rules", rules)
	}
	for name := range sourced {
		if _, ok := Find(name); !ok {
			t.Errorf("%s is no rule", name)
		}
	}
}
