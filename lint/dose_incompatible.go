package lint

import (
	"wj/journal"
	"wj/water/substance"
)

var doseIncompatible = &Rule{
	Name: "dose/incompatible", Severity: Error, Scope: Whole, Check: checkDoseIncompatible,
	Title: "acid and metabisulfite in one step give off sulfur dioxide",
}

func checkDoseIncompatible(p *Pass) {
	check := func(path, key string, list []journal.Addition) {
		for i := range list {
			sulfite, ok := substance.ByKey(list[i].Substance)
			if !ok || sulfite.Kind != substance.Sulfite {
				continue
			}
			for k := range list {
				acid, ok := substance.ByKey(list[k].Substance)
				if !ok || acid.Kind != substance.Acid || list[i].Stage != "" && list[k].Stage != "" && list[i].Stage != list[k].Stage {
					continue
				}
				p.Report(path, []string{key, sulfite.Key}, "%s and %s go into the water in one step: together they give off sulfur dioxide, which hurts the lungs", sulfite.Key, acid.Key).
					Help("sulfite first, into cold water, mixed and left to work; rinse what it was measured in; the acid later, and say which stage: each belongs to; fresh air, nobody with asthma, follow the local code")
			}
		}
	}
	for _, c := range p.Journal.Changes.List {
		if c.Void == nil {
			check(c.Path, "add", c.Add)
		}
	}
	for _, b := range p.Journal.Batches.List {
		if _, planned := p.Journal.Changes.Get(b.Change); b.Void == nil && !planned {
			check(b.Path, "weighed", b.Weighed)
		}
	}
}
