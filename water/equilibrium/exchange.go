package equilibrium

import (
	"fmt"
	"math"
)

// AirCarbonDioxide is the pressure of CO2 in outdoor air in atm, 4.2e-4 (about 420 umol/mol dry air, NOAA Global
// Monitoring Laboratory, 2023 mean). Air over a fermenter or in a cellar holds far more.
const AirCarbonDioxide = 4.2e-4

// EquilibrateCO2 opens a water to a gas with a CO2 pressure in atm: alkalinity and all other totals stay, inorganic
// carbon becomes what the gas gives. [CO2] = KH p (Henry).
func EquilibrateCO2(w Water, pressure float64) (Solution, error) {
	if err := checkPressure(pressure); err != nil {
		return Solution{}, err
	}
	w.InorganicCarbon = 0
	if err := w.check(); err != nil {
		return Solution{}, err
	}
	var s solver
	s.fixed[CarbonDioxide] = true
	s.load(&w)
	ln := math.Ln10*s.henry + math.Log(pressure)
	s.activity[CarbonDioxide] = ln
	// First guess of pH: HCO3- carries the alkalinity, or strong acid is left.
	pH := -ln/math.Ln10 - s.lnK[Bicarbonate]/math.Ln10 + math.Log10(math.Max(w.Alkalinity, 1e-6))
	if w.Alkalinity < -1e-6 {
		pH = -math.Log10(-w.Alkalinity)
	}
	s.startAt(pH)
	s.arrange()
	if err := s.solve(); err != nil {
		return Solution{}, err
	}
	w.InorganicCarbon = s.sum(CarbonDioxide)
	return s.finish(w)
}

func checkPressure(pressure float64) error {
	if !(pressure > 1e-12 && pressure <= 10) {
		return fmt.Errorf("open water to CO2: pressure %g atm is outside 1e-12 to 10", pressure)
	}
	return nil
}

// molarMassCalcite in g/mol: Ca, C and 3 O of the abridged IUPAC weights (Prohaska et al. 2022).
const molarMassCalcite = 100.086

// Saturated is a water after a mineral has precipitated or dissolved to equilibrium.
type Saturated struct {
	Solution Solution
	// Precipitated is mol/L that came out of solution, negative where the mineral would dissolve.
	Precipitated float64
}

// PrecipitationPotential returns the calcium carbonate precipitation potential in mg/L as CaCO3 (Standard Methods 2330 C),
// where the mineral was calcite: positive comes out of solution, negative would dissolve.
func (s Saturated) PrecipitationPotential() float64 { return s.Precipitated * molarMassCalcite * 1000 }

// PrecipitateCalcite brings a closed water to equilibrium with calcite: calcium and inorganic carbon fall by x, alkalinity
// by 2x, until the saturation index is zero (Standard Methods 2330 C).
func PrecipitateCalcite(w Water) (Saturated, error) {
	return saturate(w, ReagentCalciumCarbonate.PerMole(), Speciate, func(s *Solution) float64 { return s.CalciteSaturation })
}

// PrecipitateCalciteOpen brings a water to equilibrium with calcite and with a gas of a CO2 pressure in atm together.
func PrecipitateCalciteOpen(w Water, pressure float64) (Saturated, error) {
	if err := checkPressure(pressure); err != nil {
		return Saturated{}, err
	}
	lime := ReagentCalciumHydroxide.PerMole() // the gas makes up the carbonate
	solve := func(w Water) (Solution, error) { return EquilibrateCO2(w, pressure) }
	return saturate(w, lime, solve, func(s *Solution) float64 { return s.CalciteSaturation })
}

// SaturateGypsum brings a closed water to equilibrium with gypsum. Minus Precipitated is the mol/L that still dissolve.
func SaturateGypsum(w Water) (Saturated, error) {
	return saturate(w, ReagentCalciumSulfate.PerMole(), Speciate, func(s *Solution) float64 { return s.GypsumSaturation })
}

// Undissolved returns how many mol/L of an addition of gypsum stay undissolved at equilibrium; 0 where all dissolves. It
// says nothing about how long the rest takes.
func Undissolved(w Water, gypsum float64) (float64, error) {
	after, err := Add(w, ReagentCalciumSulfate, gypsum)
	if err != nil {
		return 0, err
	}
	s, err := Speciate(after)
	if err != nil {
		return 0, err
	}
	if s.GypsumSaturation <= 0 {
		return 0, nil
	}
	full, err := SaturateGypsum(after)
	if err != nil {
		return 0, err
	}
	return math.Min(full.Precipitated, gypsum), nil
}

// saturate finds the amount of a mineral to take away (perMole is what a mole of it adds) at which its index is zero.
func saturate(w Water, perMole Water, solve func(Water) (Solution, error), index func(*Solution) float64) (Saturated, error) {
	now, err := solve(w)
	if err != nil {
		return Saturated{}, err
	}
	// The index is followed as its saturation ratio minus one, which stays finite for an absent ion, and is smoother.
	value := func(s *Solution) float64 {
		return math.Pow(10, math.Min(index(s), 3)/2) - 1
	}
	excess := func(x float64) (float64, error) {
		s, err := solve(w.Plus(perMole, -x))
		if err != nil {
			return 0, err
		}
		return value(&s), nil
	}
	fa := value(&now)
	a, b, fb := 0.0, 0.0, fa
	if fa > 0 {
		most := w.Calcium
		if perMole.Sulfate > 0 {
			most = math.Min(most, w.Sulfate)
		}
		if perMole.InorganicCarbon > 0 {
			most = math.Min(most, w.InorganicCarbon)
		}
		// Halves of what is left keep clear of the end, where acid is all that remains.
		for step := most / 8; ; step = (most - b) / 2 {
			a, fa = b, fb
			b += step
			if fb, err = excess(b); err != nil {
				return Saturated{}, fmt.Errorf("precipitate mineral: %w", err)
			}
			if fb <= 0 || most-b < 1e-15 {
				break
			}
		}
	} else {
		for step := 1e-5; fb < 0; step *= 3 {
			if b < -highestDose {
				return Saturated{}, fmt.Errorf("dissolve mineral: not saturated after %g mol/L: %w", -b, ErrNoSolution)
			}
			a, fa = b, fb
			b -= step
			if fb, err = excess(b); err != nil {
				return Saturated{}, fmt.Errorf("dissolve mineral: %w", err)
			}
		}
	}
	x, err := root(excess, a, b, fa, fb, 1e-11)
	if err != nil {
		return Saturated{}, fmt.Errorf("bring water to saturation: %w", err)
	}
	s, err := solve(w.Plus(perMole, -x))
	if err != nil {
		return Saturated{}, fmt.Errorf("bring water to saturation: %w", err)
	}
	return Saturated{Solution: s, Precipitated: x}, nil
}
