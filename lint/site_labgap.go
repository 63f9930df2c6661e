package lint

import (
	"math"
	"time"

	"wj/journal"
	"wj/journal/judge"
	"wj/query/stats"
	"wj/water"
)

var siteLabGap = &Rule{
	Name: "site/lab-gap", Severity: Warning, Scope: History, Reach: OfSite, Check: checkLabGap,
	Title:    "a laboratory's and the bench's reading of one day do not agree within what both claim",
	Settings: []Threshold{{"within", "24 h", "h", "how far apart the two samples may be"}},
}

// checkLabGap takes E_n = difference over the root of the squared expanded
// uncertainties (ISO 13528:2015, 9.7): above 1 the two do not agree.
func checkLabGap(p *Pass) {
	h := p.Site
	for _, s := range h.All {
		if s.Source != journal.SourceLab || !judge.InSeries(s) {
			continue
		}
		own := nearest(h.Own, s, hours(p.Setting("within")))
		if own == nil {
			continue
		}
		for i := range s.Readings {
			r := &s.Readings[i]
			o, ok := own.Reading(r.Analyte)
			if !ok || r.Analyte == water.SampleTemperature || r.Analyte == water.FreeChlorine || r.Analyte == water.TotalChlorine {
				continue // these do not travel to a laboratory
			}
			lab, ok := p.Journal.Measured(s, r)
			mine, ok2 := p.Journal.Measured(own, o)
			if !ok || !ok2 || lab.Bound != water.Exact || mine.Bound != water.Exact {
				continue
			}
			en, err := stats.NormalizedError(mine.Value, 2*mine.U, lab.Value, 2*lab.U)
			if err != nil || math.Abs(en) <= 1 {
				continue
			}
			p.ReportReading(own, o, "value", "bench %s against laboratory %s for %s (%s): they disagree, E_n %s", typed(o, mine), typed(r, lab), r.Analyte, s.ID, water.Round(en, 2)).
				See(s.Path, []string{"readings", r.Analyte.String()}, "the laboratory").
				Help("find which is off: test a standard here, ask the laboratory for its uncertainty; adjust nothing on fewer than three pairs")
		}
	}
}

// nearest is the session nearest in time, within a span; nil if there is none.
func nearest(list []*journal.Session, s *journal.Session, within time.Duration) *journal.Session {
	var best *journal.Session
	gap := within
	for _, o := range list {
		if d := o.Sampled.Sub(s.Sampled).Abs(); d <= gap && (best == nil || d < gap) {
			best, gap = o, d
		}
	}
	return best
}
