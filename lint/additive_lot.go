package lint

import (
	"wj/journal"
	"wj/water/substance"
)

var additiveLot = &Rule{
	Name: "additive/lot", Severity: Error, Scope: Whole, Reach: OfRecord, Check: checkAdditiveLot,
	Title: "something went into a brew whose lot or food grade is not on record",
}

func checkAdditiveLot(p *Pass) {
	told := map[string]bool{}
	for _, b := range p.Journal.Batches.List {
		if b.Void != nil {
			continue
		}
		change, _ := p.Journal.Changes.Get(b.Change)
		if len(b.Weighed) == 0 && change != nil && change.Void == nil && !told[change.ID] {
			told[change.ID] = true // what was dosed is what the change says
			for i := range change.Add {
				a := &change.Add[i]
				if sub, ok := substance.ByKey(a.Substance); ok {
					p.additive(b, change.Path, "add", a, sub, a.Lot)
				}
			}
		}
		for i := range b.Weighed {
			a := &b.Weighed[i]
			sub, ok := substance.ByKey(a.Substance)
			if !ok {
				continue
			}
			id := a.Lot
			if id == "" && change != nil {
				id = plannedLot(change, a.Substance)
			}
			p.additive(b, b.Path, "weighed", a, sub, id)
		}
	}
}

func (p *Pass) additive(b *journal.Batch, path, key string, a *journal.Addition, sub substance.Substance, id string) {
	keys := []string{key, a.Substance}
	lot, ok := p.Journal.Lots.Get(id)
	switch {
	case id == "":
		p.Report(path, keys, "%s of %s goes into %s, and names no lot", amount(a), sub.Key, b.ID).
			Help("find the bag and write {amount: %s, lot: …}; if there is none, hold the batch until its lot is known", amount(a))
	case !ok: // ref/missing says so
	case lot.Substance != "" && lot.Substance != sub.Key: // additive/contradicts says so
	case lot.Recalled != nil:
		p.Report(path, keys, "lot %s of %s was recalled on %s: %s", id, sub.Key, p.date(lot.Recalled.On), lot.Recalled.Reason).Help("hold the batch and ask the supplier and your food authority")
	case !lot.Expires.IsZero() && p.dayOf(b.Brewed).After(lot.Expires):
		p.Report(path, keys, "lot %s of %s expired on %s, before the brew", id, sub.Key, journal.FormatDate(lot.Expires)).Help("replace the product; ask the supplier whether what was used is fit")
	case lot.Grade == "":
		p.Report(path, keys, "lot %s of %s carries no evidence that it is food grade", id, sub.Key).
			Help("add grade: to the lot from its certificate; quarantine it if there is none. %s", sub.FoodGrade)
	}
}

func plannedLot(c *journal.Change, key string) string {
	for i := range c.Add {
		if c.Add[i].Substance == key {
			return c.Add[i].Lot
		}
	}
	return ""
}
