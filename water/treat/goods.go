// Package treat computes what blending, salts, acids and bases make of a water, and finds the doses that bring a water to
// a target: prediction with uncertainty, an exact solver, cautions, the order of work, mash pH and chlorine removal.
//
// It is pure: numbers in, numbers out. Concentrations are in the standard unit of their analyte (mg/L, alkalinity and
// residual alkalinity in mg/L CaCO3), volumes in litres, amounts in grams or millilitres, temperatures in degC, shares as
// parts of 1, uncertainties as standard uncertainties unless the name says half-width.
//
// Nothing here replaces the label, the safety data sheet, the supplier or the local code.
//
//	gypsum, err := treat.NewProduct("gypsum", water.Quantity{Value: 98, Expanded: 2, Unit: water.Percent}, "")
//	p, err := treat.Predict(treat.Plan{
//		Waters: []treat.Portion{{Name: "tap", Analysis: &tap, Share: 1}}, Volume: 500,
//		Additions: []treat.Addition{{Product: gypsum, Amount: 100}},
//	})
//	sulfate, err := p.Value(water.Sulfate) // mg/L in the treated water, with its uncertainty
package treat

import (
	"fmt"
	"math"
	"strings"

	"wj/water"
	"wj/water/substance"
)

// Product is what is on the shelf: a substance with the strength of this pack.
type Product struct {
	// Substance is a key of the table of water/substance, the hydrate spelled out.
	Substance string
	// Unit is the unit of its doses: water.Gram or water.Millilitre.
	Unit water.Unit
	// Percent is g of the pure formula substance in 100 g (w/w, and every powder) or in 100 mL (w/v) of the goods. A powder
	// that has lost water of crystallisation may hold more than 100 % of its formula.
	Percent float64
	// HalfWidth is the half-width of a rectangular distribution around Percent (GUM 4.3.7).
	HalfWidth float64
	// Basis is w/w or w/v; a powder has w/w.
	Basis substance.Basis
	// Density in g/mL of a liquid from its label; 0 means from the table at 20 degC.
	Density float64
	// Strength and Assay are what was declared, as it was spelled; "" and the zero Quantity where it was not.
	Strength string
	Assay    water.Quantity
	// Assumed says what was taken from the table because nothing was declared; empty where all was declared.
	Assumed string

	Lot   string
	Price float64 // per kg, or per litre where Unit is mL; 0 where unknown
	Stock float64 // what is left, in Unit; 0 where unknown
	Step  float64 // the step of the scale or the measuring cylinder, in Unit; 0 where unknown
}

// ParsedStrength is what a strength text says.
type ParsedStrength struct {
	substance.Strength
	HalfWidth float64 // what is after ±, per cent; 0 if nothing does
	Density   float64 // g/mL, 0 if not given
}

// ParseStrength reads "80 % w/w", "10 % w/v", "80 ± 1 % w/w" or "75 % w/w, 1.579 g/mL". The basis must be said: 10 % w/v
// phosphoric acid is 5 % weaker than 10 % w/w. The error says what to write.
func ParseStrength(text string) (ParsedStrength, error) {
	var out ParsedStrength
	at := strings.IndexByte(text, '%')
	if at < 0 {
		return out, fmt.Errorf("read strength %q: no %% sign; write it as on the label, such as 80 %% w/w or 10 %% w/v", clip(text))
	}
	q, err := water.ParseQuantity(text[:at+1])
	if err != nil {
		return out, fmt.Errorf("read strength %q: %w", clip(text), err)
	}
	if q.Bound != water.Exact {
		return out, fmt.Errorf("read strength %q: a bound is not a strength; write the number on the label", clip(text))
	}
	rest := strings.ToLower(strings.TrimSpace(text[at+1:]))
	word, density, hasDensity := strings.Cut(rest, ",")
	switch strings.TrimSpace(word) {
	case "w/w", "m/m", "wt":
		out.Basis = substance.WeightByWeight
	case "w/v", "m/v":
		out.Basis = substance.WeightByVolume
	case "":
		return out, fmt.Errorf("read strength %q: per cent of what? write %g %% w/w (g in 100 g) or %g %% w/v (g in 100 mL), as the label says", clip(text), q.Value, q.Value)
	case "v/v":
		return out, fmt.Errorf("read strength %q: volume by volume says nothing without both densities; write w/w or w/v", clip(text))
	default:
		return out, fmt.Errorf("read strength %q: %q is not a basis; write w/w (g in 100 g) or w/v (g in 100 mL)", clip(text), clip(word))
	}
	if hasDensity {
		out.Density, err = parseDensity(density)
		if err != nil {
			return out, fmt.Errorf("read strength %q: %w", clip(text), err)
		}
	}
	out.Percent, out.HalfWidth = q.Value, q.Expanded
	if !(q.Value > 0) || out.Basis == substance.WeightByWeight && q.Value > 100 || q.Value > 200 {
		return out, fmt.Errorf("read strength %q: %g %% is not a possible strength", clip(text), q.Value)
	}
	return out, nil
}

func parseDensity(text string) (float64, error) {
	number, ok := strings.CutSuffix(strings.TrimSpace(text), "g/ml")
	if !ok {
		return 0, fmt.Errorf("%q is not a density; write it in g/mL, such as 1.185 g/mL", clip(strings.TrimSpace(text)))
	}
	q, err := water.ParseQuantity(number)
	if err != nil {
		return 0, err
	}
	if q.Bound != water.Exact || q.Value < 0.7 || q.Value > 2.5 {
		return 0, fmt.Errorf("density %g g/mL is outside 0.7 to 2.5", q.Value)
	}
	return q.Value, nil
}

// highestAssay in per cent of the formula: anhydrous calcium chloride sold as the dihydrate is 132 %.
const highestAssay = 140

// ParseAssay reads "98 %", "100 ± 10 %" or "99.5 % w/w": the mass per cent of the formula substance in a powder.
func ParseAssay(text string) (water.Quantity, error) {
	trimmed := strings.TrimSpace(text)
	if at := strings.IndexByte(trimmed, '%'); at >= 0 && strings.EqualFold(strings.TrimSpace(trimmed[at+1:]), "w/w") {
		trimmed = trimmed[:at+1]
	}
	q, err := water.ParseQuantity(trimmed)
	if err != nil {
		return q, fmt.Errorf("read assay %q: %w", clip(text), err)
	}
	if err := checkAssay(q); err != nil {
		return q, fmt.Errorf("read assay %q: %w", clip(text), err)
	}
	return q, nil
}

func checkAssay(q water.Quantity) error {
	switch {
	case q.Unit != water.Percent:
		return fmt.Errorf("an assay is in per cent; write it as 98 %% or 100 ± 10 %%")
	case q.Bound != water.Exact:
		return fmt.Errorf("a bound is not an assay; write the middle and its half-width, such as 98 ± 2 %%")
	case !(q.Value > 0) || q.Value > highestAssay:
		return fmt.Errorf("%g %% is not between 0 and %d", q.Value, highestAssay)
	case q.Expanded >= q.Value:
		return fmt.Errorf("the half-width %g is not below the value %g", q.Expanded, q.Value)
	}
	return nil
}

// NewProduct puts together what a record says of a pack. assay is the zero Quantity and strength "" where nothing was
// written. A liquid without strength is an error; a powder without assay gets the table's, and Assumed says so. A
// half-width that was not declared is the table's.
func NewProduct(key string, assay water.Quantity, strength string) (Product, error) {
	s, err := substance.Find(key)
	if err != nil {
		return Product{}, err
	}
	g := Product{Substance: key, Unit: water.Gram, Basis: substance.WeightByWeight, Percent: s.Assay, HalfWidth: s.AssayHalfWidth}
	if s.Liquid {
		g.Unit = water.Millilitre
	}
	declared := assay != (water.Quantity{})
	switch {
	case strength != "" && declared:
		return Product{}, fmt.Errorf("read product %s: both a strength and an assay are given; keep the strength for a solution, the assay for a powder", key)
	case strength != "":
		p, err := ParseStrength(strength)
		if err != nil {
			return Product{}, fmt.Errorf("read product %s: %w", key, err)
		}
		g.Percent, g.Basis, g.Density, g.Strength = p.Percent, p.Basis, p.Density, strings.TrimSpace(strength)
		if p.HalfWidth > 0 {
			g.HalfWidth = p.HalfWidth
		}
		// A dilute label is not surer in per cent than a strong one in proportion.
		if p.HalfWidth == 0 && s.Assay > 0 {
			g.HalfWidth = s.AssayHalfWidth * math.Min(1, p.Percent/s.Assay)
		}
		if !s.Liquid && (p.Basis == substance.WeightByVolume || len(s.Densities) > 0 || p.Density > 0) {
			g.Unit = water.Millilitre
		}
	case s.Liquid:
		return Product{}, fmt.Errorf("read product %s: no strength; write it as on the label with its basis, such as %g %% w/w", key, s.Assay)
	case declared:
		if err := checkAssay(assay); err != nil {
			return Product{}, fmt.Errorf("read product %s: %w", key, err)
		}
		g.Percent, g.Assay = assay.Value, assay
		if assay.Expanded > 0 {
			g.HalfWidth = assay.Expanded
		}
	default:
		g.Assumed = fmt.Sprintf("assay %g ± %g %%: %s", s.Assay, s.AssayHalfWidth, s.AssayNote)
	}
	return g, g.check()
}

// Entry is the row of the substance table.
func (g Product) Entry() (substance.Substance, error) { return substance.Find(g.Substance) }

func (g Product) check() error {
	_, err := g.molesPerUnit(g.Percent)
	return err
}

// molesPerUnit is mol of the formula substance in one g or mL of goods that hold the given per cent.
func (g Product) molesPerUnit(percent float64) (float64, error) {
	s, err := g.Entry()
	if err != nil {
		return 0, err
	}
	if !(percent > 0) || math.IsInf(percent, 0) {
		return 0, fmt.Errorf("count %s: strength %g %% is not above zero", g.Substance, percent)
	}
	strength := substance.Strength{Percent: percent, Basis: g.Basis}
	switch g.Unit {
	case water.Gram:
		if g.Basis == substance.WeightByVolume {
			density := g.Density
			w, err := s.WeightPercent(strength)
			if err != nil && density == 0 {
				return 0, fmt.Errorf("count %s by mass: %w", g.Substance, err)
			}
			if density > 0 {
				w = percent / density
			}
			return w / 100 / s.MolarMass(), nil
		}
		if g.Basis != substance.WeightByWeight {
			return 0, fmt.Errorf("count %s: %q is not a basis; write w/w or w/v", g.Substance, clip(string(g.Basis)))
		}
		return percent / 100 / s.MolarMass(), nil
	case water.Millilitre:
		switch {
		case g.Basis == substance.WeightByVolume:
			return percent / 100 / s.MolarMass(), nil
		case g.Basis == substance.WeightByWeight && g.Density > 0:
			return percent * g.Density / 100 / s.MolarMass(), nil
		}
		m, err := s.Molarity(strength)
		return m / 1000, err
	}
	return 0, fmt.Errorf("count %s: a dose is in g or mL, not in %q", g.Substance, g.Unit)
}

// StrengthText writes the strength with its basis: "80 % w/w", "assay 98 % of CaSO4.2H2O".
func (g Product) StrengthText() string {
	s, err := g.Entry()
	if err == nil && g.Unit == water.Gram && !s.Liquid {
		return fmt.Sprintf("assay %g ± %g %% of %s", g.Percent, g.HalfWidth, s.Formula)
	}
	return fmt.Sprintf("%g %% %s", g.Percent, g.Basis)
}

// Addition is an amount of goods for the whole volume of a plan.
type Addition struct {
	Product
	Amount float64 // in Product.Unit
	// Stage names the vessel or moment where two additions never meet; "" is the one common step.
	Stage string
	// Trained names who handles it, where it is a concentrated mineral acid; "" is whom the plan names.
	Trained string
}

// sulfiteRounding is the part of a sulfite's dose that rounding may take away, so that it stays between the need and 1.1 times
// that: of 1.0965 times the need two roundings leave 1.03.
const sulfiteRounding = 0.03

// step is what the amount is rounded to: the step of the scale, but for a sulfite the tenth, hundredth … of it that takes away no
// more than sulfiteRounding. Check says where the scale cannot show that.
func (a Addition) step() float64 {
	step := a.Step
	if !a.sulfite() || !(a.Amount > 0) {
		return step
	}
	for n := 0; n < 6 && floorTo(a.Amount, step) < (1-sulfiteRounding)*a.Amount; n++ {
		step /= 10
	}
	return step
}

// rounded is the amount in steps of the scale; that of a sulfite is rounded down, since more than the need stays in the water.
func (a Addition) rounded() float64 {
	if a.sulfite() && a.Step > 0 {
		return RoundTo(floorTo(a.Amount, a.step()), a.step())
	}
	return RoundTo(a.Amount, a.Step)
}

func (a Addition) sulfite() bool {
	s, ok := substance.ByKey(a.Substance)
	return ok && s.Kind == substance.Sulfite
}

func floorTo(amount, step float64) float64 {
	if !(step > 0) {
		return amount
	}
	return math.Floor(amount/step*(1+1e-12)+1e-9) * step
}

// NewAddition makes an addition of a written quantity, a mass or a volume, and converts it to g or mL.
func NewAddition(g Product, amount water.Quantity) (Addition, error) {
	switch amount.Unit.Family() {
	case water.Mass:
		g.Unit = water.Gram
	case water.Volume:
		g.Unit = water.Millilitre
	default:
		return Addition{}, fmt.Errorf("add %s: %s is neither a mass nor a volume; write the unit, such as 180 g or 75 mL", g.Substance, amount)
	}
	if amount.Bound != water.Exact || amount.Value < 0 {
		return Addition{}, fmt.Errorf("add %s: %s is not an amount of zero or more", g.Substance, amount)
	}
	v, err := amount.In(g.Unit)
	if err != nil {
		return Addition{}, fmt.Errorf("add %s: %w", g.Substance, err)
	}
	if s, err := g.Entry(); err == nil && g.Unit == water.Millilitre && !s.Liquid && g.Basis == substance.WeightByWeight && g.Density == 0 && len(s.Densities) == 0 {
		return Addition{}, fmt.Errorf("add %s: it is a powder, and a volume of it says little; weigh it, or give the strength of its solution as w/v", g.Substance)
	}
	if err := g.check(); err != nil {
		return Addition{}, fmt.Errorf("add %s: %w", g.Substance, err)
	}
	return Addition{Product: g, Amount: v}, nil
}

func clip(s string) string {
	if len(s) > 60 {
		return strings.ToValidUTF8(s[:60], "") + "…"
	}
	return s
}
