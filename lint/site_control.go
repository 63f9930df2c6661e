package lint

import (
	"math"
	"time"

	"wj/journal"
	"wj/journal/judge"
	"wj/query/control"
	"wj/water"
)

var siteControl = &Rule{
	Name: "site/control", Severity: Warning, Scope: History, Reach: OfSite, Check: checkSiteControl,
	Title: "a site has left the limits that its own first readings set",
	Settings: []Threshold{
		{"baseline", "20", "", "how many readings of a regime freeze the limits"},
		{"uncertainty", "1.5", "", "standard uncertainties that the point, or the mean of the nine, must be off by"},
	},
}

// wholeYear is what readings must cover before they show what the season does to a water.
const wholeYear = 330 * 24 * time.Hour

// together is how many readings that drift show that all of the water does: those whose tests
// are too coarse to show it drift with it.
const together = 3

// checkSiteControl holds each regime's readings against an individuals chart,
// centre ± 2.66 mean moving ranges of its first twenty (NIST/SEMATECH e-Handbook
// 6.3.2.2), and nine in a row on one side (Nelson 1984). The newest signal of
// an analyte is shown, once, where it began.
func checkSiteControl(p *Pass) {
	h, baseline := p.Site, int(p.Setting("baseline"))
	var charted []water.ID
	drifting := 0
	for id := water.ID(0); id < water.NumAnalytes; id++ {
		s := h.Series(id)
		if s == nil || control.Swings(id) || len(s.At) <= baseline {
			continue
		}
		if a, ok := p.run.active["site/trend"]; ok {
			if _, drifts := p.trend(h, id, a.setting); drifts {
				drifting++
				continue // a slow drift leaves every limit, and site/trend shows it
			}
		}
		charted = append(charted, id)
	}
	for _, id := range charted {
		s := h.Series(id)
		var places []int
		for k := h.anew(s); k < len(s.At); k++ {
			places = append(places, k)
		}
		for _, group := range journal.Groups(places, func(k int) string { return h.Regime[s.At[k]] }) {
			p.control(h, id, s, group, baseline, drifting >= together)
		}
	}
}

func (p *Pass) control(h *SiteHistory, id water.ID, s *Series, group []int, baseline int, drifts bool) {
	values := make([]float64, len(group))
	for i, k := range group {
		values[i] = s.Value[k]
	}
	chart, err := control.Freeze(values, baseline)
	if err != nil {
		return
	}
	reading := func(n int) (*journal.Session, *journal.Reading, bool) {
		session := h.Own[s.At[group[n]]]
		r, ok := session.Reading(id)
		return session, r, ok
	}
	signals := control.Signals(chart, values, baseline, p.Setting("uncertainty"), func(n int, level float64) float64 {
		if session, r, ok := reading(n); ok {
			return judge.Allowance(p.Journal, session, r, level)
		}
		return math.Inf(1) // a value by difference: what it follows from is judged
	})
	for i := len(signals) - 1; i >= 0; i-- {
		signal := signals[i]
		session, r, ok := reading(signal.At)
		if !ok {
			continue
		}
		if signal.Single() && signal.At+1 < len(group) || !signal.Single() && drifts {
			continue // a single point has a cause of its own, and the water drifts as a whole
		}
		f := p.ReportReading(session, r, "value", "with %s, %s at %s has left its control limits %s to %s: %s", journal.TypedReading(r), id, h.ID, water.Round(chart.Lower, 3), show(id, chart.Upper), signal.Rule.Says).
			Help("look for the cause: lot, meter, well, treatment; write the event, or the supply period if the water is another one now")
		if covered := h.Own[s.At[group[baseline-1]]].Sampled.Sub(h.Own[s.At[group[0]]].Sampled); covered < wholeYear {
			f.atMost(Info).Help("the limits come from %s: it may be the season; else look for the cause: lot, meter, well, treatment, another supply", span(covered))
		}
		return
	}
}
