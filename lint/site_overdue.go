package lint

import (
	"fmt"
	"strings"
	"time"

	"wj/journal/judge"
)

var siteOverdue = &Rule{
	Name: "site/overdue", Severity: Off, Scope: Whole, Reach: OfSite, Check: checkSiteOverdue,
	Title:    "a site was not tested as often as its schedule says",
	Settings: []Threshold{{"grace", "0 %", "%", "of the interval, before it is reported"}},
}

// checkSiteOverdue is off by default: it depends on the day on which it is run,
// so that yesterday's clean journal fails today.
func checkSiteOverdue(p *Pass) {
	if p.Now.IsZero() {
		return
	}
	today := p.day(p.Now)
	for _, d := range judge.Due(p.Journal, p.Now) {
		grace := time.Duration(float64(d.Every) * p.Setting("grace") / 100)
		var late []string
		for _, a := range d.Analytes {
			if !today.After(a.On.Add(grace)) {
				continue
			}
			last := "never tested"
			if !a.Last.IsZero() {
				last = "last " + p.date(a.Last)
			}
			late = append(late, fmt.Sprintf("%s (%s)", a.ID, last))
		}
		if len(late) > 0 {
			p.Report(d.Site.Path, []string{"schedule", fmt.Sprint(d.Plan)}, "%s is due every %s and late: %s", d.Site.ID, span(d.Every), strings.Join(late, ", ")).
				Help("take the sample, or end the schedule with until: if the site rests")
		}
	}
}
