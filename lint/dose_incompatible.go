package lint

import "wj/water/treat"

var doseIncompatible = &Rule{
	Name: "dose/incompatible", Severity: Error, Scope: Whole, Reach: OfRecord, Check: checkDoseIncompatible,
	Title: "acid and metabisulfite in one step give off sulfur dioxide",
}

// checkDoseIncompatible looks at what a batch weighed where no change has
// planned it.
func checkDoseIncompatible(p *Pass) {
	p.eachCaution(func(d *dosed, c *treat.Caution) {
		if !d.planned {
			p.caution(d, c)
		}
	})
}
