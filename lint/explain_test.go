package lint

import (
	"slices"
	"strings"
	"testing"
	"time"
)

// TestExplanations: what follows from a bad lot is not told of any session that
// used it; what follows from a site that looks wrong is told once somebody has
// said that it is right.
func TestExplanations(t *testing.T) {
	grown := newPlant(t, 5000)
	last := grown.season(time.Date(2025, 6, 16, 0, 0, 0, 0, grown.zone), 31, "north-well", "town-main", "tarrow-bore")
	end := time.Date(2026, 1, 20, 0, 0, 0, 0, time.UTC)
	rules := func(name, silence string) (found []string) {
		p, s := grown.copy(1), last["north-well"].copy()
		delete(p.files, s.path())
		for _, f := range faults {
			if f.name == name {
				f.plant(p, s)
			}
		}
		if silence != "" {
			s.head["ignore"] = silence
		}
		p.write(s)
		for _, d := range lintFS(t, mapFS(p.files), Options{Now: end, Skip: []string{"reagent/expires-soon", "instrument/drift"}}) {
			if !slices.Contains(found, d.Rule) {
				found = append(found, d.Rule)
			}
		}
		slices.Sort(found)
		return found
	}
	for _, c := range []struct{ fault, silence, want string }{
		{"bad lot, 18 % low", "", "reagent/lot-shift reagent/unverified"},
		{"wrong site", "", "site/looks-like"},
		{"wrong site", `{site/looks-like: "the bore was cleaned"}`, "site/outlier unit/signature"},
		{"wrong site", `{site/looks-like: "the bore was cleaned", site/outlier: "the same"}`, "unit/signature"},
		{"wrong site", `{site/outlier: "the bore was cleaned"}`, "site/looks-like"}, // and the silence is in use
	} {
		if got := strings.Join(rules(c.fault, c.silence), " "); got != c.want {
			t.Errorf("%s, silenced %s: %s; want %s", c.fault, c.silence, got, c.want)
		}
	}
	for _, e := range explanations {
		for _, name := range append([]string{e.cause}, e.follows...) {
			if _, ok := Find(name); !ok {
				t.Errorf("%s is no rule", name)
			}
		}
	}
}
