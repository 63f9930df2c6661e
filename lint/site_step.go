package lint

import (
	"math"

	"wj/journal"
	"wj/query/stats"
)

var siteStep = &Rule{
	Name: "site/step", Severity: Warning, Scope: History, Check: checkSiteStep,
	Title: "a site's water jumped and stayed there, and nothing on record says why",
	Settings: []Threshold{
		{"size", "3", "", "standard uncertainties of a reading between the medians"},
		{"readings", "4", "", "readings on the new level that are needed"},
	},
}

// checkSiteStep compares the median of up to eight readings with that of the
// next four, within one regime, where all of the four lie on the new side. An
// event at the site or at what feeds it explains a step, and a change of lot
// is reagent/lot-shift's.
func checkSiteStep(p *Pass) {
	h, need := p.Site, max(int(p.Setting("readings")), 2)
	for _, id := range drifting {
		s := h.Series(id)
		if s == nil || h.treated() {
			continue
		}
		for _, g := range byRegime(h, s) {
			values := make([]float64, len(g))
			for i, k := range g {
				values[i] = s.Value[k]
			}
			for b := need; b+need <= len(g); b++ {
				if !stands(values[max(0, b-8):b], values[b:b+need]) {
					continue
				}
				before, _ := stats.Median(values[max(0, b-8):b])
				after, _ := stats.Median(values[b : b+need])
				session, last := h.Own[s.At[g[b]]], h.Own[s.At[g[b-1]]]
				r, ok := session.Reading(id)
				if !ok {
					continue
				}
				u := p.allowance(session, r, before)
				if math.Abs(after-before) <= p.Setting("size")*u {
					continue
				}
				if old, ok := last.Reading(id); ok && old.Lot != r.Lot && p.run.active["reagent/lot-shift"] != nil || p.eventBetween(h.ID, last, session) {
					b += need
					continue
				}
				p.ReportReading(session, r, "value", "with %s, %s at %s jumped from %s to %s here and stayed", journal.TypedReading(r), id, h.ID, show(id, before), show(id, after)).
					Help("what changed between %s and %s? write the event, or the supply period if it is another water", p.date(last.Sampled), p.date(session.Sampled))
				b += 7
			}
		}
	}
}

// stands reports whether all values after lie on one side of all but one of
// those before.
func stands(before, after []float64) bool {
	low, high := math.Inf(1), math.Inf(-1)
	for _, v := range after {
		low, high = math.Min(low, v), math.Max(high, v)
	}
	above, below := 0, 0
	for _, v := range before {
		if v < low {
			above++
		}
		if v > high {
			below++
		}
	}
	return max(above, below) >= len(before)-len(before)/4
}
