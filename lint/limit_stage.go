package lint

import (
	"math"
	"slices"

	"wj/journal"
	"wj/journal/judge"
	"wj/water"
)

var limitStage = &Rule{
	Name: "limit/stage", Severity: Warning, Scope: History, Reach: OfSite, Check: checkLimitStage,
	Title: "a stage of treatment no longer does its work",
	Settings: []Threshold{
		{"chlorine", "0.05", "", "most free or total chlorine after carbon, mg/L Cl2"},
		{"hardness", "17.1", "", "most total hardness after a softener, mg/L CaCO3 (1 gpg)"},
		{"rejection", "90 %", "%", "least rejection of conductivity by a membrane"},
		{"passage", "2", "", "how many times the salt passage after the last event at the membrane"},
	},
}

// checkLimitStage judges carbon and softener outlets by what comes out, and a
// membrane by what it holds back of its own feed: permeate alone follows the feed
// and misleads. The figures are common practice, no source.
func checkLimitStage(p *Pass) {
	h := p.Site
	if h.Site == nil {
		return
	}
	switch h.Site.Stage {
	case journal.StageCarbon:
		for _, s := range h.Own {
			if !p.stage(s, water.TotalChlorine, "chlorine", "the carbon lets chlorine through", "backwash or change the carbon, and write the event; nothing downstream may be brewed with or reach a membrane until it is gone") {
				p.stage(s, water.FreeChlorine, "chlorine", "the carbon lets chlorine through", "backwash or change the carbon, and write the event; nothing downstream may be brewed with or reach a membrane until it is gone")
			}
		}
	case journal.StageSoftener:
		for _, s := range h.Own {
			p.stage(s, water.TotalHardness, "hardness", "the softener lets hardness through", "regenerate it, check the salt and the valve, and write the event")
		}
	case journal.StagePermeate:
		p.rejection(h)
	}
}

func (p *Pass) stage(s *journal.Session, id water.ID, setting, says, help string) bool {
	r, ok := s.Reading(id)
	if !ok {
		return false
	}
	most := p.Setting(setting)
	m, ok := p.Journal.Measured(s, r)
	if !ok || judge.Conform(water.Value{ID: id, Value: m.Value, U: m.U, Bound: m.Bound}, nil, &most) != judge.Over {
		return false
	}
	p.ReportReading(s, r, "value", "%s of %s: %s; at most %s (common practice, no source)", typed(r, m), id, says, withUnit(plain(p.Setting(setting)), id)).Help("%s", help)
	return true
}

// rejection pairs each permeate with its feed within a day.
func (p *Pass) rejection(h *SiteHistory) {
	permeate := h.Series(water.ElectricalConductivity)
	if permeate == nil || len(h.Site.FedBy) == 0 {
		return
	}
	var feed []*journal.Session
	for _, id := range h.Site.FedBy {
		if f, ok := p.run.facts.history(id); ok && id != h.ID {
			feed = append(feed, f.Own...)
		}
	}
	slices.SortStableFunc(feed, func(a, b *journal.Session) int { return a.Sampled.Compare(b.Sampled) })
	own := make([]*journal.Session, len(permeate.At))
	for k, at := range permeate.At {
		own[k] = h.Own[at]
	}
	fresh := math.NaN()
	var before *journal.Session
	for _, x := range judge.Passages(p.Journal, own, feed) {
		s, passage := x.Session, x.Part
		if before == nil || eventBetween(p.Journal, h.ID, before.Sampled, s.Sampled) {
			fresh = passage
		}
		before = s
		r, ok := s.Reading(water.ElectricalConductivity)
		if !ok {
			continue
		}
		switch least := p.Setting("rejection") / 100; {
		case 1-passage < least:
			p.ReportReading(s, r, "value", "rejection is %.1f %% (feed %s, permeate %s), at least %s %% is expected (common practice, no source)", 100*(1-passage), show(water.ElectricalConductivity, x.In), r.First, plain(100*least)).
				Help("clean or replace the membrane, and write the event")
		case passage > p.Setting("passage")*fresh && x.Out > 10:
			p.ReportReading(s, r, "value", "salt passage is %.1f %% of the feed (permeate %s), %.1f times that after the last event (%.1f %%)", 100*passage, r.First, passage/fresh, 100*fresh).
				Help("check pressure, temperature and seals; clean the membrane while that still helps")
		}
	}
}
