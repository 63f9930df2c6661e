package lint

import (
	"math"

	"wj/journal"
	"wj/query/stats"
	"wj/water"
)

var siteControl = &Rule{
	Name: "site/control", Severity: Warning, Scope: History, Check: checkSiteControl,
	Title: "a site has left the limits that its own first readings set",
	Settings: []Threshold{
		{"baseline", "20", "", "how many readings of a regime freeze the limits"},
		{"uncertainty", "1.5", "", "standard uncertainties that the point, or the mean of the nine, must be off by"},
	},
}

// checkSiteControl holds each regime's readings against an individuals chart,
// centre ± 2.66 mean moving ranges of its first twenty (NIST/SEMATECH e-Handbook
// 6.3.2.2), and nine in a row on one side (Nelson 1984). The newest signal of
// an analyte is told, once, where it began.
func checkSiteControl(p *Pass) {
	h, baseline := p.Site, int(p.Setting("baseline"))
	for id := water.ID(0); id < water.NumAnalytes; id++ {
		s := h.Series(id)
		if s == nil || swings(id) || len(s.At) <= baseline || baseline < 5 || h.treated() {
			continue
		}
		if a, ok := p.run.active["site/trend"]; ok {
			if _, drifts := p.trend(h, id, a.setting); drifts {
				continue // a slow drift leaves every limit, and site/trend tells it
			}
		}
		for _, group := range byRegime(h, s) {
			if len(group) > baseline {
				p.control(h, id, s, group, baseline)
			}
		}
	}
}

func (p *Pass) control(h *SiteHistory, id water.ID, s *Series, group []int, baseline int) {
	values := make([]float64, len(group))
	for i, k := range group {
		values[i] = s.Value[k]
	}
	chart, err := stats.FreezeIndividuals(values[:baseline])
	if err != nil {
		return
	}
	signals, err := stats.FindRuns(values, chart.Center, chart.Sigma)
	if err != nil {
		return
	}
	for i := len(signals) - 1; i >= 0; i-- {
		signal := signals[i]
		if signal.At < baseline {
			continue
		}
		session := h.Own[s.At[group[signal.At]]]
		r, ok := session.Reading(id)
		if !ok {
			continue
		}
		mean, _ := stats.Mean(values[signal.From : signal.At+1])
		u := p.allowance(session, r, chart.Center)
		if math.Abs(mean-chart.Center) <= p.Setting("uncertainty")*u {
			continue
		}
		if signal.At == signal.To && signal.Rule.Name == "beyond-limits" && signal.At+1 < len(group) {
			continue // a single point has a cause of its own
		}
		p.ReportReading(session, r, "value", "with %s, %s at %s has left its control limits %s to %s: %s", journal.TypedReading(r), id, h.ID, water.Round(chart.Lower, 3), show(id, chart.Upper), signal.Rule.Says).
			Help("look for the cause: lot, meter, well, treatment; write the event, or the supply period if the water is another one now")
		return
	}
}

// byRegime groups the places of a series by supply regime, in order of time.
func byRegime(h *SiteHistory, s *Series) [][]int {
	at := map[string]int{}
	var out [][]int
	for k, i := range s.At {
		regime := h.Regime[i]
		n, ok := at[regime]
		if !ok {
			n = len(out)
			at[regime] = n
			out = append(out, nil)
		}
		out[n] = append(out[n], k)
	}
	return out
}
