package lint

import (
	"math"

	"wj/journal"
	"wj/water"
)

var chemistrySodiumBand = &Rule{
	Name: "chemistry/sodium-band", Severity: Warning, Scope: History, Check: checkSodiumBand,
	Title: "sodium by difference leaves the site's own band: one of the five readings behind it is off",
	Settings: []Threshold{
		{"spread", "3", "", "robust standard deviations of the site's sodium"},
		{"uncertainty", "1.25", "", "standard uncertainties of the derived sodium that it must be off by as well"},
	},
}

// checkSodiumBand is the everyday charge balance of a kit: all errors of five
// tests gather in the sodium by difference. What repeats (a lot's bias, the
// water's potassium) is in the site's median already, so the allowance is less
// than the full uncertainty.
func checkSodiumBand(p *Pass) {
	h := p.Site
	s := h.Series(water.Sodium)
	if s == nil {
		return
	}
	var a water.Analysis
	for k := range s.At {
		session := h.Own[s.At[k]]
		if _, measured := session.Reading(water.Sodium); measured || int(s.N[k]) < enough {
			continue
		}
		off := s.Value[k] - s.Middle[k] - p.seldom(session)
		if math.Abs(off) <= p.Setting("spread")*s.Scale[k] {
			continue
		}
		p.Journal.Analysis(session, &a)
		na, err := a.Derive(water.Sodium)
		if err != nil || math.Abs(off) <= p.Setting("uncertainty")*na.U || na.Value < -2*na.U {
			continue // below zero is chemistry/sodium-negative
		}
		f := p.Report(session.Path, []string{"readings"}, "sodium by difference is %s, and usual at %s is %s ± %s", spread(water.Sodium, na.Value, na.U), h.ID, show(water.Sodium, s.Middle[k]), water.Round(p.Setting("spread")*s.Scale[k], 2))
		if id, by := p.furthest(session, int(s.At[k])); id != water.NumNames {
			f.Help("furthest from its own usual value is %s, by %s: repeat it first, with another lot; alkalinity, hardness, chloride and sulfate all enter", id, by)
		} else {
			f.Help("alkalinity, hardness, chloride and sulfate all enter: repeat them with other lots, the newest lot first")
		}
	}
}

// seldom is what the ions that most sessions of the site did not measure add to
// this one's sodium by difference, mg/L: a nitrate of 50 mg/L, measured for once,
// moves it by 18 and is no fault of the five.
func (p *Pass) seldom(session *journal.Session) float64 {
	add := 0.0
	usual := len(p.Site.Series(water.Sodium).At)
	for _, id := range []water.ID{water.Nitrate, water.Nitrite, water.Potassium, water.Ammonium, water.Fluoride, water.Phosphate} {
		m, ok := p.measured(session, id)
		if !ok || m.Bound != water.Exact {
			continue
		}
		if known := p.Site.Series(id); known == nil || 2*len(known.At) < usual {
			add -= m.Value / id.Info().MolarMass * float64(id.Info().Charge) * water.Sodium.Info().MolarMass
		}
	}
	return add
}

func (p *Pass) measured(s *journal.Session, id water.ID) (water.Measured, bool) {
	r, ok := s.Reading(id)
	if !ok {
		return water.Measured{}, false
	}
	return p.Journal.Measured(s, r)
}

// furthest is the reading that lies furthest from the site's usual value, in
// equivalents, among those that sodium by difference rests on.
func (p *Pass) furthest(session *journal.Session, at int) (water.ID, string) {
	worst, id, by := 0.0, water.NumNames, ""
	for _, x := range []struct {
		id     water.ID
		weight float64 // mg per meq
	}{{water.Alkalinity, 50.043}, {water.TotalHardness, 50.043}, {water.Chloride, 35.45}, {water.Sulfate, 48.028}} {
		s := p.Site.Series(x.id)
		if s == nil {
			continue
		}
		for k := range s.At {
			if int(s.At[k]) != at {
				continue
			}
			if d := math.Abs(s.Value[k]-s.Middle[k]) / x.weight; d > worst {
				worst, id, by = d, x.id, show(x.id, s.Value[k]-s.Middle[k])
			}
		}
	}
	return id, by
}
