package lint

import (
	"wj/journal"
	"wj/water"
)

var siteLooksLike = &Rule{
	Name: "site/looks-like", Severity: Warning, Scope: History, Check: checkSiteLooksLike,
	Title: "the readings are those of another site",
	Settings: []Threshold{
		{"distance", "3", "", "how far from its own site's water it must be, in standard uncertainties"},
		{"ratio", "3", "", "how many times nearer to the other site's"},
	},
}

// checkSiteLooksLike compares with the other sites of the same owner, in the
// supply period that they had that day. Sites that feed each other share waters
// and are passed over.
func checkSiteLooksLike(p *Pass) {
	h := p.Site
	if h.Site == nil || h.made() {
		return
	}
	own := h.profiles()
	var a water.Analysis
	for _, s := range h.Own {
		journal.Values(s, &a)
		far, n := 0.0, 0
		for w := range own {
			d, m := own[w].far(&a)
			if own[w].n > 3 && m >= 3 && (n == 0 || d < far) {
				far, n = d, m
			}
		}
		if n < 3 || far < p.Setting("distance") {
			continue
		}
		if name, d := p.likeness(h, s, &a); name != "" && d < p.Setting("distance") && d*p.Setting("ratio") < far {
			p.Report(s.Path, []string{"site"}, "these are the readings of %s rather than of %s", name, h.ID).
				Help("where was the sample taken? if at %s, void this record with the reason and write a new one under that site", name)
		}
	}
}

func (p *Pass) likeness(h *SiteHistory, s *journal.Session, a *water.Analysis) (string, float64) {
	name, best := "", 0.0
	for _, other := range p.run.facts.histories() {
		if other == h || other.made() || other.Site == nil || other.Site.Owner != h.Site.Owner || feeds(p.Journal, other.ID, h.ID, 4) || feeds(p.Journal, h.ID, other.ID, 4) {
			continue
		}
		regime := regimeOf(p.Journal, other.Site, s.Sampled.In(p.zone()), 4)
		for w := range other.profiles() {
			known := &other.waters[w]
			if known.regime != regime || known.n < 3 {
				continue
			}
			if d, n := known.far(a); n >= 3 && (name == "" || d < best) {
				name, best = other.ID, d
			}
		}
	}
	return name, best
}
