package lint

import (
	"fmt"

	"wj/journal"
	"wj/journal/judge"
)

var reagentExpiresSoon = &Rule{
	Name: "reagent/expires-soon", Severity: Info, Scope: Whole, Reach: OfBench, Check: checkExpiresSoon,
	Title: "a lot in use expires or runs out soon, and no other is at hand",
	Settings: []Threshold{
		{"lead", "60 d", "d", "how long before its last day a lot is reported, and how many days of tests should be left"},
	},
}

func checkExpiresSoon(p *Pass) {
	if p.Now.IsZero() {
		return
	}
	today, lead := p.day(p.Now), days(p.Setting("lead"))
	for _, g := range judge.Stock(p.Journal, p.Now, judge.StockDays) {
		for _, h := range g.Lots {
			lot := h.Lot
			if len(lot.Analytes) == 0 || h.Use.Tests == 0 || h.Resting(p.Now) {
				continue
			}
			if _, spare := g.Spare(h, today.Add(lead)); spare {
				continue
			}
			switch h.Ends(today, lead) {
			case judge.EndsByDate:
				left := ""
				if h.Known {
					left = fmt.Sprintf("; %.0f of %.0f tests are left", h.Left, h.Of)
				}
				p.Report(lot.Path, []string{"expires"}, "%s expires on %s, in %s, and no other lot for %s is at hand", lot.ID, journal.FormatDate(lot.Expires), span(lot.Expires.Sub(today)), g.Name).
					Help("order now%s", left)
			case judge.EndsByUse:
				p.Report(lot.Path, []string{"tests"}, "%s has %.0f of %.0f tests left, about %.0f d at the present use, and no other lot for %s is at hand", lot.ID, h.Left, h.Of, h.Left/h.PerDay, g.Name).
					Help("order now")
			}
		}
	}
}
