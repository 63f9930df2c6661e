package equilibrium

import (
	"fmt"
	"math"
)

// Solution is a water with its species. Amounts are mol/L, activities are on the molal scale, saturation indices are
// log10(ion activity product / solubility product), -Inf where a constituent is absent.
type Solution struct {
	// Water holds the totals; where the solution was found from a pH, InorganicCarbon is the one that fits it.
	Water Water
	PH    float64
	// IonicStrength is 0.5 sum c z^2 over all species, ion pairs counted with their own charge.
	IonicStrength float64

	CalciteSaturation   float64
	AragoniteSaturation float64
	GypsumSaturation    float64
	BruciteSaturation   float64
	// CarbonDioxidePressure is the pressure in atm of CO2 in a gas at equilibrium with the water.
	CarbonDioxidePressure float64

	amount  [speciesCount]float64
	lnGamma [classCount]float64
}

// Amount returns mol/L of one species, free: bicarbonate without the part bound in ion pairs.
func (s *Solution) Amount(of Species) float64 {
	if of < 0 || of >= speciesCount {
		return 0
	}
	return s.amount[of]
}

// Activity returns the activity of one species.
func (s *Solution) Activity(of Species) float64 {
	if of < 0 || of >= speciesCount {
		return 0
	}
	return s.amount[of] * math.Exp(s.lnGamma[speciesTable[of].class])
}

// InRange reports whether the solution lies where the model was compared with reference results: 0 to 80 degC, pH 4 to
// 11, ionic strength to 0.1 mol/L.
func (s *Solution) InRange() bool {
	return s.Water.Temperature <= 80 && s.PH >= 4 && s.PH <= 11 && s.IonicStrength <= 0.1
}

// SpeciesChargeError returns 100 (cations - anions)/(cations + anions) over all species, H+, OH- and ion pairs included,
// in per cent: the figure that geochemistry programs print.
func (s *Solution) SpeciesChargeError() float64 {
	var cations, anions float64
	for j, row := range speciesTable {
		if row.charge > 0 {
			cations += row.charge * s.amount[j]
		} else {
			anions -= row.charge * s.amount[j]
		}
	}
	return 100 * (cations - anions) / (cations + anions)
}

// Speciate solves a closed water: pH and species from the totals, alkalinity and inorganic carbon. It returns an error,
// never a guess, for totals that are negative or not numbers, temperatures outside 0 to 95 degC, a pH outside 2 to 12.5
// and an ionic strength above 1 mol/L; the last two wrap ErrNoSolution.
func Speciate(w Water) (Solution, error) {
	if err := w.check(); err != nil {
		return Solution{}, err
	}
	var s solver
	s.load(&w)
	s.arrange()
	if err := s.solve(); err != nil {
		return Solution{}, err
	}
	return s.finish(w)
}

// SpeciateAt solves a water whose pH was measured: the inorganic carbon that fits pH and alkalinity, and the species.
// InorganicCarbon of the argument is not used; that of Solution.Water is the result. A pH outside 2 to 12.5 is refused. An
// alkalinity below what OH-, phosphate, silica and the like alone make at that pH has no answer: the readings
// contradict each other, and the error says by how much.
func SpeciateAt(w Water, pH float64) (Solution, error) {
	w.InorganicCarbon = 0
	if err := w.check(); err != nil {
		return Solution{}, err
	}
	if math.IsNaN(pH) || pH < lowestPH || pH > highestPH {
		return Solution{}, fmt.Errorf("solve water at a measured pH: pH %g is outside %g to %g", pH, lowestPH, highestPH)
	}
	var s solver
	s.fixed[Hydrogen] = true
	s.load(&w)
	s.startAt(pH)
	s.arrange()
	// The answer without carbonate shows whether the readings allow any, and is where the search for it starts. It need be
	// exact only where little is left for carbonate.
	s.close = loose
	if err := s.solve(); err != nil {
		return Solution{}, err
	}
	lack := w.Alkalinity - s.alkalinity()
	slack := 1e-9 + 1e-6*math.Abs(w.Alkalinity)
	s.close = tolerance
	if lack < 0.5*math.Abs(w.Alkalinity)+slack {
		if err := s.solve(); err != nil {
			return Solution{}, err
		}
		lack = w.Alkalinity - s.alkalinity()
	}
	if lack < -slack {
		return Solution{}, fmt.Errorf("solve water at pH %g: alkalinity %.4g meq/L is below the %.4g meq/L that the water has at this pH without any bicarbonate; measure pH or alkalinity again: %w",
			pH, w.Alkalinity*1e3, s.alkalinity()*1e3, ErrNoSolution)
	}
	if lack > slack {
		carbon, err := s.solveCarbon(w.Alkalinity)
		if err != nil {
			return Solution{}, err
		}
		w.InorganicCarbon = carbon
	}
	return s.finish(w)
}

// alkalinity of the amounts: minus the sum of H+ coefficients.
func (s *solver) alkalinity() float64 { return -s.sum(Hydrogen) }

// highestCarbon is far above CO2 saturation under 1 atm (0.077 mol/L at 0 degC): more is a contradiction of the readings.
const highestCarbon = 0.5

// solveCarbon finds the inorganic carbon that gives the alkalinity at the fixed pH. The solver is at the
// carbonate-free answer.
func (s *solver) solveCarbon(alkalinity float64) (float64, error) {
	lack := alkalinity - s.alkalinity()
	// Free bicarbonate and carbonate alone would carry the lack at this ln a(CO2); pairs only lower it.
	h := s.activity[Hydrogen]
	unit := math.Exp(s.lnK[Bicarbonate]-h-s.lnGamma[likeBicarbonate]) + 2*math.Exp(s.lnK[Carbonate]-2*h-s.lnGamma[likeCarbonate])
	guess := math.Log(lack / unit)
	s.fixed[CarbonDioxide] = true
	s.arrange()
	start := s.activity
	start[CarbonDioxide] = guess
	s.activity = start
	if !s.approachCarbon(alkalinity) {
		s.activity = start
		if err := s.bracketCarbon(alkalinity, lack); err != nil {
			return 0, err
		}
	}
	carbon := s.sum(CarbonDioxide)
	if carbon > highestCarbon {
		return 0, fmt.Errorf("solve water: alkalinity %.4g meq/L at this pH would need %.3g mol/L of inorganic carbon, more than water holds; measure pH or alkalinity again: %w",
			alkalinity*1e3, carbon, ErrNoSolution)
	}
	return carbon, nil
}

// carbonMisses is how close the alkalinity of the amounts must come.
func (s *solver) carbonMisses(alkalinity float64) (miss float64, hit bool) {
	miss = s.alkalinity() - alkalinity
	return miss, math.Abs(miss) <= s.close*math.Abs(alkalinity)+1e-16
}

// approachCarbon moves CO2 along with the Newton steps of the other components: its activity is scaled so that the
// carbonate alkalinity alone makes up what is missing. That converges fast while pairs with carbonate are few; it gives up
// where they are not.
func (s *solver) approachCarbon(alkalinity float64) bool {
	s.distribute()
	for range 40 {
		s.renew(false)
		worst := s.balance()
		miss, hit := s.carbonMisses(alkalinity)
		if hit && s.settled(worst) {
			return true
		}
		if math.IsNaN(worst) || !s.newton() {
			return false
		}
		carbonate := 0.0
		for _, j := range s.present {
			terms := speciesTable[j].terms
			if n := len(terms); n > 1 && terms[n-2].component == CarbonDioxide && terms[n-1].component == Hydrogen {
				carbonate -= terms[n-1].number * s.amount[j]
			}
		}
		if !(carbonate > miss) || carbonate <= 0 {
			return false
		}
		s.activity[CarbonDioxide] += math.Log((carbonate - miss) / carbonate)
		for p, i := range s.free {
			s.activity[i] += math.Max(-1, math.Min(1, s.step[p]))
		}
		s.distribute()
	}
	return false
}

// bracketCarbon finds ln a(CO2) by false position and bisection, with a full solution at each trial.
func (s *solver) bracketCarbon(alkalinity, lack float64) error {
	x := s.activity[CarbonDioxide]
	low, high := x-14, x+4
	for range 200 {
		s.activity[CarbonDioxide] = x
		if err := s.solve(); err != nil {
			return err
		}
		miss, hit := s.carbonMisses(alkalinity)
		if hit || high-low < 1e-13 {
			return nil
		}
		if miss > 0 {
			high = x
		} else {
			low = x
		}
		next := x - miss/(lack+miss)
		if !(next > low && next < high) {
			next = (low + high) / 2
		}
		x = next
	}
	return fmt.Errorf("solve water: no inorganic carbon found for alkalinity %.4g meq/L: %w", alkalinity*1e3, ErrNoSolution)
}

// sum is the total of a component over the amounts.
func (s *solver) sum(of Species) float64 {
	total := 0.0
	for _, j := range s.present {
		for _, t := range speciesTable[j].terms {
			if t.component == of {
				total += t.number * s.amount[j]
			}
		}
	}
	return total
}

// finish checks the limits and copies the answer.
func (s *solver) finish(w Water) (Solution, error) {
	pH := -s.activity[Hydrogen] / math.Ln10
	if s.strength > highestStrength {
		return Solution{}, fmt.Errorf("solve water: ionic strength %.3g mol/L is above %g, where the activity formulas end: %w", s.strength, highestStrength, ErrNoSolution)
	}
	if pH < lowestPH || pH > highestPH {
		return Solution{}, fmt.Errorf("solve water: pH would be %.2f, outside %g to %g: %w", pH, lowestPH, highestPH, ErrNoSolution)
	}
	out := Solution{Water: w, PH: pH, IonicStrength: s.strength, amount: s.amount, lnGamma: s.lnGamma}
	ion := func(j Species) float64 { return math.Log10(out.Activity(j)) }
	calcium := ion(Calcium)
	out.CalciteSaturation = calcium + ion(Carbonate) - s.calcite
	out.AragoniteSaturation = calcium + ion(Carbonate) - s.aragonite
	out.GypsumSaturation = calcium + ion(Sulfate) - s.gypsum
	out.BruciteSaturation = ion(Magnesium) + 2*pH - s.brucite
	out.CarbonDioxidePressure = out.Activity(CarbonDioxide) / math.Pow(10, s.henry)
	return out, nil
}
