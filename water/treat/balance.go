package treat

import (
	"errors"
	"fmt"
	"math"

	"wj/water"
	"wj/water/equilibrium"
)

// Equilibrium is the part of a prediction that does not add up: pH, saturation, what stays or falls out as a solid. Each value has
// its standard uncertainty from the same sources as the ions, the measured pH of each water among them, at the end of what solids
// may do that is the point of a Range; the intervals are over all ends.
type Equilibrium struct {
	PH            water.Value // as the plan has it: closed, no carbon dioxide lost, or open
	PHDegassed    water.Value // after standing open or boiling over, at equilibrium with air
	Calcite       water.Value // saturation index, before any calcite forms
	Gypsum        Index       // saturation index
	Conductivity  water.Value // uS/cm at 25 degC
	CarbonDioxide water.Value // mg/L
	// PHRange, PHDegassedRange and CalciteRange are the intervals of 95 %, as lopsided as they are.
	PHRange, PHDegassedRange, CalciteRange Interval
	// Precipitation is the calcium carbonate precipitation potential, mg/L CaCO3 (Standard Methods 2330 C), before any forms;
	// NaN if it is not available.
	Precipitation float64
	// Formed and Brucite are mg/L of calcium carbonate (as CaCO3) and magnesium hydroxide that fall out at the point, and at
	// equilibrium.
	Formed, FormedMost, Brucite float64
	// Undissolved lists what of the additions stays at the bottom at equilibrium; empty where all dissolves.
	Undissolved []Undissolved
	Solution    equilibrium.Solution // as it is
	Temperature float64              // degC that all this is for
	Open        bool
	InRange     bool // the model was compared with reference results here
}

// Interval is from Low to High.
type Interval struct{ Low, High float64 }

func (i *Interval) join(low, high float64) {
	i.Low, i.High = math.Min(i.Low, low), math.Max(i.High, high)
}

// nowhere is what intervals are joined to.
func nowhere() Interval { return Interval{math.Inf(1), math.Inf(-1)} }

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

// Equilibrate solves the treated water. Every water needs its pH, alkalinity, calcium, magnesium, chloride and sulfate;
// the error says what is missing, or which readings contradict each other. Nitrite, iron, manganese, copper and zinc take
// no part.
func (p *Prediction) Equilibrate() (*Equilibrium, error) {
	p.balanced.Do(func() { p.balance, p.balanceErr = p.equilibrate() })
	return p.balance, p.balanceErr
}

// The values that Equilibrate follows.
const (
	standingPH = iota
	degassedPH
	gypsumIndex
	conductivityValue
	carbonDioxideValue
	calciteIndex
	indexCount
)

func (p *Prediction) equilibrate() (*Equilibrium, error) {
	ends := p.ends()
	if p.cause != nil {
		return nil, p.cause
	}
	c, k := p.c, p.course
	point := &ends[0]
	out := &Equilibrium{Solution: point.closed, Temperature: k.celsius, Open: c.plan.Open, InRange: point.closed.InRange(),
		PHRange: nowhere(), PHDegassedRange: nowhere(), CalciteRange: nowhere(), Precipitation: math.NaN()}
	flat := make([]bool, len(c.sources))
	for i := range flat {
		flat[i] = c.sources[i].flat
	}
	for n := range ends {
		corner := ends[n].corner
		v, err := vary(flat, indexCount, func(source int, size float64, values []float64) error {
			m, carbon := c.treated, k.carbon
			if source >= 0 {
				var err error
				if m, carbon, err = c.shift(&c.sources[source], k, size); err != nil {
					return fmt.Errorf("find uncertainty from %s: %w", c.sources[source].name, err)
				}
			}
			return indices(&m, carbon, k, corner, values)
		})
		if err != nil {
			return nil, err
		}
		value := func(id water.ID, row int) (water.Value, Interval) {
			low, high := interval(v.draw(row, 1))
			return water.Value{ID: id, Value: v.at[row], U: (high - low) / 4, Derived: true}, Interval{low, high}
		}
		pH, in := value(water.PHValue, standingPH)
		out.PHRange.join(in.Low, in.High)
		degassed, open := value(water.PHValue, degassedPH)
		out.PHDegassedRange.join(open.Low, open.High)
		index, saturation := value(water.SaturationIndex, calciteIndex)
		out.CalciteRange.join(saturation.Low, saturation.High)
		if n > 0 {
			continue
		}
		out.PH, out.PHDegassed, out.Calcite = pH, degassed, index
		out.Conductivity, _ = value(water.ElectricalConductivity, conductivityValue)
		out.Conductivity.U = math.Hypot(out.Conductivity.U, water.ConductivityModel*out.Conductivity.Value)
		out.CarbonDioxide, _ = value(water.CarbonDioxide, carbonDioxideValue)
		g, _ := value(water.SaturationIndex, gypsumIndex)
		out.Gypsum = Index{g.Value, g.U, !math.IsInf(g.Value, 0) && !math.IsNaN(g.Value)}
	}
	if doubt, _ := c.extrapolated(k.celsius); doubt > 0 {
		low, high := out.PH.Value-out.PHRange.Low, out.PHRange.High-out.PH.Value
		out.PHRange = Interval{out.PH.Value - math.Hypot(low, doubt), out.PH.Value + math.Hypot(high, doubt)}
		low, high = out.Calcite.Value-out.CalciteRange.Low, out.CalciteRange.High-out.Calcite.Value // it moves with the pH, one for one
		out.CalciteRange = Interval{out.Calcite.Value - math.Hypot(low, doubt), out.Calcite.Value + math.Hypot(high, doubt)}
	}
	plain, err := follow(&c.treated, k.celsius, k.carbon, k.pressure, corner{})
	if err == nil {
		if d, err := equilibrium.HoldSolids(plain.closed.Water, equilibrium.Calcite, k.pressure); err == nil {
			out.Precipitation = 1000 * massCalcite * d.Calcite
		}
	}
	for n := range ends {
		out.FormedMost = math.Max(out.FormedMost, ends[n].left.calcite*massCalcite)
	}
	out.Formed, out.Brucite = point.left.calcite*massCalcite, point.left.brucite*massBrucite
	out.Undissolved = p.undissolved(&point.left)
	return out, nil
}

// hotAcids are weak acids whose constants published tables give apart from a temperature on, degC (Bates & Acree 1945 measured the second of phosphoric
// acid to 60, Bates & Pinching 1949 those of citric acid to 50; from memory): with and without heat capacity the pH of a liquor differs by as much as doubt
// (PHREEQC's wateq4f.dat, MINTEQA2, against Goldberg, Kishore & Lennen 2002).
var hotAcids = [...]struct {
	slot            slot
	measured, doubt float64
	words           string
}{
	{sAcidPhate, 60, 0.25, "phosphoric acid above 60 °C: published tables of its second constant differ there with and without its heat capacity, by up to 0.25 in pH, which the interval includes (Goldberg et al. 2002, used here; PHREEQC, wateq4f.dat)"},
	{sCitrate, 50, 0.2, "citric acid above 50 °C: published tables of its constants differ there with and without their heat capacities, by up to 0.2 in pH, which the interval includes (Goldberg et al. 2002, used here; MINTEQA2)"},
}

// extrapolated is the doubt about a pH that the acids of a treated water bring at a temperature, 95 %, and why.
func (c *composition) extrapolated(celsius float64) (doubt float64, why []string) {
	for _, a := range hotAcids {
		if c.treated[a.slot] > 0 && celsius > a.measured {
			doubt = math.Hypot(doubt, a.doubt)
			why = append(why, a.words)
		}
	}
	return doubt, why
}

// massBrucite in g/mol: Mg and 2 OH of the abridged IUPAC weights (Prohaska et al. 2022).
const massBrucite = 24.305 + 2*17.007

// indices solves a mixture at a corner for all values of Equilibrate.
func indices(m *mixture, carbon float64, k *course, at corner, values []float64) error {
	e, err := follow(m, k.celsius, carbon, k.pressure, at)
	if err != nil {
		return err
	}
	s := &e.closed
	values[standingPH], values[gypsumIndex] = s.PH, s.GypsumSaturation
	values[carbonDioxideValue] = 1000 * water.CarbonDioxide.Info().MolarMass * s.Amount(equilibrium.CarbonDioxide)
	values[calciteIndex] = e.index
	values[degassedPH] = s.PH
	if k.pressure == 0 {
		degassed, err := equilibrium.EquilibrateCO2(s.Water, equilibrium.AirCarbonDioxide)
		if err != nil {
			return fmt.Errorf("find pH of the degassed water: %w", err)
		}
		values[degassedPH] = degassed.PH
	}
	if values[conductivityValue], err = equilibrium.ConductivityAt(s.Water, 25); err != nil {
		return fmt.Errorf("find conductivity of the treated water: %w", err)
	}
	return nil
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

// undissolved shares what is left at the bottom among the additions that brought it, in their order.
func (p *Prediction) undissolved(left *solids) []Undissolved {
	gypsum, chalk := left.gypsum, left.chalk
	var out []Undissolved
	for _, a := range p.Plan.Additions {
		entry, err := a.Entry()
		if err != nil {
			continue
		}
		one, err := contribution(a.Product, a.Percent)
		if err != nil {
			continue
		}
		perLitre := a.Amount / p.Plan.Volume
		stays, added := 0.0, 0.0 // mmol/L
		switch {
		case one[sGypsum] > 0:
			added = one[sGypsum] * perLitre
			stays = math.Min(gypsum, added)
			gypsum -= stays
		case one[sChalk] > 0:
			added = one[sChalk] * perLitre
			stays = math.Min(chalk, added)
			chalk -= stays
		default:
			// A powder of known solubility whose own dose passes it.
			if moles, err := a.molesPerUnit(a.Percent); err == nil && entry.Solubility > 0 {
				added = 1000 * moles * perLitre
				stays = math.Max(0, added-1000*entry.Solubility/entry.MolarMass())
			}
		}
		if stays > 1e-6 {
			out = append(out, Undissolved{a.Substance, stays / 1000 * entry.MolarMass() * p.Plan.Volume, stays / added})
		}
	}
	return out
}
