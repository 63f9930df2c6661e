package treat

import (
	"fmt"
	"math"
	"strconv"

	"wj/water"
	"wj/water/substance"
)

// Dose is an addition with all that must be beside its number: unit, strength with its basis, the volume that it goes
// into, and the amount that must not be passed, with the reason. Its String writes all of it; take that or all the parts.
type Dose struct {
	Addition
	Name   string
	Volume float64 // L of water
	// Most is the amount, in Unit, that must not be passed for this volume, and Why what would happen there.
	Most float64
	Why  string
}

// Amounts at which a single ion passes what is good for taste or health in any style of beer, mg/L. Sulfate and magnesium:
// laxative, opinion of brewing handbooks; sodium: Directive (EU) 2020/2184, Annex I part C; chloride above
// 300 harms taste and steel, calcium above 300 brings nothing more: common practice, no source.
var ceilings = [...]struct {
	slot   slot
	limit  float64
	reason string
}{
	{sSulfate, 750, "sulfate would reach 750 mg/L (laxative)"},
	{sMagnesium, 125, "magnesium would reach 125 mg/L (laxative)"},
	{sSodium, 200, "sodium would reach 200 mg/L (Directive (EU) 2020/2184)"},
	{sChloride, 300, "chloride would reach 300 mg/L (taste, corrosion)"},
	{sCalcium, 300, "calcium would reach 300 mg/L"},
	{sPotassium, 200, "potassium would reach 200 mg/L"},
	{sLactate, LactateTaste, "lactate would reach 400 mg/L (taste)"},
	{sCitrate, 400, "citrate would reach 400 mg/L (taste)"},
	{sAcidPhate, 400, "phosphate would reach 400 mg/L (precipitates calcium)"},
}

// Limits of doses.
const (
	// GypsumWarning and GypsumMost in g/L: above the first it dissolves too slowly in cold water (common practice, no source), the
	// second is what water holds near 10 degC (Nordstrom et al. 1990; see the substance table).
	GypsumWarning = 1.5
	GypsumMost    = 2.4
	// LactateTaste in mg/L: tasted between 250 and 400; opinion, no source.
	LactateTaste        = 400
	lactateTasteWarning = 250
	// AlkalinityWarning in mg/L CaCO3: less leaves no buffer, and a small error of dose makes the water acid. Common practice, no
	// source.
	AlkalinityWarning = 20
	// mostAlkalinity in mg/L CaCO3 that a base may bring a water to; above it no beer asks for more. Common practice, no source.
	mostAlkalinity = 400
	// SulfiteFactor is the largest metabisulfite dose over the theoretical need; see Dechlorinate.
	SulfiteFactor = 1.1
)

// alkalinityGone is the bound of an acid; dose/over-acid reports what passes it.
const alkalinityGone = "alkalinity would reach 0"

// newDose finds the upper bound of an addition in a blend that holds all the others.
func newDose(a Addition, volume float64, blend *mixture) (Dose, error) {
	s, err := a.Entry()
	if err != nil {
		return Dose{}, err
	}
	one, err := contribution(a.Product, a.Percent)
	if err != nil {
		return Dose{}, err
	}
	perLitre, why := mostPerLitre(a.Product, s, &one, blend)
	return Dose{Addition: a, Name: s.Name, Volume: volume, Most: perLitre * volume, Why: why}, nil
}

// mostPerLitre is the most of the goods, in their unit per litre, that a blend may get, and why. one is what a unit brings.
func mostPerLitre(g Product, s substance.Substance, one, blend *mixture) (most float64, why string) {
	most = math.Inf(1)
	limit := func(amount float64, reason string) {
		if amount = math.Max(0, amount); amount < most {
			most, why = amount, reason
		}
	}
	if s.Kind == substance.Sulfite {
		total := math.Max(blend[sTotalChlorine], blend[sFreeChlorine])
		limit(SulfiteFactor*math.Max(0, total)/massChlorine/(one[sSulfite]/massSulfite), "1.1 times what the chlorine takes up; more leaves sulfite")
		return most, why
	}
	for _, c := range ceilings {
		if one[c.slot] > 0 {
			limit((c.limit-blend[c.slot])/one[c.slot], c.reason)
		}
	}
	switch a := one[sAlkalinity]; {
	case a < 0:
		limit(blend[sAlkalinity]/-a, alkalinityGone)
	case a > 0:
		limit((mostAlkalinity-blend[sAlkalinity])/a, "alkalinity would reach 400 mg/L CaCO3")
	}
	if moles, err := g.molesPerUnit(g.Percent); err == nil && s.Solubility > 0 {
		reason := fmt.Sprintf("water takes up %g g/L", s.Solubility)
		limit(s.Solubility/s.MolarMass()/moles, reason)
	}
	if math.IsInf(most, 1) {
		return 0, "no upper bound is known for it"
	}
	return most, why
}

// PerHectolitre is the amount for 100 L, in Unit.
func (d Dose) PerHectolitre() float64 { return d.Amount / d.Volume * 100 }

// PerLitre is the amount for a litre, in Unit.
func (d Dose) PerLitre() float64 { return d.Amount / d.Volume }

// Cost is the price of the dose; ok is false where no price is known.
func (d Dose) Cost() (cost float64, ok bool) { return d.Amount / 1000 * d.Price, d.Price > 0 }

// Over reports whether the dose passes its upper bound.
func (d Dose) Over() bool { return d.Amount > d.Most*(1+1e-9) }

// String writes the dose as it may be on a sheet: "75 mL lactic acid, 80 % w/w, into 1500 L (at most 270 mL: …)".
func (d Dose) String() string {
	return fmt.Sprintf("%s %s %s, %s, into %.6g L (at most %s %s: %s)", d.AmountText(), d.Unit, d.Name, d.StrengthText(), d.Volume,
		floorText(d.Most), d.Unit, d.Why)
}

// AmountText is the amount with as many decimals as the step of the scale has, or three significant digits.
func (d Dose) AmountText() string {
	if step := d.step(); step > 0 && math.Abs(RoundTo(d.Amount, step)-d.Amount) < 1e-9*math.Max(1, d.Amount) {
		return strconv.FormatFloat(RoundTo(d.Amount, step), 'f', -1, 64)
	}
	if math.Abs(d.Amount-math.Round(d.Amount)) < 1e-9 {
		return fmt.Sprintf("%.0f", d.Amount)
	}
	return water.Round(d.Amount, 3)
}

// floorText rounds down to two significant digits: a bound is never rounded up.
func floorText(v float64) string {
	if !(v > 0) {
		return "0"
	}
	step := math.Pow(10, math.Floor(math.Log10(v))-1)
	return water.Round(math.Floor(v/step*(1+1e-12))*step, 2)
}
