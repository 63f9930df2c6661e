package treat

import (
	"errors"
	"fmt"
	"math"

	"wj/water"
	"wj/water/equilibrium"
)

// Equilibrium is the part of a prediction that does not add up: pH, saturation, what stays undissolved. Each value has its
// standard uncertainty from the same sources as the ions, the measured pH of each water among them.
type Equilibrium struct {
	PH            water.Value // closed: no carbon dioxide lost
	PHDegassed    water.Value // after standing open or boiling over, at equilibrium with air
	Calcite       water.Value // saturation index, closed
	Gypsum        Index       // saturation index, closed
	Conductivity  water.Value // uS/cm at 25 degC
	CarbonDioxide water.Value // mg/L, closed
	// Titrated is the alkalinity, mg/L CaCO3, that a bench titration to pH 4.5 would find in the treated water: more than the
	// alkalinity of the prediction where lactate or citrate is there, because they take their protons back. NaN if it cannot be
	// had.
	Titrated float64
	// Precipitation is the calcium carbonate precipitation potential, mg/L CaCO3 (Standard Methods 2330 C); NaN if it
	// cannot be had.
	Precipitation float64
	// Undissolved lists what of the additions stays at the bottom at equilibrium; empty where all dissolves.
	Undissolved []Undissolved
	Solution    equilibrium.Solution // closed
	Temperature float64              // degC that all this is for
	InRange     bool                 // the model was compared with reference results here
}

// Index is a saturation index with its standard uncertainty; Known is false where a constituent is absent.
type Index struct {
	Value, U float64
	Known    bool
}

// Undissolved is what stays of an addition.
type Undissolved struct {
	Substance string
	Grams     float64 // of the pure substance, in the whole volume
	Part      float64 // of what was added
}

// assumedTemperature in degC where no sample's was measured. Common practice, no source.
const assumedTemperature = 20

// titrationEnd is the end point of a bench titration (EN ISO 9963-1: 4.5).
const titrationEnd = 4.5

// Equilibrate solves the treated water. Every water needs its pH, alkalinity, calcium, magnesium, chloride and sulfate;
// the error says what is missing, or which readings contradict each other. Nitrite, iron, manganese, copper and zinc take
// no part.
func (p *Prediction) Equilibrate() (*Equilibrium, error) {
	out, err := p.equilibrate(true)
	if err != nil {
		return nil, err
	}
	if acid, err := equilibrium.Titrate(out.Solution.Water, titrationEnd); err == nil {
		out.Titrated = acid * 1000 * equivalentCalcite
	}
	if s, err := equilibrium.PrecipitateCalcite(out.Solution.Water); err == nil {
		out.Precipitation = s.PrecipitationPotential()
	}
	return out, nil
}

// equilibrate is Equilibrate without titration and precipitation; open says whether the water after standing open and its
// conductivity are asked for too, which is half of the work.
func (p *Prediction) equilibrate(open bool) (*Equilibrium, error) {
	c := p.c
	at, celsius, carbon, carbons, err := p.point(open)
	if err != nil {
		return nil, err
	}
	out := &Equilibrium{Solution: at.closed, Temperature: celsius, InRange: at.closed.InRange()}
	var sums [indexCount]float64
	for i := range c.sources {
		moved, err := c.moved(&c.sources[i], carbons, celsius, carbon, 1, open)
		if err != nil {
			if moved, err = c.moved(&c.sources[i], carbons, celsius, carbon, -1, open); err != nil {
				return nil, fmt.Errorf("find uncertainty from %s: %w", c.sources[i].name, err)
			}
		}
		for k := range sums {
			if d := moved.values[k] - at.values[k]; !math.IsNaN(d) && !math.IsInf(d, 0) {
				sums[k] += d * d
			}
		}
	}
	value := func(id water.ID, k int) water.Value {
		return water.Value{ID: id, Value: at.values[k], U: math.Sqrt(sums[k]), Derived: true}
	}
	out.PH = value(water.PHValue, closedPH)
	out.PHDegassed = value(water.PHValue, degassedPH)
	out.Calcite = value(water.SaturationIndex, calciteIndex)
	out.Conductivity = value(water.ElectricalConductivity, conductivityValue)
	out.CarbonDioxide = value(water.CarbonDioxide, carbonDioxideValue)
	g := at.values[gypsumIndex]
	out.Gypsum = Index{g, math.Sqrt(sums[gypsumIndex]), !math.IsInf(g, 0) && !math.IsNaN(g)}
	out.Titrated, out.Precipitation = math.NaN(), math.NaN()
	out.Undissolved, err = p.undissolved(&at.closed)
	return out, err
}

// point solves the treated water without its uncertainty; carbons are those of each water, mol/L.
func (p *Prediction) point(open bool) (at reacted, celsius, carbon float64, carbons []float64, err error) {
	c := p.c
	for _, id := range []water.ID{water.Calcium, water.Magnesium, water.Sodium, water.Chloride, water.Sulfate, water.Alkalinity} {
		if reason := c.lacks(id); reason != "" {
			return at, 0, 0, nil, &water.Absent{ID: water.PHValue, Reason: "needs " + id.String() + "; " + reason}
		}
	}
	carbons = make([]float64, len(c.known))
	for i := range c.known {
		w := &p.Plan.Waters[i]
		if w.Share == 0 {
			continue
		}
		if carbons[i], err = inorganicCarbon(w.Name, &c.known[i], &c.parts[i]); err != nil {
			return at, 0, 0, nil, err
		}
		celsius += w.Share * sampleTemperature(&c.known[i])
		carbon += w.Share * carbons[i]
	}
	if given(p.Plan.Temperature) {
		celsius = p.Plan.Temperature
	}
	at, err = react(&c.treated, celsius, carbon, open)
	return at, celsius, carbon, carbons, err
}

// The values that a reaction gives.
const (
	closedPH = iota
	degassedPH
	calciteIndex
	gypsumIndex
	conductivityValue
	carbonDioxideValue
	indexCount
)

type reacted struct {
	closed equilibrium.Solution
	values [indexCount]float64
}

// react solves a mixture with the inorganic carbon of its waters, mol/L; the values of an open water and the conductivity
// stay NaN unless they are asked for.
func react(before *mixture, celsius, carbon float64, open bool) (reacted, error) {
	m := before.dechlorinated()
	w := m.totals(celsius, math.Max(0, carbon))
	var out reacted
	var err error
	if out.closed, err = equilibrium.Speciate(w); err != nil {
		return out, fmt.Errorf("find pH of the treated water: %w", err)
	}
	out.values = [indexCount]float64{
		closedPH: out.closed.PH, calciteIndex: out.closed.CalciteSaturation, gypsumIndex: out.closed.GypsumSaturation,
		carbonDioxideValue: 1000 * water.CarbonDioxide.Info().MolarMass * out.closed.Amount(equilibrium.CarbonDioxide),
		degassedPH:         math.NaN(), conductivityValue: math.NaN(),
	}
	if !open {
		return out, nil
	}
	degassed, err := equilibrium.EquilibrateCO2(w, equilibrium.AirCarbonDioxide)
	if err != nil {
		return out, fmt.Errorf("find pH of the degassed water: %w", err)
	}
	out.values[degassedPH] = degassed.PH
	if out.values[conductivityValue], err = equilibrium.ConductivityAt(w, 25); err != nil {
		return out, fmt.Errorf("find conductivity of the treated water: %w", err)
	}
	return out, nil
}

// moved solves the treated water with one source of error moved by its standard uncertainty times sign. A moved reading
// moves the inorganic carbon that its water's pH and alkalinity stand for.
func (c *composition) moved(s *source, carbons []float64, celsius, carbon, sign float64, open bool) (reacted, error) {
	m := c.treated
	m.add(&s.delta, sign)
	if s.share >= 0 {
		carbon += sign * c.plan.Waters[s.share].UShare * (carbons[s.share] - carbons[c.fill])
	}
	for i := range c.known {
		a, touched := c.known[i], false
		for _, r := range s.readings {
			if r.water == i {
				a, touched = shifted(a, r.id, sign), true
			}
		}
		if !touched {
			continue
		}
		part := c.read(i, &a, false)
		again, err := inorganicCarbon(c.plan.Waters[i].Name, &a, &part)
		if err != nil {
			return reacted{}, err
		}
		carbon += c.plan.Waters[i].Share * (again - carbons[i])
	}
	return react(&m, celsius, carbon, open)
}

// given reports whether a temperature was set.
func given(celsius float64) bool { return celsius != 0 && !math.IsNaN(celsius) }

func sampleTemperature(a *water.Analysis) float64 {
	if a.Has(water.SampleTemperature) {
		return a.Number(water.SampleTemperature)
	}
	return assumedTemperature
}

// inorganicCarbon is what the pH and alkalinity of a water stand for, mol/L.
func inorganicCarbon(name string, a *water.Analysis, part *mixture) (float64, error) {
	if !a.Has(water.PHValue) {
		return 0, &water.Absent{ID: water.PHValue, Reason: fmt.Sprintf("the pH of %s was not measured as a number", name)}
	}
	w := part.totals(sampleTemperature(a), 0)
	pH := a.Number(water.PHValue)
	s, err := equilibrium.SpeciateAt(w, pH)
	if err == nil {
		return s.Water.InorganicCarbon, nil
	}
	// Pure water with an alkalinity near zero: where its uncertainty, or half a mg/L, covers what is lacking, the readings agree
	// and there is no carbonate to speak of.
	if m, ok := a.Measured(water.Alkalinity); ok && errors.Is(err, equilibrium.ErrNoSolution) {
		w.Alkalinity += math.Max(2*m.U, 0.5) / equivalentCalcite / 1000
		if again, raised := equilibrium.SpeciateAt(w, pH); raised == nil && again.Water.InorganicCarbon < 1e-3 {
			return 0, nil
		}
	}
	return 0, fmt.Errorf("find inorganic carbon of %s: %w", name, err)
}

// undissolved asks the equilibrium for each addition that may stay at the bottom.
func (p *Prediction) undissolved(s *equilibrium.Solution) ([]Undissolved, error) {
	var out []Undissolved
	var gypsum, calcite float64 // mol/L too much, -1 until asked
	gypsum, calcite = -1, -1
	for _, a := range p.Plan.Additions {
		entry, err := a.Entry()
		if err != nil {
			return nil, err
		}
		one, err := a.molesPerUnit(a.Percent)
		if err != nil {
			return nil, err
		}
		moles := one * a.Amount / p.Plan.Volume
		var excess *float64
		switch {
		case moles == 0:
			continue
		case entry.MolesOf("calcium") > 0 && entry.MolesOf("sulfate") > 0 && s.GypsumSaturation > 0:
			if excess = &gypsum; gypsum < 0 {
				full, err := equilibrium.SaturateGypsum(s.Water)
				if err != nil {
					return nil, fmt.Errorf("find undissolved gypsum: %w", err)
				}
				gypsum = full.Precipitated
			}
		case entry.MolesOf("calcium") > 0 && entry.InorganicCarbon > 0 && s.CalciteSaturation > 0:
			if excess = &calcite; calcite < 0 {
				full, err := equilibrium.PrecipitateCalcite(s.Water)
				if err != nil {
					return nil, fmt.Errorf("find undissolved chalk: %w", err)
				}
				calcite = full.Precipitated
			}
		default:
			// A powder of known solubility whose own dose passes it.
			grams := moles * entry.MolarMass()
			if entry.Solubility > 0 && grams > entry.Solubility {
				left := grams - entry.Solubility
				out = append(out, Undissolved{a.Substance, left * p.Plan.Volume, left / grams})
			}
			continue
		}
		left := math.Min(*excess, moles)
		*excess -= left
		if left > 1e-9 {
			out = append(out, Undissolved{a.Substance, left * entry.MolarMass() * p.Plan.Volume, left / moles})
		}
	}
	return out, nil
}
