package lint

import (
	"wj/journal/judge"
	"wj/water/limits"
)

var limitSite = &Rule{
	Name: "limit/site", Severity: Warning, Scope: Session, Reach: OfRecord, Check: checkLimitSite,
	Title: "a value is surely outside a limit that the site or the journal sets itself",
}

func checkLimitSite(p *Pass) {
	p.outside(func(a judge.Assessment) {
		derived := ""
		if a.Value.Derived {
			derived = "derived "
		}
		f := p.reportValue(p.Session, a.Value, "%s%s of %s is %s %s", derived, valueText(p.Session, a.Value), a.Value.ID, aboveOrBelow(a.Conformity), limitText(a.Limit, a.Conformity == judge.Over))
		if action := a.Limit.Own.Action; action != "" {
			f.Help("%s; open an action record", action)
		} else {
			f.Help("repeat it, then open an action record with cause and correction")
		}
		if severity, ok := ParseSeverity(a.Limit.Own.Severity); ok && severity != Off {
			p.as(f, severity)
		}
	}, limits.Site, limits.Journal)
}
