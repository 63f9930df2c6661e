package lint

import "wj/journal"

var doseIonMax = &Rule{
	Name: "dose/ion-max", Severity: Warning, Scope: Whole, Check: checkDoseIonMax,
	Title: "the treated liquor holds more of an ion than brewers use",
	Settings: []Threshold{
		{"calcium", "200", "", "mg/L"}, {"magnesium", "40", "", "mg/L"}, {"sodium", "150", "", "mg/L"},
		{"chloride", "250", "", "mg/L"}, {"sulfate", "400", "", "mg/L"},
	},
}

// checkDoseIonMax: the figures are those of brewing handbooks, common practice,
// no source; style decides.
func checkDoseIonMax(p *Pass) {
	p.eachMix(func(c *journal.Change, m mixture) {
		for _, t := range boundedIons {
			v, ok := m.after[t]
			if !ok || v <= p.Setting(t) {
				continue
			}
			before := m.blend[t]
			p.Report(c.Path, []string{"add"}, "%s would be %s mg/L, of which the blend brings %s; brewers rarely go above %s", t, plain(v), plain(before), plain(p.Setting(t))).
				Help("more permeate in the blend, or less of the salt; if the style wants it, say so under `ignore`")
		}
	})
}

var boundedIons = []string{"calcium", "magnesium", "sodium", "chloride", "sulfate"}
