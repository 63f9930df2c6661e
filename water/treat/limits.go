package treat

import (
	"wj/water"
	"wj/water/substance"
)

// Limits are what Check holds a treatment against. A brewery may set them otherwise than DefaultLimits.
type Limits struct {
	// GypsumSlow and GypsumMost in g/L: from the first on it dissolves slowly, more than the second not at all.
	GypsumSlow, GypsumMost float64
	// LeastAlkalinity that acid should leave, mg/L CaCO3.
	LeastAlkalinity float64
	// LowestPH and HighestPH of a liquor that acid or base went into.
	LowestPH, HighestPH float64
	// Lactate in mg/L, from which it is told that it can be tasted.
	Lactate float64
	// Sulfite is the largest dose of metabisulfite, in times what the chlorine takes up.
	Sulfite float64
	// Most is how much of an ion brewers use, mg/L.
	Most map[water.ID]float64
	// Legal is what the law allows in drinking water, mg/L: whoever asks knows where the brewery is.
	Legal map[water.ID]Legal
	// Concentrated is the strength, % w/w, from which a mineral acid needs a trained person, by the key of its substance.
	Concentrated map[string]float64
}

// Legal is a limit of drinking water with its source.
type Legal struct {
	Most float64
	Law  string
}

// DefaultLimits are the limits where nothing else is set. The brewers' ranges are opinion of
// brewing handbooks. The strengths of acids are common practice, no source; the classes of Regulation (EC) No 1272/2008 begin lower: the
// label of the pack decides. The lowest and highest pH are common practice, no source.
func DefaultLimits() Limits {
	return Limits{
		GypsumSlow: GypsumWarning, GypsumMost: GypsumMost, LeastAlkalinity: AlkalinityWarning, LowestPH: 4.5, HighestPH: 10,
		Lactate: lactateTasteWarning, Sulfite: SulfiteFactor,
		Most:         map[water.ID]float64{water.Calcium: 200, water.Magnesium: 40, water.Sodium: 150, water.Chloride: 250, water.Sulfate: 400},
		Legal:        map[water.ID]Legal{},
		Concentrated: map[string]float64{"hydrochloric_acid": 30, "phosphoric_acid": 75, "sulfuric_acid": 0},
	}
}

// concentrated reports a mineral acid that needs a trained person. A strength in w/v is taken to w/w by the density.
func (l Limits) concentrated(g Product) bool {
	from, mineral := l.Concentrated[g.Substance]
	if !mineral {
		return false
	}
	percent := g.Percent
	if g.Basis == substance.WeightByVolume {
		s, err := g.Entry()
		if err != nil {
			return true
		}
		if g.Density > 0 {
			percent /= g.Density
		} else if w, err := s.WeightPercent(substance.Strength{Percent: g.Percent, Basis: g.Basis}); err == nil {
			percent = w
		}
	}
	return percent >= from
}
