package treat

import (
	"fmt"
	"math"

	"wj/water"
)

// MashPH is an estimate of a mash's pH at 20 degC, with its half-width of 95 %. It is always indicative: malt differs from
// lot to lot, and a pH meter in the mash is the only answer.
type MashPH struct {
	PH        float64
	HalfWidth float64
	// Method says how it was found, From on what.
	Method, From string
}

// String is "5.34 ± 0.15 (indicative)".
func (m MashPH) String() string {
	value, half := water.Spread(m.PH, m.HalfWidth)
	return value + " ± " + half + " (indicative)"
}

const (
	// KolbachSlope in pH per meq/L of residual alkalinity: 0.3 per 10 German degrees (Kolbach 1953, Monatsschrift für Brauerei 6),
	// found on cast wort of 12 degrees Plato, not on mash; 10 German degrees are 3.5665 meq/L. The 0.3 is quoted by water chemists from that paper, which was not read.
	KolbachSlope = 0.3 / 3.5665
	// MashSpread is the least half-width of any estimate that does not depend on this brewery's own mashes: lots of malt differ by
	// about 0.1 and their buffering by 30 %. Common practice, no source.
	MashSpread = 0.15
	// PaleMashPH is the pH of a mash of pale malts in distilled water, within the 5.6 to 6.0 of laboratory wort (e-malt.com/specifications/en_ph.htm, read); an opinion.
	PaleMashPH = 5.75
	// mashTemperature in degC at which the water's part is computed, that of the cooled sample.
	mashTemperature = 20
)

// MashFromResidualAlkalinity estimates mash pH from residual alkalinity in mg/L CaCO3 with its standard uncertainty, and the
// pH of the grist in distilled water (PaleMashPH where nothing better is known), by Kolbach's slope.
func MashFromResidualAlkalinity(residual, u, distilled float64) (MashPH, error) {
	if math.IsNaN(residual) || math.Abs(residual) > 1000 || !(distilled > 3.5 && distilled < 7) {
		return MashPH{}, fmt.Errorf("estimate mash pH: residual alkalinity %g mg/L CaCO3 or distilled-water pH %g is out of range", residual, distilled)
	}
	slope := KolbachSlope / equivalentCalcite
	return MashPH{
		PH: distilled + slope*residual, HalfWidth: math.Hypot(MashSpread, 2*slope*u),
		Method: "residual alkalinity", From: fmt.Sprintf("Kolbach 1953, 0.084 per meq/L, found on wort; %.2f in distilled water", distilled),
	}, nil
}

// Malt is one malt of a grist.
type Malt struct {
	Name        string
	Kilograms   float64
	DistilledPH float64 // pH of its mash with distilled water at 20 degC
	// Buffer is meq of acid per kg and pH unit; 30 to 50 for pale malts.
	Buffer float64
	// UPH is the standard uncertainty of DistilledPH; 0 takes that of a base malt.
	UPH float64
}
