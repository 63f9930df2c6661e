package treat

import (
	"fmt"
	"math"

	"wj/water"
	"wj/water/equilibrium"
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
	// found on cast wort of 12 degrees Plato, not on mash; 10 German degrees are 3.5665 meq/L. The 0.3 from memory.
	KolbachSlope = 0.3 / 3.5665
	// MashSpread is the least half-width of any estimate that does not rest on this brewery's own mashes: lots of malt differ by
	// about 0.1 and their buffering by 30 %. Common practice, no source.
	MashSpread = 0.15
	// PaleMashPH is the pH of a mash of pale malts in distilled water, 5.6 to 5.9 (from memory, no better source).
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
}

// MashFromGrist estimates mash pH from the balance of protons (deLange, MBAA Technical Quarterly 52 (2015) 3, first term of
// his expansion): at the mash pH each malt has given Buffer × (pH − DistilledPH) meq/kg, calcium and magnesium have set
// (Ca/3.5 + Mg/7) meq/L free from malt phosphate (Kolbach 1953), and the water has taken what a titration to that pH takes.
// liquor is litres in the mash. balance may be nil: the reported alkalinity then counts in full, which is about a tenth too
// much at pH 5.4.
func MashFromGrist(p *Prediction, balance *Equilibrium, grist []Malt, liquor float64) (MashPH, error) {
	if len(grist) == 0 {
		return MashPH{}, fmt.Errorf("estimate mash pH from grist: no malt is given")
	}
	if !(liquor > 0) || math.IsInf(liquor, 0) {
		return MashPH{}, fmt.Errorf("estimate mash pH from grist: %g L of liquor is not above zero", liquor)
	}
	for _, m := range grist {
		if !(m.Kilograms > 0) || !(m.Buffer > 0 && m.Buffer < 500) || !(m.DistilledPH > 2.5 && m.DistilledPH < 7.5) {
			return MashPH{}, fmt.Errorf("estimate mash pH from grist: %s: %g kg, pH %g in distilled water, buffer %g meq/(kg pH) is out of range; a pale malt has about 5.75 and 40", m.Name, m.Kilograms, m.DistilledPH, m.Buffer)
		}
	}
	free, err := p.hardnessEffect()
	if err != nil {
		return MashPH{}, fmt.Errorf("estimate mash pH from grist: %w", err)
	}
	takes, err := p.waterTakes(balance)
	if err != nil {
		return MashPH{}, fmt.Errorf("estimate mash pH from grist: %w", err)
	}
	pH, err := protonBalance(grist, liquor, free, takes)
	if err != nil {
		return MashPH{}, err
	}
	// One at a time: distilled-water pH of all malts ± 0.1 and their buffering ± 30 % at 95 %, and residual alkalinity.
	moved := func(shift, factor, water float64) float64 {
		other := append([]Malt(nil), grist...)
		for i := range other {
			other[i].DistilledPH += shift
			other[i].Buffer *= factor
		}
		v, err := protonBalance(other, liquor, free+water, takes)
		if err != nil {
			return 0
		}
		return v - pH
	}
	residual, err := p.Value(water.ResidualAlkalinity)
	if err != nil {
		return MashPH{}, fmt.Errorf("estimate mash pH from grist: %w", err)
	}
	a, b, c := moved(0.1, 1, 0), moved(0, 1.3, 0), moved(0, 1, residual.Expanded()/equivalentCalcite)
	half := math.Max(MashSpread, math.Sqrt(a*a+b*b+c*c))
	return MashPH{PH: pH, HalfWidth: half, Method: "balance of protons", From: fmt.Sprintf("%d malts in %g L (deLange 2015)", len(grist), liquor)}, nil
}

// hardnessEffect is Ca/3.5 + Mg/7 in meq/L.
func (p *Prediction) hardnessEffect() (float64, error) {
	calcium, err := p.Value(water.CalciumHardness)
	if err != nil {
		return 0, err
	}
	magnesium, err := p.Value(water.MagnesiumHardness)
	return (calcium.Value/3.5 + magnesium.Value/7) / equivalentCalcite, err
}

// waterTakes gives the protons, meq/L, that the water takes down to a pH.
func (p *Prediction) waterTakes(balance *Equilibrium) (func(pH float64) (float64, error), error) {
	if balance == nil {
		v, err := p.Value(water.Alkalinity)
		return func(float64) (float64, error) { return v.Value / equivalentCalcite, nil }, err
	}
	w := balance.Solution.Water
	w.Temperature = mashTemperature
	return func(pH float64) (float64, error) {
		acid, err := equilibrium.Titrate(w, pH)
		return 1000 * acid, err
	}, nil
}

// protonBalance bisects for the pH at which what malt and hardness give is what the water takes. What is given grows with pH, what is
// taken falls.
func protonBalance(grist []Malt, liquor, free float64, takes func(float64) (float64, error)) (float64, error) {
	excess := func(pH float64) (float64, error) {
		sum := 0.0
		for _, m := range grist {
			sum += m.Kilograms * m.Buffer * (pH - m.DistilledPH)
		}
		t, err := takes(pH)
		return sum + liquor*(free-t), err
	}
	low, high := 3.5, 8.0
	for range 40 {
		middle := (low + high) / 2
		v, err := excess(middle)
		if err != nil {
			return 0, fmt.Errorf("estimate mash pH from grist: %w", err)
		}
		if v > 0 {
			high = middle
		} else {
			low = middle
		}
	}
	if low < 3.51 || high > 7.99 {
		return 0, fmt.Errorf("estimate mash pH from grist: no pH between 3.5 and 8 balances; check masses, volumes and buffering")
	}
	return (low + high) / 2, nil
}
