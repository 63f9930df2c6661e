package lint

import (
	"time"

	"wj/journal"
	"wj/water/substance"
)

var doseJurisdiction = &Rule{
	Name: "dose/jurisdiction", Severity: Warning, Scope: Whole, Reach: OfRecord, Check: checkDoseJurisdiction,
	Title: "something goes into beer that the brewery's own list keeps out where it is brewed",
}

// checkDoseJurisdiction knows no law: what may go into beer differs from country
// to country and changes, so the list is the journal's own, `restricted` in
// wj.yaml, each line with its days and its source. A change is judged on the day
// of its proposal and, while it may still be brewed with, today; a batch on the
// day of its brew, where its change was not shown already.
func checkDoseJurisdiction(p *Pass) {
	list := p.Journal.Settings.Restricted
	if len(list) == 0 {
		return
	}
	told := map[string]bool{} // change and substance
	check := func(path, key string, a *journal.Addition, days ...time.Time) bool {
		sub, ok := substance.ByKey(a.Substance)
		if !ok {
			return false
		}
		r, ok := list[sub.Key]
		if !ok {
			return false
		}
		for _, day := range days {
			if day.IsZero() || !r.Covers(day) {
				continue
			}
			since, where := "", ""
			if !r.Since.IsZero() {
				since = " since " + journal.FormatDate(r.Since)
			}
			if r.Where != "" {
				where = " in " + r.Where
			}
			p.Report(path, []string{key, sub.Key}, "%s of %s: the journal's list keeps it out of beer%s%s (%s)", amount(a), sub.Key, where, since, r.Source).
				Help("ask the authority where it is brewed, or take another salt or acid: wj treat --without %s; if the law has changed, date the line in wj.yaml with until:", sub.Key)
			return true
		}
		return false
	}
	for _, c := range p.Journal.Changes.List {
		if c.Void != nil {
			continue
		}
		days := []time.Time{c.Proposed}
		if !p.Now.IsZero() && !p.over(c) && !p.followed(c) {
			days = append(days, p.day(p.Now))
		}
		for i := range c.Add {
			if check(c.Path, "add", &c.Add[i], days...) {
				told[c.ID+" "+c.Add[i].Substance] = true
			}
		}
	}
	for _, b := range p.Journal.Batches.List {
		for i := range b.Weighed {
			if b.Void == nil && !told[b.Change+" "+b.Weighed[i].Substance] {
				check(b.Path, "weighed", &b.Weighed[i], p.dayOf(b.Brewed))
			}
		}
	}
}
