package lint

import (
	"fmt"
	"strings"
	"time"

	"wj/water"
)

var siteOverdue = &Rule{
	Name: "site/overdue", Severity: Off, Scope: Whole, Check: checkSiteOverdue,
	Title:    "a site was not tested as often as its schedule says",
	Settings: []Threshold{{"grace", "20 %", "%", "of the interval, before it is told"}},
}

// checkSiteOverdue is off by default: it depends on the day on which it is run,
// so that yesterday's clean journal fails today.
func checkSiteOverdue(p *Pass) {
	if p.Now.IsZero() {
		return
	}
	today := p.day(p.Now)
	for _, site := range p.Journal.Sites.List {
		if site.Void != nil || !site.Covers(today) {
			continue
		}
		h, _ := p.run.facts.history(site.ID)
		for i := range site.Schedule {
			plan := &site.Schedule[i]
			if plan.Every <= 0 || !plan.Covers(today) {
				continue
			}
			var late []string
			for _, id := range plan.Analytes {
				last := lastTested(h, id)
				if last.IsZero() {
					last = plan.Since
				}
				if last.IsZero() {
					last = site.Since
				}
				if !last.IsZero() && p.Now.Sub(last) > time.Duration(float64(plan.Every)*(1+p.Setting("grace")/100)) {
					late = append(late, fmt.Sprintf("%s (last %s)", id, p.date(last)))
				}
			}
			if len(late) > 0 {
				p.Report(site.Path, []string{"schedule", fmt.Sprint(i)}, "%s is due every %s and late: %s", site.ID, span(plan.Every), strings.Join(late, ", ")).Help("take the sample, or end the schedule with until: if the site rests")
			}
		}
	}
}

func lastTested(h *SiteHistory, id water.ID) time.Time {
	if h == nil {
		return time.Time{}
	}
	for i := len(h.All) - 1; i >= 0; i-- {
		if r, ok := h.All[i].Reading(id); ok && !r.Faulty && (routine(h.All[i]) || h.All[i].Sample == "duplicate") {
			return h.All[i].Sampled
		}
	}
	return time.Time{}
}
