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
	s.activity[CarbonDioxide] = math.Ln10*s.henry + math.Log(pressure)
	s.startAt(openPH(&s, &w))
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
	d, err := HoldSolids(w, Calcite, 0)
	return Saturated{d.Solution, d.Calcite}, err
}

// PrecipitateCalciteOpen brings a water to equilibrium with calcite and with a gas of a CO2 pressure in atm together.
func PrecipitateCalciteOpen(w Water, pressure float64) (Saturated, error) {
	if err := checkPressure(pressure); err != nil {
		return Saturated{}, err
	}
	d, err := HoldSolids(w, Calcite, pressure)
	return Saturated{d.Solution, d.Calcite}, err
}

// SaturateGypsum brings a closed water to equilibrium with gypsum. Minus Precipitated is the mol/L that still dissolve.
func SaturateGypsum(w Water) (Saturated, error) {
	d, err := HoldSolids(w, GypsumSolid, 0)
	return Saturated{d.Solution, d.Gypsum}, err
}
