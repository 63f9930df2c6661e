package lint

import (
	"wj/journal"
	"wj/lint/limits"
	"wj/water"
)

var limitHealth = &Rule{
	Name: "limit/health", Severity: Error, Scope: Session, Check: checkLimitHealth,
	Title: "a value is surely outside a drinking-water limit set for health",
}

func checkLimitHealth(p *Pass) {
	p.eachLimit(limits.Health, func(r *journal.Reading, m water.Measured, l *limits.Limit, over bool) {
		p.ReportReading(p.Session, r, "value", "%s is %s the limit of %s (%s)", reads(typed(r, m), l.Analyte), aboveOrBelow(over), l.Written, l.Source).
			Help("do not brew or drink with it; tell the supplier or the water authority, send a sample to a laboratory, and follow the local code")
	})
}
