package lint

import (
	"wj/water"
	"wj/water/substance"
)

var doseGypsum = &Rule{
	Name: "dose/gypsum", Severity: Error, Scope: Whole, Check: checkDoseGypsum,
	Title: "more gypsum than dissolves in cold liquor",
	Settings: []Threshold{
		{"slow", "1.5", "", "from this on it dissolves slowly and needs stirring, g/L"},
		{"most", "2.4", "", "more than this does not dissolve at 10 degC, g/L"},
	},
}

// checkDoseGypsum takes 2.4 g/L at 10 degC from the solubility product of gypsum
// (Nordstrom et al. 1990 as in PHREEQC 3, Parkhurst & Appelo 2013); calcium and
// sulfate that are in the water already lower it. 1.5 g/L is common practice, no
// source.
func checkDoseGypsum(p *Pass) {
	for _, c := range p.Journal.Changes.List {
		litres, err := c.Volume.In(water.Litre)
		if c.Void != nil || err != nil || litres <= 0 {
			continue
		}
		for i := range c.Add {
			a := &c.Add[i]
			if sub, ok := substance.ByKey(a.Substance); !ok || sub.Key != "gypsum" {
				continue
			}
			grams, err := a.Amount.In(water.Gram)
			if err != nil {
				continue
			}
			perLitre := grams / litres
			switch {
			case perLitre > p.Setting("most"):
				p.Report(c.Path, []string{"add", "gypsum"}, "%s of gypsum in %s is %s g/L, and no more than %s g/L dissolve", amount(a), c.Volume, plain(perLitre), plain(p.Setting("most"))).
					Help("what does not dissolve lies on the bottom and in the next batch: take less, or calcium chloride for a part")
			case perLitre >= p.Setting("slow"):
				f := p.Report(c.Path, []string{"add", "gypsum"}, "%s of gypsum in %s is %s g/L: from %s g/L on it dissolves slowly", amount(a), c.Volume, plain(perLitre), plain(p.Setting("slow"))).
					Help("stir it into a part of the liquor first, split it over mash and sparge, or take calcium chloride for a part")
				p.as(f, Warning)
			}
		}
	}
}
