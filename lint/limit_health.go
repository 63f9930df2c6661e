package lint

import (
	"wj/journal/judge"
	"wj/water/limits"
)

var limitHealth = &Rule{
	Name: "limit/health", Severity: Error, Scope: Session, Reach: OfRecord, Check: checkLimitHealth,
	Title: "a value is surely outside a drinking-water limit set for health",
}

func checkLimitHealth(p *Pass) {
	p.outside(func(a judge.Assessment) {
		p.reportValue(p.Session, a.Value, "%s is %s %s", reads(valueText(p.Session, a.Value), a.Value.ID), aboveOrBelow(a.Conformity), limitText(a.Limit, a.Conformity == judge.Over)).
			Help("do not brew or drink with it; inform the supplier or the water authority, send a sample to a laboratory, and follow the local code")
	}, limits.Health)
}
