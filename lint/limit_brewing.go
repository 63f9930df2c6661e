package lint

import (
	"wj/journal"
	"wj/lint/limits"
	"wj/water"
)

var limitBrewing = &Rule{
	Name: "limit/brewing", Severity: Warning, Scope: Session, Check: checkLimitBrewing,
	Title: "brewing liquor holds chlorine, iron or manganese that the beer would show",
}

// liquor are the stages whose water goes into beer as it is.
var liquor = map[string]bool{"blend-tank": true, "hot-liquor": true, "cold-liquor": true, "ro-permeate": true}

func checkLimitBrewing(p *Pass) {
	site, ok := p.Journal.Sites.Get(p.Session.Site)
	if !ok || !liquor[site.Stage] {
		return
	}
	p.eachLimit(limits.Brewing, func(r *journal.Reading, m water.Measured, l *limits.Limit, over bool) {
		help := "find where it comes from before the next brew"
		if l.Analyte == water.FreeChlorine || l.Analyte == water.TotalChlorine {
			help = "carbon first: change or backwash it, then decide about anything else; do not brew with it as it is"
		}
		p.ReportReading(p.Session, r, "value", "%s of %s at %s is above what brewing liquor should hold, %s (%s)", typed(r, m), l.Analyte, site.ID, l.Written, l.Source).Help("%s", help)
	})
}
