package lint

import (
	"fmt"
	"slices"

	"wj/journal"
	"wj/water"
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
	for _, lot := range p.Journal.Lots.List {
		use, used := p.run.facts.uses()[lot.ID]
		if lot.Void != nil || lot.Recalled != nil || !lot.Finished.IsZero() || len(lot.Analytes) == 0 || !used || p.Now.Sub(use.LastAt) > days(90) {
			continue
		}
		left, rate := lot.Tests-use.Tests-lot.Losses, 0.0
		if spent := use.LastAt.Sub(use.FirstAt).Hours() / 24; spent >= 14 {
			rate = float64(use.Tests) / spent
		}
		switch {
		case p.spare(lot):
		case !lot.Expires.IsZero() && lot.Expires.Before(today): // reagent/expired tells where it is used
		case !lot.Expires.IsZero() && lot.Expires.Sub(today) <= lead:
			p.Report(lot.Path, []string{"expires"}, "%s expires on %s, in %s, and no other lot for %s is at hand", lot.ID, journal.FormatDate(lot.Expires), span(lot.Expires.Sub(today)), lot.Analytes[0]).
				Help("order now%s", leftText(lot, left))
		case lot.Tests > 0 && left >= 0 && rate > 0 && float64(left)/rate < lead.Hours()/24:
			p.Report(lot.Path, []string{"tests"}, "%s has %d of %d tests left, about %.0f d at the present use, and no other lot for %s is at hand", lot.ID, left, lot.Tests, float64(left)/rate, lot.Analytes[0]).
				Help("order now")
		}
	}
}

func leftText(lot *journal.Lot, left int) string {
	if lot.Tests == 0 {
		return ""
	}
	return fmt.Sprintf("; %d of %d tests are left", max(left, 0), lot.Tests)
}

// spare reports whether another lot for the same analytes is in date beyond
// the lead time.
func (p *Pass) spare(lot *journal.Lot) bool {
	today := p.day(p.Now)
	for _, other := range p.Journal.Lots.List {
		if other == lot || other.Void != nil || other.Recalled != nil || !other.Finished.IsZero() || !covers(other.Analytes, lot.Analytes) {
			continue
		}
		if !other.Received.IsZero() && other.Received.After(today) || !other.Expires.IsZero() && other.Expires.Sub(today) <= days(p.Setting("lead")) {
			continue
		}
		if use, used := p.run.facts.uses()[other.ID]; other.Tests == 0 || !used || use.Tests+other.Losses < other.Tests {
			return true
		}
	}
	return false
}

func covers(have, want []water.ID) bool {
	for _, id := range want {
		if !slices.Contains(have, id) {
			return false
		}
	}
	return true
}
