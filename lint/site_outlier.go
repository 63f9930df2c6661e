package lint

import (
	"math"

	"wj/journal"
	"wj/water"
)

var siteOutlier = &Rule{
	Name: "site/outlier", Severity: Warning, Scope: History, Check: checkSiteOutlier,
	Title: "a reading lies far from all others of its site and season",
	Settings: []Threshold{
		{"score", "3.5", "", "modified z-score"},
		{"readings", "8", "", "how many other readings of the same regime there must be"},
		{"uncertainty", "2", "", "standard uncertainties that it must be off by as well"},
	},
}

// checkSiteOutlier takes modified z = 0.6745 (x - median)/MAD over 3.5 (Iglewicz
// & Hoaglin 1993; NIST/SEMATECH e-Handbook 1.3.5.17), and only what the test can
// tell: more than twice its standard uncertainty.
func checkSiteOutlier(p *Pass) {
	h := p.Site
	for id := water.ID(0); id < water.NumAnalytes; id++ {
		s := h.Series(id)
		if s == nil || h.treated() || swings(id) {
			continue
		}
		for k := range s.At {
			if float64(s.N[k]) < p.Setting("readings") {
				continue
			}
			off := s.Value[k] - s.Middle[k]
			session := h.Own[s.At[k]]
			r, ok := session.Reading(id)
			if off == 0 || !ok || math.Abs(off) <= p.Setting("score")*s.Scale[k] {
				continue
			}
			u := p.allowance(session, r, s.Middle[k])
			if math.Abs(off) <= p.Setting("uncertainty")*u {
				continue
			}
			if _, told := p.signature(s, k, session, r); told && p.run.active["unit/signature"] != nil {
				continue
			}
			p.ReportReading(session, r, "value", "%s, and usual at %s is %s: off by %s, more than the test errs (± %s)", reads(journal.TypedReading(r), id), h.ID, show(id, s.Middle[k]), show(id, off), water.Round(2*u, 2)).
				Help("repeat it before either is believed; if the water really changed, write the event or the supply period that explains it")
		}
	}
}

// allowance is the larger standard uncertainty of the reading and of one like
// it at the usual value: a reading that is too small must not be held against
// its own small uncertainty.
func (p *Pass) allowance(s *journal.Session, r *journal.Reading, usual float64) float64 {
	u, _ := p.Journal.Uncertainty(s, r)
	d := r.Factor()
	if m := p.Journal.Measures(s, r); m != nil && m.HasAccuracy {
		return math.Max(u, m.Accuracy.Uncertainty(usual/d, d))
	}
	return math.Max(u, r.Analyte.Info().Typical.Uncertainty(usual/d, d))
}

// swings reports analytes that go up and down from day to day for good reason.
func swings(id water.ID) bool {
	switch id {
	case water.SampleTemperature, water.FreeChlorine, water.TotalChlorine, water.TurbidityValue:
		return true
	}
	return false
}
