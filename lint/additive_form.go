package lint

import (
	"wj/journal"
	"wj/water"
	"wj/water/substance"
	"wj/water/treat"
)

// checkAdditiveForm adds what the form of a single record cannot tell: whether
// an acid's strength is known from the addition or its lot, and with its basis.
func checkAdditiveForm(p *Pass) {
	for _, l := range p.Journal.Lots.List {
		if sub, ok := substance.ByKey(l.Substance); ok && l.Void == nil && sub.Liquid && l.Strength == "" {
			p.Report(l.Path, []string{"substance"}, "%s has no strength: sold from dilute to concentrated, the label decides", sub.Name).
				Help("add the label's figure with its basis, such as strength: 80 %% w/w")
		} else if ok && l.Void == nil && l.Strength != "" {
			p.strength(l.Path, []string{"strength"}, sub, l.Strength)
		}
	}
	p.eachAddition(func(path string, keys []string, a *journal.Addition, sub substance.Substance) {
		if a.Strength != "" {
			p.strength(path, append(keys, "strength"), sub, a.Strength)
			return
		}
		lot, found := p.Journal.Lots.Get(a.Lot)
		switch {
		case sub.Liquid && (!found || lot.Strength == ""):
			p.Report(path, keys, "%s of %s without its strength: %s", amount(a), sub.Key, sub.AssayNote).
				Help("write {amount: %s, strength: 80 %% w/w} with the label's figure, or name the lot that has it", amount(a))
		case !sub.Liquid && a.Amount.Unit.Family() == water.Volume:
			p.Report(path, keys, "%s of %s is a volume of something that is weighed", amount(a), sub.Key).
				Help("weigh it and write grams: a spoon or a cup holds what it likes")
		}
	})
}

// strength judges a strength as water/treat reads it.
func (p *Pass) strength(path string, keys []string, sub substance.Substance, text string) {
	if _, err := treat.ParseStrength(text); err != nil {
		p.Report(path, keys, "%q of %s does not say how strong it is: %v", text, sub.Key, err).
			Help("write w/w (grams in 100 g) or w/v (grams in 100 mL) as the label does: %s", sub.AssayNote)
	} else if _, err := treat.NewProduct(sub.Key, water.Quantity{}, text); err != nil {
		p.Report(path, keys, "%q of %s: %v", text, sub.Key, err).Help("read the label again: %s", sub.AssayNote)
	}
}

// eachAddition calls do for every salt, acid and base of changes and batches
// that are not void.
func (p *Pass) eachAddition(do func(path string, keys []string, a *journal.Addition, sub substance.Substance)) {
	for _, c := range p.Journal.Changes.List {
		for i := range c.Add {
			if sub, ok := substance.ByKey(c.Add[i].Substance); ok && c.Void == nil {
				do(c.Path, []string{"add", sub.Key}, &c.Add[i], sub)
			}
		}
	}
	for _, b := range p.Journal.Batches.List {
		for i := range b.Weighed {
			if sub, ok := substance.ByKey(b.Weighed[i].Substance); ok && b.Void == nil {
				do(b.Path, []string{"weighed", sub.Key}, &b.Weighed[i], sub)
			}
		}
	}
}

func amount(a *journal.Addition) string { return a.Amount.String() }
