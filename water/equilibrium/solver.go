package equilibrium

import (
	"fmt"
	"math"
)

// The solver finds the logarithms of the component activities at which every mass balance closes. With the activity
// coefficients held, the balances are the gradient of a strictly convex function of those logarithms,
//
//	F(a) = sum over species c_j(a) - sum over components T_i a_i,   c_j = exp(ln K_j + sum n_ji a_i - ln g_j)
//
// (the dual of the free-energy minimum; Van Zeggeren & Storey, The Computation of Chemical Equilibria, 1970), so Newton
// steps with a step limit and halving cannot go astray. The coefficients are renewed after each step. A component may
// instead be held at a fixed activity: H+ at a measured pH, CO2 under a gas phase.
type solver struct {
	constants
	total    [componentCount]float64 // T_i, mol/L; of H+: minus the alkalinity
	fixed    [componentCount]bool    // activity given, balance open
	activity [componentCount]float64 // ln a_i
	absent   [componentCount]bool    // total is zero: the component and its species are left out

	amount   [speciesCount]float64 // mol/L, 0 for an absent species
	present  []Species             // species that are not absent, into the array below
	ordinal  [speciesCount]Species
	lnGamma  [classCount]float64
	strength float64
	inert    [2]float64 // chloride and nitrate

	free     []Species // components to solve for, into the array below
	unknowns [componentCount]Species
	place    [componentCount]int // index in free, or -1

	solids  Solids // held at saturation; see HoldSolids
	ties    []tied // into the array below
	tieList [3]tied
	plane   [componentCount][componentCount]float64
	columns int // of the plane; 0 where nothing is tied

	close    float64 // tolerance of the balances in force
	residual [componentCount]float64
	scale    [componentCount]float64
	matrix   [componentCount][componentCount]float64
	step     [componentCount]float64
}

const (
	tolerance     = 1e-10 // of each mass balance, relative to the sum of its absolute terms
	loose         = 1e-3  // the same on the way to a better start
	mostSteps     = 300
	widestStep    = 6.0 // in ln a
	smallestTotal = 1e-18
)

// load puts the totals of a water in. The fixed components must have been set before.
func (s *solver) load(w *Water) {
	s.close = tolerance
	s.constants = constantsAt(w.Temperature)
	s.total = [componentCount]float64{
		Hydrogen: -w.Alkalinity, Calcium: w.Calcium, Magnesium: w.Magnesium, Sodium: w.Sodium, Potassium: w.Potassium,
		Ammonium: w.Ammonium, Sulfate: w.Sulfate, Fluoride: w.Fluoride, CarbonDioxide: w.InorganicCarbon,
		DihydrogenPhosphate: w.Phosphate, Lactate: w.Lactate, DihydrogenCitrate: w.Citrate, Silica: w.Silica,
	}
	s.inert = [2]float64{w.Chloride, w.Nitrate}
	s.guessStrength(w)
	s.startAt(s.guessPH(w))
}

// startAt sets pH and shares each total out between its protonated forms at that pH, ion pairs left out.
func (s *solver) startAt(pH float64) {
	h := -math.Ln10 * pH
	s.activity[Hydrogen] = h
	var forms [componentCount]float64
	for j := componentCount; j < Chloride; j++ {
		if terms := speciesTable[j].terms; len(terms) == 2 && terms[1].component == Hydrogen {
			forms[terms[0].component] += math.Exp(s.lnK[j] + terms[1].number*h - s.lnGamma[speciesTable[j].class])
		}
	}
	for i := Calcium; i < componentCount; i++ {
		if !s.fixed[i] {
			least := smallestTotal
			if s.heldBy(i) {
				least = 1e-5 // what a solid may bring, to begin with
			}
			s.activity[i] = math.Log(math.Max(s.total[i], least) / (1 + forms[i]))
		}
	}
}

// guessPH starts Newton near the answer of the carbonate system alone.
func (s *solver) guessPH(w *Water) float64 {
	alkalinity, carbon := w.Alkalinity, w.InorganicCarbon
	pk1 := -s.lnK[Bicarbonate] / math.Ln10
	pk2 := -s.lnK[Carbonate]/math.Ln10 - pk1
	pkw := -s.lnK[Hydroxide] / math.Ln10
	edge := 0.01*carbon + 1e-7
	switch {
	case alkalinity < edge && -alkalinity > edge:
		return -math.Log10(-alkalinity)
	case alkalinity < carbon-edge:
		return pk1 + math.Log10(math.Max(alkalinity, edge)/(carbon-alkalinity))
	case alkalinity <= carbon+edge:
		if carbon < 1e-6 {
			return 7
		}
		return (pk1 + pk2) / 2
	case alkalinity < 2*carbon-edge:
		return pk2 + math.Log10((alkalinity-carbon)/(2*carbon-alkalinity))
	default:
		return pkw + math.Log10(math.Max(alkalinity-2*carbon, edge))
	}
}

// guessStrength takes every total as a free ion and half the alkalinity magnitude, for the first coefficients only.
func (s *solver) guessStrength(w *Water) {
	i := 0.5 * (4*(w.Calcium+w.Magnesium+w.Sulfate) + w.Sodium + w.Potassium + w.Ammonium + w.Chloride + w.Nitrate +
		w.Fluoride + w.Phosphate + w.Lactate + w.Citrate + math.Abs(w.Alkalinity))
	s.setStrength(i)
}

// arrange decides which species are present and which components are unknown. It is called after load and after any
// change of fixed or of a total to or from zero.
func (s *solver) arrange() {
	s.free = s.unknowns[:0]
	for i := range componentCount {
		s.absent[i] = !s.fixed[i] && i != Hydrogen && s.total[i] < smallestTotal && !s.heldBy(i)
		s.place[i] = -1
		if !s.absent[i] && !s.fixed[i] {
			s.place[i] = len(s.free)
			s.free = append(s.free, i)
		}
	}
	s.present = s.ordinal[:0]
	for j := range Chloride {
		here := true
		for _, t := range speciesTable[j].terms {
			here = here && !s.absent[t.component]
		}
		if here {
			s.present = append(s.present, j)
		} else {
			s.amount[j] = 0
		}
	}
	s.amount[Chloride], s.amount[Nitrate] = s.inert[0], s.inert[1]
}

// heldBy reports whether a held solid brings a component, even where the water has none.
func (s *solver) heldBy(i Species) bool {
	switch i {
	case Calcium:
		return s.solids&(Calcite|GypsumSolid) != 0
	case CarbonDioxide:
		return s.solids&Calcite != 0
	case Sulfate:
		return s.solids&GypsumSolid != 0
	case Magnesium:
		return s.solids&Brucite != 0
	}
	return false
}

// setStrength computes the activity coefficients at an ionic strength.
func (s *solver) setStrength(strength float64) {
	s.strength = strength
	i := math.Min(strength, highestStrength) // keeps the formulas sane on the way; the result is checked
	root := math.Sqrt(i)
	davies := root/(1+root) - 0.3*i
	s.lnGamma[neutral] = math.Ln10 * 0.1 * i
	for c := davies1; c < classCount; c++ {
		p := &activityParameters[c]
		z2 := p.charge * p.charge
		if p.size == 0 {
			s.lnGamma[c] = -math.Ln10 * s.a * z2 * davies
		} else {
			s.lnGamma[c] = math.Ln10 * (-s.a*z2*root/(1+s.b*p.size*root) + p.b*i)
		}
	}
}

// distribute computes every amount from the activities.
func (s *solver) distribute() {
	for _, j := range s.present {
		row := &speciesTable[j]
		ln := s.lnK[j] - s.lnGamma[row.class]
		for _, t := range row.terms {
			ln += t.number * s.activity[t.component]
		}
		s.amount[j] = math.Exp(math.Min(ln, 50)) // a wild step must stay finite; F is then huge and the step is halved
	}
}

// ionicStrength is 0.5 sum c z^2 over all species.
func (s *solver) ionicStrength() float64 {
	sum := s.amount[Chloride] + s.amount[Nitrate]
	for _, j := range s.present {
		z := speciesTable[j].charge
		sum += s.amount[j] * z * z
	}
	return sum / 2
}

// objective is F of the open balances.
func (s *solver) objective() float64 {
	f := 0.0
	for _, j := range s.present {
		f += s.amount[j]
	}
	for _, i := range s.free {
		f -= s.total[i] * s.activity[i]
	}
	return f
}

// balance fills the residuals and their derivatives, and returns the largest relative residual.
func (s *solver) balance() float64 {
	n := len(s.free)
	for p := range n {
		i := s.free[p]
		s.residual[p], s.scale[p] = -s.total[i], math.Abs(s.total[i])
		for q := range n {
			s.matrix[p][q] = 0
		}
	}
	for _, j := range s.present {
		terms := speciesTable[j].terms
		for x, t := range terms {
			p := s.place[t.component]
			if p < 0 {
				continue
			}
			v := t.number * s.amount[j]
			s.residual[p] += v
			s.scale[p] += math.Abs(v)
			for _, u := range terms[:x+1] {
				q := s.place[u.component]
				if q < 0 {
					continue
				}
				d := v * u.number
				s.matrix[max(p, q)][min(p, q)] += d
			}
		}
	}
	worst := 0.0
	for p := range n {
		if r := math.Abs(s.residual[p]) / s.scale[p]; r > worst || math.IsNaN(r) {
			worst = r
		}
	}
	if len(s.ties) > 0 {
		return s.project()
	}
	return worst
}

// unknownCount is how many components Newton moves by themselves.
func (s *solver) unknownCount() int {
	if len(s.ties) > 0 {
		return s.columns
	}
	return len(s.free)
}

// factor replaces the lower triangle of the matrix by its Cholesky factor. It reports failure on a matrix that rounding
// has made singular.
func (s *solver) factor() bool {
	n := s.unknownCount()
	for i := range n {
		for k := range i + 1 {
			sum := s.matrix[i][k]
			for m := range k {
				sum -= s.matrix[i][m] * s.matrix[k][m]
			}
			if i == k {
				if !(sum > 0) {
					return false
				}
				s.matrix[i][i] = math.Sqrt(sum)
			} else {
				s.matrix[i][k] = sum / s.matrix[k][k]
			}
		}
	}
	return true
}

// substitute solves with the factor, in place.
func (s *solver) substitute(v *[componentCount]float64) {
	n := s.unknownCount()
	for i := range n {
		for m := range i {
			v[i] -= s.matrix[i][m] * v[m]
		}
		v[i] /= s.matrix[i][i]
	}
	for i := n - 1; i >= 0; i-- {
		for m := i + 1; m < n; m++ {
			v[i] -= s.matrix[m][i] * v[m]
		}
		v[i] /= s.matrix[i][i]
	}
}

// solve runs Newton to the end. On success amounts, activities, strength and coefficients agree with each other to the
// tolerance.
func (s *solver) solve() error {
	s.distribute()
	for n := range mostSteps {
		// Above 0.5 mol/L the coefficients of triply charged ions can swing from step to step: then go half way.
		s.renew(n >= 25)
		worst := s.balance()
		if s.settled(worst) {
			return nil
		}
		if math.IsNaN(worst) || !s.newton() {
			return fmt.Errorf("solve water: the balances cannot be separated in rounding: %w", ErrNoSolution)
		}
		s.advance()
	}
	return fmt.Errorf("solve water: no convergence in %d steps: %w", mostSteps, ErrNoSolution)
}

// settled reports whether balances and ionic strength agree to the tolerance in force.
func (s *solver) settled(worst float64) bool {
	return worst < s.close && math.Abs(s.ionicStrength()-s.strength) <= 10*s.close*s.strength+1e-15
}

// newton fills the step from the balances.
func (s *solver) newton() bool {
	if !s.factor() {
		return false
	}
	for p := range s.unknownCount() {
		s.step[p] = -s.residual[p]
	}
	s.substitute(&s.step)
	if len(s.ties) > 0 {
		s.unproject()
	}
	return true
}

// renew computes ionic strength and coefficients from the amounts and rescales the amounts to them.
func (s *solver) renew(halfWay bool) {
	old := s.lnGamma
	strength := s.ionicStrength()
	if halfWay {
		strength = (strength + s.strength) / 2
	}
	s.setStrength(strength)
	var ratio [classCount]float64
	for c := range ratio {
		ratio[c] = math.Exp(old[c] - s.lnGamma[c])
	}
	for _, j := range s.present {
		s.amount[j] *= ratio[speciesTable[j].class]
	}
}

// advance takes the step, limited in length, and halves it while F rises.
func (s *solver) advance() {
	widest := 0.0
	for p := range s.free {
		widest = math.Max(widest, math.Abs(s.step[p]))
	}
	length := 1.0
	if widest > widestStep {
		length = widestStep / widest
	}
	// Near the answer F is flat to rounding and the full step is right.
	if widest < 0.3 {
		for p, i := range s.free {
			s.activity[i] += s.step[p]
		}
		s.distribute()
		return
	}
	before := s.objective()
	start := s.activity
	for range 40 {
		for p, i := range s.free {
			s.activity[i] = start[i] + length*s.step[p]
		}
		s.distribute()
		if s.objective() <= before+1e-12*math.Abs(before) {
			return
		}
		length /= 2
	}
}
