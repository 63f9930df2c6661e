package main

import (
	"fmt"
	"strings"
)

// site is a sampling point and how often it is tested.
type site struct {
	id, name, owner, stage, fed string
	every, week                 int // days, and the week in which it begins
	tests                       []string
}

var full = []string{"pH", "alkalinity", "calcium_hardness", "total_hardness", "chloride", "sulfate", "conductivity", "temperature"}

var sites = []site{
	{"town-main", "Town main, tap in the cellar", "quillmarsh", "intake", "", 14, 0, append([]string{"free_chlorine"}, full...)},
	{"north-well", "North well", "quillmarsh", "intake", "", 28, 0, full},
	{"carbon-outlet", "Carbon filter, outlet", "quillmarsh", "carbon-outlet", "town-main", 14, 0, []string{"free_chlorine", "total_chlorine", "conductivity"}},
	{"softener-outlet", "Softener, outlet", "quillmarsh", "softener-outlet", "carbon-outlet", 28, 2, []string{"total_hardness", "conductivity"}},
	{"ro-permeate", "Reverse osmosis, permeate", "quillmarsh", "ro-permeate", "carbon-outlet", 28, 0, []string{"pH", "alkalinity", "chloride", "sulfate", "calcium_hardness", "total_hardness", "conductivity"}},
	{"hot-liquor-tank", "Hot liquor tank", "quillmarsh", "hot-liquor", "north-well, ro-permeate, town-main", 0, 0, full},
	{"hollow-spring", "Hollow Mill, spring", "hollow-mill", "intake", "", 42, 5, full},
	{"tarrow-bore", "Tarrow Lane, bore", "tarrow-lane", "intake", "", 42, 3, full},
}

func siteOf(id string) *site {
	for i := range sites {
		if sites[i].id == id {
			return &sites[i]
		}
	}
	return nil
}

// founding are the files of the first commit.
func founding(p *plant, people []*person, proof bool) map[string]string {
	out := map[string]string{".gitignore": ".wj-*\n"}
	rule := "none"
	if proof {
		rule = "signature"
	}
	out["wj.yaml"] = `format: 1
name: Quillmarsh Brewery
timezone: Europe/Vilnius
jurisdictions: eu
policy:
  proof: ` + rule + `
  changes:    {reviewers: 1, other_than_author: true, valid_for: 365 d, emergency_review: 24 h}
  amendments: {reason: required}
scale: {mass: 1 g, volume: 1 mL}
rounds:
  monday: [` + ids() + `]
lint: {site/overdue: off, reagent/expires-soon: off}
`
	out["owners/quillmarsh.md"] = "---\nname: Quillmarsh Brewery\nemail: office@quillmarsh.example\nself: true\nsince: 2024-01-01\n---\n"
	out["owners/tarrow-lane.md"] = "---\nname: Tarrow Lane Brewhouse\nemail: tove@tarrow-lane.example\nsince: 2024-01-01\n---\n\nA client.\n"
	out["owners/hollow-mill.md"] = "---\nname: Hollow Mill Brewers\nemail: bram@hollow-mill.example\nsince: 2024-01-01\n---\n\nA client.\n"
	for _, x := range people {
		keys := ""
		if x.public != "" {
			keys = "keys:\n  - {key: " + x.public + ", since: 2024-01-01}\n"
		}
		roles := ""
		for _, role := range x.roles {
			roles += "  - {since: 2024-01-01, role: " + role + "}\n"
		}
		out["people/"+x.id+".md"] = fmt.Sprintf("---\nname: %s\nemail: %s@%s\nroles:\n%s%ssince: 2024-01-01\n---\n", x.name, x.id, x.domain, roles, keys)
	}
	for i, s := range sites {
		var b strings.Builder
		fmt.Fprintf(&b, "---\nname: %s\nowner: %s\nstage: %s\n", s.name, s.owner, s.stage)
		if s.fed != "" {
			fmt.Fprintf(&b, "fed_by: [%s]\n", s.fed)
		}
		fmt.Fprintf(&b, "place: [55.%d, 19.%d]\nradius: 150 m\n", 7000+13*i, 400+i)
		if s.every > 0 {
			fmt.Fprintf(&b, "schedule:\n  - {every: %d d, analytes: [%s]}\n", s.every, strings.Join(s.tests, ", "))
		}
		if s.id == "carbon-outlet" {
			b.WriteString("limits:\n  free_chlorine: {max: 0.10 mg/L, source: \"own decision\", action: \"no brewing liquor from this filter\"}\n")
		}
		if s.id == "town-main" {
			b.WriteString("supply:\n  - {since: 2024-01-01, regime: reservoir, evidence: \"waterworks' yearly plan\"}\n")
		}
		b.WriteString("since: 2024-01-01\n---\n")
		out["sites/"+s.id+".md"] = b.String()
	}
	out["sites/bench.md"] = "---\nname: Test bench\nowner: quillmarsh\nstage: other\nsince: 2024-01-01\n---\n"
	meter, pen := "", ""
	for _, t := range tests {
		unit, high, low := t.unit, show(&t, t.high), show(&t, t.low)
		line := fmt.Sprintf("  %s: {units: %s, range: [%s, %s], resolution: %s, accuracy: %s", t.key, unit, low, high, show(&test{unit: t.unit, decimals: t.decimals, high: 1e9, low: -1}, resolution(&t)), accuracy(&t))
		line = strings.Replace(line, "units: , ", "", 1) + "}\n"
		if t.probe == "" {
			meter += line
		} else {
			pen += line
		}
	}
	out["instruments/meter-1.md"] = "---\nname: Photometer with cells\nserial: QM-0044\nsort: photometer\nmeasures:\n" + meter + "since: 2024-01-01\n---\n"
	out["instruments/ec-pen-1.md"] = "---\nname: Conductivity pen\nserial: P-118\nsort: conductivity\nmeasures:\n" + pen + "since: 2024-01-01\n---\n"
	out["targets/pale-lager.md"] = `---
name: Pale Lager
ranges:
  calcium:             {min: 60 mg/L, max: 72 mg/L}
  magnesium:           {max: 20 mg/L}
  chloride:            {min: 55 mg/L, max: 70 mg/L}
  sulfate:             {min: 50 mg/L, max: 65 mg/L}
  residual_alkalinity: {min: -12 mg/L CaCO3, max: 8 mg/L CaCO3}
owner: quillmarsh
liquor: 1200 L
since: 2024-01-01
---
`
	return out
}

func ids() string {
	var out []string
	for _, s := range sites {
		if s.every > 0 && s.owner == "quillmarsh" {
			out = append(out, s.id)
		}
	}
	return strings.Join(out, ", ")
}

func resolution(t *test) float64 { return []float64{1, 0.1, 0.01}[t.decimals] }

func accuracy(t *test) string {
	plain := func(v float64) string { return strings.TrimSpace(fmt.Sprintf("%g %s", v, t.unit)) }
	if t.relative == 0 {
		return plain(t.absolute)
	}
	return fmt.Sprintf("%s + %g %%", plain(t.absolute), t.relative*100)
}
