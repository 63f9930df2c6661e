package lint

import (
	"strings"

	"wj/journal"
	"wj/journal/judge"
	"wj/water/substance"
	"wj/water/treat"
)

// The rules of doses have no arithmetic of their own: they show, each its part,
// what water/treat says of a change or of what a batch weighed, so that wj lint,
// wj treat, wj review and wj sheet say one thing.

// dosed is a change, or a batch with what it weighed, and what is to be said of
// it.
type dosed struct {
	path, key string // key holds the additions: add or weighed
	added     []journal.Addition
	batch     *journal.Batch // nil for a change
	planned   bool           // a batch whose change exists
	cautions  []treat.Caution
}

// doses are the changes and weighed batches that are not void, of the files that findings
// are wanted of.
func (f *facts) doses() []dosed {
	f.doseOnce.Do(func() {
		book, bounds := f.book(), DoseLimits(f.run.j)
		for _, c := range f.run.j.Changes.List {
			if c.Void == nil && f.run.wanted(c.Path) {
				f.doseList = append(f.doseList, dosed{path: c.Path, key: "add", added: c.Add, cautions: book.Cautions(c, bounds)})
			}
		}
		for _, b := range f.run.j.Batches.List {
			if b.Void == nil && len(b.Weighed) > 0 && f.run.wanted(b.Path) {
				_, planned := f.run.j.Changes.Get(b.Change)
				f.doseList = append(f.doseList, dosed{path: b.Path, key: "weighed", added: b.Weighed, batch: b, planned: planned, cautions: book.Together(b.Weighed, bounds)})
			}
		}
	})
	return f.doseList
}

// DoseLimits are what a journal's doses are held against: the settings of the
// dose rules, and the limits of drinking water where it brews.
func DoseLimits(j *journal.Journal) treat.Limits {
	out := treat.DefaultLimits()
	out.GypsumSlow, out.GypsumMost = Setting(j, "dose/gypsum", "slow"), Setting(j, "dose/gypsum", "most")
	out.LeastAlkalinity, out.LowestPH = Setting(j, "dose/over-acid", "least"), Setting(j, "dose/over-acid", "pH")
	out.HighestPH = Setting(j, "dose/lime-base", "pH")
	out.Lactate = Setting(j, "dose/anion-from-acid", "lactate")
	out.Sulfite = Setting(j, "dose/sulfite", "excess")
	for id := range out.Most {
		out.Most[id] = Setting(j, "dose/ion-max", id.String())
	}
	for key := range out.Concentrated {
		out.Concentrated[key] = Setting(j, "dose/acid-strength", strings.TrimSuffix(key, "_acid"))
	}
	for _, l := range judge.NewLimits(j).Indicators() {
		if known, ok := out.Legal[l.ID]; l.Max != nil && l.ID.Info().Ion != 0 && (!ok || *l.Max < known.Most) {
			out.Legal[l.ID] = treat.Legal{Most: *l.Max, Law: l.Written + ", " + l.Source}
		}
	}
	return out
}

// checkDose shows the cautions of its rule about changes. What makes a person
// think, rather than stop, is a warning.
func checkDose(p *Pass) {
	p.eachCaution(func(d *dosed, c *treat.Caution) {
		if d.batch == nil {
			p.caution(d, c)
		}
	})
}

// eachCaution calls do for the cautions of the rule.
func (p *Pass) eachCaution(do func(d *dosed, c *treat.Caution)) {
	list := p.run.facts.doses()
	for i := range list {
		for k := range list[i].cautions {
			if c := &list[i].cautions[k]; c.Rule == p.rule.rule.Name {
				do(&list[i], c)
			}
		}
	}
}

// caution reports a caution at the first addition that it is about, with the
// amounts as they were typed.
func (p *Pass) caution(d *dosed, c *treat.Caution) *Finding {
	keys, typed := []string{d.key}, ""
	if len(c.Of) > 0 {
		keys = append(keys, c.Of[0])
		if a := d.addition(c.Of[0]); a == nil || !strings.HasPrefix(c.Message, amount(a)+" ") {
			typed = d.typed(c.Of) + ": "
		}
	}
	f := p.Report(d.path, keys, "%s%s", typed, c.Message).Help("%s (%s)", c.Help, c.Source)
	if c.Severity == treat.Warning {
		p.as(f, Warning)
	}
	return f
}

// typed writes additions as they are in the record: "180 g of gypsum".
func (d *dosed) typed(keys []string) string {
	var out []string
	for _, key := range keys {
		if a := d.addition(key); a != nil {
			out = append(out, amount(a)+" of "+key)
		}
	}
	return strings.Join(out, " and ")
}

// addition is the addition of a substance; nil where there is none.
func (d *dosed) addition(key string) *journal.Addition {
	for i := range d.added {
		if sub, ok := substance.ByKey(d.added[i].Substance); ok && sub.Key == key {
			return &d.added[i]
		}
	}
	return nil
}
