package lint

import (
	"math"

	"wj/journal"
	"wj/journal/judge"
	"wj/query/stats"
	"wj/water"
)

var siteUtilityGap = &Rule{
	Name: "site/utility-gap", Severity: Warning, Scope: History, Reach: OfSite, Check: checkUtilityGap,
	Title: "the utility's figure and the brewery's own readings of the same weeks do not agree",
	Settings: []Threshold{
		{"window", "60 d", "d", "how far apart in time they may be"},
		{"readings", "3", "", "own readings that are needed"},
	},
}

// checkUtilityGap holds each figure of the utility against the median of the
// brewery's own readings of the same regime around it: E_n of ISO 13528 above 1.
func checkUtilityGap(p *Pass) {
	h, window := p.Site, days(p.Setting("window"))
	for _, s := range h.All {
		if s.Source != journal.SourceUtility || !judge.InSeries(s) {
			continue
		}
		regime := judge.Regime(p.Journal, h.Site, s.Sampled)
		for i := range s.Readings {
			r := &s.Readings[i]
			m, ok := p.Journal.Measured(s, r)
			series := h.Series(r.Analyte)
			if !ok || m.Bound != water.Exact || series == nil || r.Analyte == water.SampleTemperature {
				continue
			}
			var own []float64
			u := 0.0
			for k, at := range series.At {
				o := h.Own[at]
				if gap := o.Sampled.Sub(s.Sampled); gap.Abs() > window || h.Regime[at] != regime {
					continue
				}
				if reading, ok := o.Reading(r.Analyte); ok {
					own = append(own, series.Value[k])
					one, _ := p.Journal.Uncertainty(o, reading)
					u = math.Max(u, one)
				}
			}
			if float64(len(own)) < p.Setting("readings") {
				continue
			}
			middle, _ := stats.Median(own)
			en, err := stats.NormalizedError(middle, 2*u, m.Value, 2*m.U)
			if err != nil || math.Abs(en) <= 1 {
				continue
			}
			p.ReportReading(s, r, "value", "the utility says %s, the median of %d own readings is %s: they disagree (E_n %s)", reads(typed(r, m), r.Analyte), len(own), spread(r.Analyte, middle, u), water.Round(en, 2)).
				Help("ask the utility which zone and which blend the figure is for, and of which month")
		}
	}
}
