package lint

import (
	"slices"
	"strings"

	"wj/journal"
	"wj/water"
)

var reagentWrongAnalyte = &Rule{
	Name: "reagent/wrong-analyte", Severity: Error, Scope: Session, Reach: OfRecord, Check: checkReagentWrongAnalyte,
	Title: "a reading names a lot that tests something else",
}

func checkReagentWrongAnalyte(p *Pass) {
	p.eachLot(func(r *journal.Reading, lot *journal.Lot) {
		switch {
		case len(lot.Analytes) == 0 && lot.Substance != "":
			p.ReportReading(p.Session, r, "lot", "lot %s is %s, an additive, and tests nothing", lot.ID, lot.Substance).
				Help("write the lot of the %s reagent", r.Analyte)
		case len(lot.Analytes) > 0 && !slices.Contains(lot.Analytes, r.Analyte):
			names := make([]string, len(lot.Analytes))
			for i, id := range lot.Analytes {
				names[i] = id.String()
			}
			f := p.ReportReading(p.Session, r, "lot", "%s was read with lot %s, which tests %s", r.Analyte, lot.ID, strings.Join(names, ", ")).
				See(lot.Path, []string{"analyte"}, "the lot").
				Blame(lot.Path, []string{"analyte"}, "lot %s is for %s, and %s was read with it", lot.ID, strings.Join(names, ", "), r.Analyte)
			if other := p.swapped(r, lot); other != water.NumNames {
				f.Help("%s carries the lot for %s: were the two swapped on paper, or in the cell? if in the cell, repeat both", other, r.Analyte)
				return
			}
			f.Help("look at the pack: correct the lot, or repeat the test if the wrong reagent was used")
		}
	})
}

// swapped finds the reading that has this one's lot while this one has its.
func (p *Pass) swapped(r *journal.Reading, lot *journal.Lot) water.ID {
	for i := range p.Session.Readings {
		o := &p.Session.Readings[i]
		other, ok := p.Journal.Lots.Get(o.Lot)
		if ok && slices.Contains(lot.Analytes, o.Analyte) && slices.Contains(other.Analytes, r.Analyte) {
			return o.Analyte
		}
	}
	return water.NumNames
}
