package lint

import "wj/journal"

var doseAnionFromAcid = &Rule{
	Name: "dose/anion-from-acid", Severity: Warning, Scope: Whole, Check: checkDoseAnionFromAcid,
	Title:    "the acid leaves so much of its anion that it can be tasted",
	Settings: []Threshold{{"lactate", "400", "", "most lactate in the liquor, mg/L (taste, from memory)"}},
}

func checkDoseAnionFromAcid(p *Pass) {
	p.eachMix(func(c *journal.Change, m mixture) {
		if v := m.after["lactate"]; v > p.Setting("lactate") {
			p.Report(c.Path, []string{"add", "lactic_acid"}, "the liquor would hold %s mg/L of lactate, more than %s: it can be tasted", plain(v), plain(p.Setting("lactate"))).
				Help("take the rest of the alkalinity with more permeate, or with another food-grade acid; a sour beer may want it: say so under `ignore`")
		}
	})
}
