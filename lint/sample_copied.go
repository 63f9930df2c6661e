package lint

import (
	"math"

	"wj/journal"
	"wj/water"
)

var sampleCopied = &Rule{
	Name: "sample/copied", Severity: Warning, Scope: History, Reach: OfSite, Check: checkCopied,
	Title:    "all readings are those of the site's previous session, to the digit",
	Settings: []Threshold{{"chance", "0.001", "", "probability that so many tests repeat to the digit by chance"}},
}

func checkCopied(p *Pass) {
	own := p.Site.Own
	for i := 1; i < len(own); i++ {
		s, before := own[i], own[i-1]
		if !same(s, before) {
			continue
		}
		if chance := p.coincidence(s); chance < p.Setting("chance") {
			p.Report(s.Path, []string{"readings"}, "all %d readings are those of %s, to the digit; by chance that happens once in %.0f sessions", len(s.Readings), before.ID, 1/chance).
				See(before.Path, []string{"readings"}, "the same readings").
				Help("was the form copied and not filled in? repeat one test; if the water really did not move, say so under `ignore`")
		}
	}
}

// same reports whether two sessions have the same readings.
func same(a, b *journal.Session) bool {
	if len(a.Readings) != len(b.Readings) || len(a.Readings) == 0 {
		return false
	}
	for i := range a.Readings {
		x := &a.Readings[i]
		y, ok := b.Reading(x.Analyte)
		if !ok || x.Faulty || y.Faulty || x.First != y.First || x.Dilution != y.Dilution || len(x.More) != len(y.More) {
			return false
		}
		for k := range x.More {
			if x.More[k] != y.More[k] {
				return false
			}
		}
	}
	return true
}

// coincidence is the probability that a second test of the same water shows
// the same digits: step/(2 s √π) for each value shown in steps and scattering
// normally with s (the density of a difference of two at zero), s taken as a
// third of the standard uncertainty, since most of that is bias and repeats.
// Bounds repeat for certain.
func (p *Pass) coincidence(s *journal.Session) float64 {
	chance := 1.0
	for i := range s.Readings {
		r := &s.Readings[i]
		if r.First.Bound != water.Exact {
			continue
		}
		u, _ := p.Journal.Uncertainty(s, r)
		value, _ := r.Result()
		scale := 1.0
		if v := standard(r, water.Quantity{Value: value, Unit: r.First.Unit}); value != 0 && r.Analyte != water.SampleTemperature {
			scale = v / value
		}
		step := math.Pow10(-int(r.First.Decimals)) * scale * r.Factor()
		if u > 0 && step > 0 {
			one := math.Min(1, step/(2*u/3*math.Sqrt(math.Pi)))
			chance *= math.Pow(one, float64(r.Replicates()))
		}
	}
	return chance
}
