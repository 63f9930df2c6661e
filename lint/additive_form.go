package lint

import (
	"regexp"
	"strconv"

	"wj/journal"
	"wj/water"
	"wj/water/substance"
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

func (p *Pass) strength(path string, keys []string, sub substance.Substance, text string) {
	st, ok := parseStrength(text)
	if !ok {
		p.Report(path, keys, "%q of %s does not say of what it is a part", text, sub.Key).
			Help("write w/w (grams in 100 g) or w/v (grams in 100 mL) as the label does: %s", sub.AssayNote)
		return
	}
	if _, err := sub.WeightPercent(st); err != nil {
		p.Report(path, keys, "%q: %v", text, err).Help("read the label again")
	}
}

var strengthForm = regexp.MustCompile(`^([0-9]{1,3}(?:\.[0-9]{1,3})?) ?% ?\(?(w/w|w/v)\)?$`)

// parseStrength reads "80 % w/w" or "10 % w/v".
func parseStrength(text string) (substance.Strength, bool) {
	m := strengthForm.FindStringSubmatch(text)
	if m == nil {
		return substance.Strength{}, false
	}
	v, err := strconv.ParseFloat(m[1], 64)
	return substance.Strength{Percent: v, Basis: substance.Basis(m[2])}, err == nil
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
