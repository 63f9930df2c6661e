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
