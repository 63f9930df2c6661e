package lint

import (
	"wj/journal"
	"wj/water"
)

var siteRegime = &Rule{
	Name: "site/regime", Severity: Warning, Scope: History, Check: checkSiteRegime,
	Title: "a session is the water of another supply period than the one declared",
	Settings: []Threshold{
		{"distance", "3", "", "how far from its own period's water it must be, in standard uncertainties"},
		{"ratio", "2", "", "how many times nearer to the other"},
	},
}

func checkSiteRegime(p *Pass) {
	h := p.Site
	if h.Site == nil || len(h.Site.Supply) == 0 {
		return
	}
	waters := h.profiles()
	var a water.Analysis
	for i, s := range h.Own {
		journal.Values(s, &a)
		own, n := 0.0, 0
		for w := range waters {
			if waters[w].regime == h.Regime[i] && waters[w].n > 3 {
				own, n = waters[w].far(&a)
			}
		}
		if h.Regime[i] != "" && (n < 3 || own < p.Setting("distance")) {
			continue
		}
		for w := range waters {
			other := &waters[w]
			if other.regime == h.Regime[i] || other.regime == "" || other.n < 3 {
				continue
			}
			d, n := other.far(&a)
			if n < 3 || d > p.Setting("distance") || h.Regime[i] != "" && d*p.Setting("ratio") > own {
				continue
			}
			if h.Regime[i] == "" {
				p.Report(s.Path, []string{"sampled"}, "%s has no supply period on %s, and this is the water of %s", h.ID, p.date(s.Sampled), other.regime).
					Help("add the period to sites/%s.md, with its first day and how it is known", h.ID)
				break
			}
			p.Report(s.Path, []string{"sampled"}, "%s is declared as %s on %s, and this looks like the water of %s", h.ID, h.Regime[i], p.date(s.Sampled), other.regime).
				Help("has the supply switched? ask the utility, and declare the period in sites/%s.md; recipes that rest on the old water lapse", h.ID)
			break
		}
	}
}
