package lint

import (
	"strings"

	"wj/journal"
	"wj/water"
)

var sampleIncomplete = &Rule{
	Name: "sample/incomplete", Severity: Warning, Scope: History, Reach: OfSite, Check: checkIncomplete,
	Title: "a session lacks analytes that the site's schedule tests together",
}

func checkIncomplete(p *Pass) {
	h := p.Site
	if h.Site == nil || len(h.Site.Schedule) == 0 {
		return
	}
	for i, s := range h.Own {
		if p.complete(s) {
			continue
		}
		day := p.day(s.Sampled)
		var have water.Set
		for _, near := range sameDay(h.Own, i, func(o *journal.Session) bool { return p.day(o.Sampled).Equal(day) }) {
			have = have.Union(near.Analytes())
		}
		have = have.Given()
		for k := range h.Site.Schedule {
			plan := &h.Site.Schedule[k]
			if !plan.Covers(day) || len(plan.Analytes) < 2 {
				continue
			}
			var missing []string
			for _, id := range plan.Analytes {
				if !have.Has(id) {
					missing = append(missing, id.String())
				}
			}
			// A session follows a plan if it holds more than half of it.
			if len(missing) == 0 || 2*len(missing) >= len(plan.Analytes) {
				continue
			}
			p.Report(s.Path, []string{"readings"}, "%s is planned at %s together with the rest and was not tested%s", strings.Join(missing, ", "), h.ID, lost(missing)).
				Help("test it from the same bottle while it keeps, or say why it is missing under `ignore`")
		}
	}
}

// complete reports whether a session gives all analytes of all schedules, which
// most do.
func (p *Pass) complete(s *journal.Session) bool {
	have := s.Analytes().Given()
	for k := range p.Site.Site.Schedule {
		for _, id := range p.Site.Site.Schedule[k].Analytes {
			if !have.Has(id) {
				return false
			}
		}
	}
	return true
}

// sameDay are the sessions around i for which same holds.
func sameDay(list []*journal.Session, i int, same func(*journal.Session) bool) []*journal.Session {
	from, to := i, i+1
	for from > 0 && same(list[from-1]) {
		from--
	}
	for to < len(list) && same(list[to]) {
		to++
	}
	return list[from:to]
}

// lost says what cannot be derived without a reading.
func lost(missing []string) string {
	for _, m := range missing {
		switch m {
		case "total_hardness":
			return ": no magnesium, sodium or residual alkalinity without it"
		case "alkalinity":
			return ": no residual alkalinity or sodium without it"
		case "calcium_hardness":
			return ": no magnesium or residual alkalinity without it"
		case "sulfate", "chloride":
			return ": no sodium by difference without it"
		}
	}
	return ""
}
