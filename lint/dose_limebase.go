package lint

import (
	"wj/journal"
	"wj/water/substance"
)

var doseLimeBase = &Rule{
	Name: "dose/lime-base", Severity: Error, Scope: Whole, Check: checkDoseLimeBase,
	Title:    "a base and an acid in one change, or a base that drives the pH out of bounds",
	Settings: []Threshold{{"pH", "10", "", "highest pH of a liquor"}},
}

func checkDoseLimeBase(p *Pass) {
	for _, c := range p.Journal.Changes.List {
		if c.Void != nil {
			continue
		}
		base, acid := "", ""
		for i := range c.Add {
			if sub, ok := substance.ByKey(c.Add[i].Substance); ok {
				switch sub.Kind {
				case substance.Base:
					base = sub.Key
				case substance.Acid:
					acid = sub.Key
				}
			}
		}
		if base == "" {
			continue
		}
		if acid != "" && !staged(c, base, acid) {
			p.Report(c.Path, []string{"add", base}, "%s and %s are in one change: they undo each other, and together they spit", base, acid).
				Help("leave out one of them; for lime softening in two steps give each its stage:")
		}
		if m, ok := p.mix(c); ok {
			if pH, ok := p.pHAfter(c, m); ok && pH > p.Setting("pH") {
				p.Report(c.Path, []string{"add", base}, "the liquor would have pH %s with %s, above %s", plain(round1(pH)), base, plain(p.Setting("pH"))).
					Help("take less; lime is caustic: goggles and gloves, no dust, follow the data sheet; measure the pH before the water is used")
			}
		}
	}
}

func staged(c *journal.Change, a, b string) bool {
	stage := func(key string) string {
		for i := range c.Add {
			if c.Add[i].Substance == key {
				return c.Add[i].Stage
			}
		}
		return ""
	}
	return stage(a) != "" && stage(b) != "" && stage(a) != stage(b)
}
