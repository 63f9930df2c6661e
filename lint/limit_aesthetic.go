package lint

import (
	"wj/journal/judge"
	"wj/water/limits"
)

var limitAesthetic = &Rule{
	Name: "limit/aesthetic", Severity: Warning, Scope: Session, Reach: OfRecord, Check: checkLimitAesthetic,
	Title: "a value is surely outside a limit set for taste, colour or pipes",
}

// checkLimitAesthetic asks which indicator values are in force: they give way to
// a site's own limit that says why, and hold for water as it is supplied.
func checkLimitAesthetic(p *Pass) {
	p.outside(func(a judge.Assessment) {
		p.reportValue(p.Session, a.Value, "%s is %s %s", reads(valueText(p.Session, a.Value), a.Value.ID), aboveOrBelow(a.Conformity), limitText(a.Limit, a.Conformity == judge.Over)).
			Help("not a matter of health: decide what this site may have and write it into its limits, with the reason; the blend decides the beer")
	}, limits.Indicator)
}
