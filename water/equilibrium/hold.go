package equilibrium

import (
	"fmt"
	"math"
)

// Solids is a set of minerals that a water is at equilibrium with.
type Solids uint8

// The minerals.
const (
	Calcite Solids = 1 << iota
	GypsumSolid
	Brucite
)

// Deposit is a water at equilibrium with solids, and what came out of it in mol/L: negative dissolved.
type Deposit struct {
	Solution                 Solution // its Water holds what is left in solution
	Calcite, Gypsum, Brucite float64
}

// HoldSolids brings a water to equilibrium with minerals, closed (pressure 0) or under a gas with a CO2 pressure in atm.
//
// Saturation is linear in the logarithms of activity, ln a(Ca) = ln Ksp - ln a(CO3), so it is put into the Newton steps as
// it stands: one solution, no search for the amount. The minimum over that plane is as convex as the whole; what the balance
// of the bound component then lacks is the solid (its Lagrange multiplier).
func HoldSolids(w Water, solids Solids, pressure float64) (Deposit, error) {
	return HoldSolidsAt(w, solids, pressure, Offset{})
}

// Offset moves the solubility products of minerals, log10: what their own uncertainty does.
type Offset struct{ Calcite, Gypsum float64 }

// HoldSolidsAt is HoldSolids with solubility products moved.
func HoldSolidsAt(w Water, solids Solids, pressure float64, off Offset) (Deposit, error) {
	if pressure != 0 {
		if err := checkPressure(pressure); err != nil {
			return Deposit{}, err
		}
		w.InorganicCarbon = 0
	}
	if err := w.check(); err != nil {
		return Deposit{}, err
	}
	var s solver
	s.solids = solids
	if pressure != 0 {
		s.fixed[CarbonDioxide] = true
	}
	s.load(&w)
	s.calcite += off.Calcite
	s.gypsum += off.Gypsum
	pH := -s.activity[Hydrogen] / math.Ln10
	if pressure != 0 {
		s.activity[CarbonDioxide] = math.Ln10*s.henry + math.Log(pressure)
		pH = openPH(&s, &w)
	}
	s.startAt(pH)
	s.arrange()
	s.tie()
	if err := s.solve(); err != nil {
		return Deposit{}, fmt.Errorf("bring water to saturation: %w", err)
	}
	var out Deposit
	if solids&GypsumSolid != 0 {
		out.Gypsum = w.Sulfate - s.sum(Sulfate)
	}
	if solids&Calcite != 0 {
		out.Calcite = w.Calcium - s.sum(Calcium) - out.Gypsum
	}
	if solids&Brucite != 0 {
		out.Brucite = w.Magnesium - s.sum(Magnesium)
	}
	w.Calcium -= out.Calcite + out.Gypsum
	w.Sulfate -= out.Gypsum
	w.Magnesium -= out.Brucite
	w.Alkalinity -= 2 * (out.Calcite + out.Brucite)
	w.InorganicCarbon -= out.Calcite
	if pressure != 0 {
		w.InorganicCarbon = s.sum(CarbonDioxide)
	}
	var err error
	out.Solution, err = s.finish(w)
	return out, err
}

// openPH is the first guess of pH under a gas: HCO3- carries the alkalinity, or strong acid is left.
func openPH(s *solver, w *Water) float64 {
	if w.Alkalinity < -1e-6 {
		return -math.Log10(-w.Alkalinity)
	}
	return -s.activity[CarbonDioxide]/math.Ln10 - s.lnK[Bicarbonate]/math.Ln10 + math.Log10(math.Max(w.Alkalinity, 1e-6))
}

// tied is a component whose activity the others set: ln a = constant + sum of number x ln a of the terms.
type tied struct {
	component Species
	constant  float64
	terms     [3]term
	count     int
}

// tie writes the saturation of the held solids as activities of calcium, sulfate and magnesium, and starts there.
func (s *solver) tie() {
	s.ties = s.tieList[:0]
	calcium := tied{component: Calcium, constant: math.Ln10*s.calcite - s.lnK[Carbonate], terms: [3]term{{CarbonDioxide, -1}, {Hydrogen, 2}}, count: 2}
	if s.solids&Calcite != 0 {
		s.ties = append(s.ties, calcium)
	}
	if s.solids&GypsumSolid != 0 {
		sulfate := tied{component: Sulfate, constant: math.Ln10 * s.gypsum, terms: [3]term{{Calcium, -1}}, count: 1}
		if s.solids&Calcite != 0 { // calcium is itself tied: put its line in
			sulfate.constant -= calcium.constant
			sulfate.terms, sulfate.count = [3]term{{CarbonDioxide, 1}, {Hydrogen, -2}}, 2
		}
		s.ties = append(s.ties, sulfate)
	}
	if s.solids&Brucite != 0 { // Mg(OH)2 + 2 H+ = Mg2+ + 2 H2O
		s.ties = append(s.ties, tied{component: Magnesium, constant: math.Ln10 * s.brucite, terms: [3]term{{Hydrogen, 2}}, count: 1})
	}
	for k := range s.ties {
		t := &s.ties[k]
		s.activity[t.component] = t.constant
		for _, x := range t.terms[:t.count] {
			s.activity[t.component] += x.number * s.activity[x.component]
		}
	}
	// Columns of the plane: each free component moves itself and what is tied to it.
	n := 0
	for p, i := range s.free {
		if s.isTied(i) {
			continue
		}
		s.plane[n] = [componentCount]float64{}
		s.plane[n][p] = 1
		for k := range s.ties {
			t := &s.ties[k]
			for _, x := range t.terms[:t.count] {
				if x.component == i {
					s.plane[n][s.place[t.component]] = x.number
				}
			}
		}
		n++
	}
	s.columns = n
}

func (s *solver) isTied(i Species) bool {
	for k := range s.ties {
		if s.ties[k].component == i {
			return true
		}
	}
	return false
}

// project turns residuals and matrix of all components into those of the plane, and returns the largest relative residual.
func (s *solver) project() float64 {
	n, m := len(s.free), s.columns
	var full [componentCount][componentCount]float64
	for p := range n {
		for q := range p + 1 {
			full[p][q], full[q][p] = s.matrix[p][q], s.matrix[p][q]
		}
	}
	var residual, scale [componentCount]float64
	worst := 0.0
	for a := range m {
		for p := range n {
			v := s.plane[a][p]
			residual[a] += v * s.residual[p]
			scale[a] += math.Abs(v) * s.scale[p]
		}
		if r := math.Abs(residual[a]) / scale[a]; r > worst || math.IsNaN(r) {
			worst = r
		}
	}
	for a := range m {
		for b := range a + 1 {
			sum := 0.0
			for p := range n {
				if s.plane[a][p] == 0 {
					continue
				}
				for q := range n {
					sum += s.plane[a][p] * full[p][q] * s.plane[b][q]
				}
			}
			s.matrix[a][b] = sum
		}
	}
	s.residual = residual
	return worst
}

// unproject turns a step in the plane into one of all components.
func (s *solver) unproject() {
	var full [componentCount]float64
	for a := range s.columns {
		for p := range s.free {
			full[p] += s.plane[a][p] * s.step[a]
		}
	}
	s.step = full
}
