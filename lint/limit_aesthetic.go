package lint

import (
	"wj/journal"
	"wj/lint/limits"
	"wj/water"
)

var limitAesthetic = &Rule{
	Name: "limit/aesthetic", Severity: Warning, Scope: Session, Check: checkLimitAesthetic,
	Title: "a value is surely outside a limit set for taste, colour or pipes",
}

// checkLimitAesthetic leaves analytes alone for which the site has its own,
// decided limit: limit/site speaks there; and waters that the brewery itself has
// treated: these limits are for water as it is supplied.
func checkLimitAesthetic(p *Pass) {
	site, _ := p.Journal.Sites.Get(p.Session.Site)
	if site != nil && !supplied(site) {
		return
	}
	p.eachLimit(limits.Aesthetic, func(r *journal.Reading, m water.Measured, l *limits.Limit, over bool) {
		if site != nil {
			if _, decided := site.Limits[l.Analyte]; decided {
				return
			}
		}
		p.ReportReading(p.Session, r, "value", "%s is %s the limit of %s (%s)", reads(typed(r, m), l.Analyte), aboveOrBelow(over), l.Written, l.Source).
			Help("not a matter of health: decide what this site may have and write it into its limits, with who decided; the blend decides the beer")
	})
}
