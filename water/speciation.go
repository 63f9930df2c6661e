package water

import (
	"cmp"
	"errors"
	"math"

	"wj/water/equilibrium"
)

// What is taken where it was not measured, with its standard uncertainty.
// Common practice, no source: a bench and a cold tap lie between 10 and 30 degC
// (rectangular, 10/√3), a drinking water between pH 6.5 and 8.5 (1/√3).
const (
	assumedTemperature  = 20.0 // degC
	assumedTemperatureU = 5.8
	assumedPH           = 7.5
	assumedPHU          = 0.58
)

// What nobody measured is in no reading's uncertainty. Standard uncertainties, as
// parts of the sum of ions: potassium and nitrate of Danish drinking water, 98
// municipalities, range from 1.3 to 10.5 and from 0.6 to 24 mg/L, that is to 3.7
// and 5.3 % of a sum of 7.3 meq/L (BMJ Open 5 (2015) e007385, table 1,
// https://pmc.ncbi.nlm.nih.gov/articles/PMC4420976/). A sodium by difference takes
// none of them, so what counts is how far from none they are, and not how they
// scatter: the root mean square of anything up to the most, 1/√3 of it.
const (
	potassiumUnmeasured = 0.021
	nitrateUnmeasured   = 0.031
)

// UnmeasuredCharge is the standard uncertainty, in meq/L, of a sodium by
// difference from potassium and nitrate that were not measured; 0 where sodium or
// both of them were, NaN where the sum of ions is not known.
func (a *Analysis) UnmeasuredCharge() float64 {
	part := 0.0
	if _, ok := a.bound(Potassium); !ok {
		part = potassiumUnmeasured
	}
	if _, ok := a.bound(Nitrate); !ok {
		part = math.Hypot(part, nitrateUnmeasured)
	}
	if a.Has(Sodium) || part == 0 {
		return 0
	}
	r := resolver{a: a}
	return part * math.Abs(r.anions())
}

// ConductivityModel is the standard uncertainty of a calculated conductivity, as
// part of it: the root mean square by which it leaves what was measured in seven
// Dutch waters of 210 to 1,250 µS/cm at 20 °C (Stuyfzand 1987, table 3.1, rows
// ST-… of testdata/published/water.tsv): 0.4 to 6.2 % high, the most in the
// hardest. PHREEQC 3 with phreeqc.dat gives 6 % more than this (rows EC-G…).
// Pawlowicz, Limnol. Oceanogr.: Methods 6 (2008) 489, abstract, finds calculated
// conductivities of river waters about 3 % high.
const ConductivityModel = 0.03

// modelUncertainty is the standard uncertainty that a model adds to what its
// inputs bring, and what was not measured.
func (a *Analysis) modelUncertainty(id ID, v float64) float64 {
	switch id {
	case Sodium:
		if u := a.UnmeasuredCharge(); u > 0 {
			return u * massNa
		}
	case SaturationIndex:
		// log K of calcite −8.480 ± 0.020 (Plummer & Busenberg 1982, table 1).
		return 0.02
	case ElectricalConductivity:
		u := ConductivityModel
		if _, ok := a.bound(Nitrate); !ok {
			// A meq/L of nitrate and one more of sodium carry 0.6 of what the rest does.
			u = math.Hypot(u, 0.6*nitrateUnmeasured)
		}
		return u * v
	}
	return 0
}

// speciesValue is a value that depends on the speciation of the water: mg/L,
// ionic strength in mmol/L, conductivity in uS/cm at 25 degC. Bicarbonate,
// carbonate and carbon dioxide are the free species, as geochemistry programs
// print them; what is bound in ion pairs is not in them.
func (r *resolver) speciesValue(id ID) float64 {
	switch id {
	case Bicarbonate:
		r.reading(PHValue)
		r.reading(Alkalinity) // a reported bicarbonate must not stand for itself
	case Carbonate, CarbonDioxide:
		r.reading(PHValue)
		r.alkalinity()
	case SaturationIndex:
		r.reading(PHValue)
		r.alkalinity()
		r.calciumHardness()
	case IonicStrength, ElectricalConductivity:
		r.alkalinity()
		r.totalHardness()
		r.reading(Chloride)
		r.reading(Sulfate)
	}
	if !r.lack.Empty() {
		return math.NaN()
	}
	s := r.speciate()
	if s == nil {
		return math.NaN()
	}
	switch id {
	case Bicarbonate:
		return 1000 * massHCO3 * s.Amount(equilibrium.Bicarbonate)
	case Carbonate:
		return 1000 * massCO3 * s.Amount(equilibrium.Carbonate)
	case CarbonDioxide:
		return 1000 * massCO2 * s.Amount(equilibrium.CarbonDioxide)
	case IonicStrength:
		return 1000 * s.IonicStrength
	case SaturationIndex:
		if !(s.Water.Calcium > 0) {
			r.why = "there is no calcium"
			return math.NaN()
		}
		return s.CalciteSaturation
	case ElectricalConductivity:
		return r.conductivity(s)
	}
	return math.NaN()
}

// conductivity at 25 degC. One more speciation gives it for the water itself;
// for the waters that differ by one uncertainty the change of the Standard
// Methods formula, which needs none, is taken in proportion.
func (r *resolver) conductivity(s *equilibrium.Solution) float64 {
	standard := s.ConductivityByStandardMethods()
	if r.conductance != 0 {
		return r.conductance * standard
	}
	k, err := equilibrium.ConductivityAt(s.Water, 25)
	if err != nil {
		r.why = err.Error()
		return math.NaN()
	}
	if standard > 0 {
		r.conductance = k / standard
	}
	return k
}

// speciate solves the water of the analysis, once; nil where it has no answer.
func (r *resolver) speciate() *equilibrium.Solution {
	if !r.speciated {
		outer := r.trace
		r.trace = trace{solved: true}
		r.solution = r.solve()
		r.solutionTrace, r.trace = r.trace, outer
		r.speciated = true
	}
	r.trace.join(&r.solutionTrace)
	return r.solution
}

func (r *resolver) solve() *equilibrium.Solution {
	w, pH := r.totals()
	s, err := equilibrium.SpeciateAt(w, pH)
	if err != nil {
		r.why = err.Error()
		return nil
	}
	return &s
}

// speciated are the analytes of the table that have a total in the speciation,
// but for those that totals works out: calcium, magnesium, sodium.
var speciated = func() (rows []struct {
	id    ID
	total string
	major bool
}) {
	var w equilibrium.Water
	for i := range table[:NumAnalytes] {
		a := &table[i]
		total := cmp.Or(a.Total, a.Key)
		if a.entity != ownIon || w.Total(total) == nil || a.ID == Calcium || a.ID == Magnesium || a.ID == Sodium {
			continue
		}
		rows = append(rows, struct {
			id    ID
			total string
			major bool
		}{a.ID, total, a.Ion == MajorIon})
	}
	return rows
}()

// totals makes of the readings the molar totals that the solver takes. What
// was not measured is left out and noted; sodium closes the charge where it was
// not measured.
func (r *resolver) totals() (w equilibrium.Water, pH float64) {
	pH, w.Temperature = assumedPH, assumedTemperature
	if r.a.Has(PHValue) {
		pH = r.reading(PHValue)
	} else {
		r.assumed.Add(PHValue)
	}
	if r.a.Has(SampleTemperature) {
		w.Temperature = r.reading(SampleTemperature)
	} else {
		r.assumed.Add(SampleTemperature)
	}
	w.Alkalinity = r.alkalinity() * meqPerUnit(Alkalinity) / 1000
	w.Calcium, w.Magnesium = r.hardnessTotals()
	for _, row := range speciated {
		*w.Total(row.total) += r.amount(row.id, row.major)
	}
	if b, ok := r.a.bound(Sodium); ok && b != Above {
		w.Sodium = r.amount(Sodium, false)
		return w, pH
	}
	cations, anions := w.Charges()
	if w.Sodium = anions - cations; w.Sodium < 0 {
		w.Sodium = 0
		r.clipped.Add(Sodium)
	}
	return w, pH
}

// amount is mol/L of an ion for the speciation. A major ion that was not
// measured, or any that is only known to be above something, is noted.
func (r *resolver) amount(id ID, major bool) float64 {
	b, ok := r.a.bound(id)
	if ok && b != Above {
		return r.optional(id) / table[id].MolarMass / 1000
	}
	if ok || major {
		r.left.Add(id)
	}
	return 0
}

// hardnessTotals is calcium and magnesium in mol/L. With the total hardness
// alone all of it counts as calcium: the two ions are alike in charge, and
// nearly so in their pairs.
func (r *resolver) hardnessTotals() (calcium, magnesium float64) {
	outer := r.trace
	c := r.calciumHardness()
	if math.IsNaN(c) {
		r.trace = outer
	}
	outer = r.trace
	m := r.magnesiumHardness(NumNames)
	if math.IsNaN(m) {
		r.trace = outer
	}
	switch {
	case !math.IsNaN(c) && !math.IsNaN(m):
		if m < 0 && !r.a.Has(Magnesium) && !r.a.Has(MagnesiumHardness) {
			r.clipped.Add(Magnesium)
			m = 0
		}
	case !math.IsNaN(c):
		r.left.Add(Magnesium)
		m = 0
	case !math.IsNaN(m):
		r.left.Add(Calcium)
		c = 0
	case r.a.Has(TotalHardness):
		c, m = r.reading(TotalHardness), 0
		r.left.Add(Magnesium)
	default:
		r.left.Add(Calcium)
		r.left.Add(Magnesium)
		c, m = 0, 0
	}
	return c / massCaCO3 / 1000, m / massCaCO3 / 1000
}

// dissolvedSolids is the sum of SM 1030 E, mg/L.
func (r *resolver) dissolvedSolids() float64 {
	r.alkalinity()
	r.totalHardness()
	r.calciumHardness()
	r.reading(Chloride)
	r.reading(Sulfate)
	if !r.lack.Empty() {
		return math.NaN()
	}
	outer := r.trace
	w, _ := r.totals()
	r.trace.assumed = outer.assumed // neither pH nor temperature enters the sum
	for _, id := range [...]ID{PHValue, SampleTemperature} {
		if !outer.used.Has(id) {
			r.used.Remove(id)
		}
	}
	s := equilibrium.Solution{Water: w}
	return s.DissolvedSolids(equilibrium.SolidsStandardMethods) + r.a.heavier()
}

// heavier is what the ions that are speciated as another weigh more than it, mg/L.
// Of those told by their nitrogen the Standard Methods sum takes the nitrogen.
func (a *Analysis) heavier() float64 {
	sum := 0.0
	for _, row := range speciated {
		own := &table[row.id]
		if of, ok := Lookup(row.total); ok && of != row.id && own.Plain {
			if b, ok := a.bound(row.id); ok && b != Above {
				v := a.m[row.id].Value
				if b == Below {
					v /= 2
				}
				sum += v * (1 - table[of].MolarMass/own.MolarMass)
			}
		}
	}
	return sum
}

// Totals is the water of the analysis as the solver takes it: molar totals,
// alkalinity in eq/L, temperature, and the pH that was measured, with a note of
// what was assumed. Alkalinity (or reported bicarbonate) and pH must have been
// measured. InorganicCarbon is 0: Speciation finds it.
func (a *Analysis) Totals() (w equilibrium.Water, pH float64, note string, err error) {
	r := resolver{a: a}
	r.reading(PHValue)
	r.alkalinity()
	if !r.lack.Empty() {
		return w, math.NaN(), "", &Absent{Bicarbonate, r.reason(a, Bicarbonate)}
	}
	w, pH = r.totals()
	return w, pH, r.note(a, NumNames), nil
}

// Speciation is the full solution of the water of the analysis: species, ion
// pairs, ionic strength, saturation. It needs pH and alkalinity (or reported
// bicarbonate); the note says what was assumed or left out.
func (a *Analysis) Speciation() (s equilibrium.Solution, note string, err error) {
	w, pH, note, err := a.Totals()
	if err != nil {
		return s, "", err
	}
	s, err = equilibrium.SpeciateAt(w, pH)
	if err != nil {
		var absent error = &Absent{Bicarbonate, err.Error()}
		return s, "", errors.Join(absent, err)
	}
	return s, note, nil
}

// CalculatedConductivity is the conductivity in uS/cm at 25 degC that the ions
// account for, whether or not one was measured, with its uncertainty. The
// measured one is not used.
func (a *Analysis) CalculatedConductivity() (Value, error) { return a.Derive(ElectricalConductivity) }
