package lint

import (
	"wj/journal/judge"
	"wj/water"
	"wj/water/limits"
)

var limitBrewing = &Rule{
	Name: "limit/brewing", Severity: Warning, Scope: Session, Reach: OfRecord, Check: checkLimitBrewing,
	Title: "brewing liquor holds chlorine, iron or manganese that the beer would show",
}

func checkLimitBrewing(p *Pass) {
	p.outside(func(a judge.Assessment) {
		id := a.Value.ID
		help := "find where it comes from before the next brew"
		if id == water.FreeChlorine || id == water.TotalChlorine {
			help = "carbon first: change or backwash it, then decide about anything else; do not brew with it as it is"
		}
		p.reportValue(p.Session, a.Value, "%s of %s at %s is above what brewing liquor should hold, %s (%s)", valueText(p.Session, a.Value), id, p.Session.Site, a.Limit.Written, a.Limit.Source).Help("%s", help)
	}, limits.Brewing)
}
