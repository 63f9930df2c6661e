package water

import (
	"math"
	"slices"
	"strings"

	"gonum.org/v1/gonum/stat/distuv"
)

// Several readings of one sample often say the same: calcium and calcium hardness, the hardnesses and their sum, alkalinity and
// bicarbonate with pH, cations and anions, conductivity and the ions. Reconcile adjusts all of them together, each by its weight 1/u²,
// until these conditions hold: the least-squares adjustment of conditioned measurements (Kuehn & Davidson, Chem. Eng. Prog. 57 (1961)
// 44; Narasimhan & Jordache, Data Reconciliation and Gross Error Detection (2000), chapters 3 and 7; from memory). Whether they can
// hold is the global test, chi-square of the conditions; which reading breaks them is the measurement test (Mah & Tamhane, AIChE J. 28
// (1982) 828; from memory): the adjustment that is largest beside its own standard deviation.

// misfitLevel is the level of both tests: one sound analysis in a hundred is called contradictory.
const misfitLevel = 0.01

// leastSaid is the part of a reading's variance that the conditions must settle before they say anything of it: pH hardly enters the
// alkalinity that a bicarbonate stands for.
const leastSaid = 0.02

// Adjusted is one reading with its reconciled value, in the standard unit.
type Adjusted struct {
	ID         ID
	Measured   Measured
	Value, U   float64
	Adjustment float64 // over its own standard deviation; 0 where nothing moved
}

// Condition is what readings must fulfil together.
type Condition struct {
	Name string // "calcium and calcium hardness"
	Of   []ID
	// Miss is by how much it is missed, with the standard uncertainty that the readings and the condition itself explain.
	Miss, U float64
	Unit    string
}

// Reconciliation is one analysis in which the redundant readings agree.
type Reconciliation struct {
	Readings   []Adjusted // those that a condition binds, in the order of the table
	Conditions []Condition
	ChiSquare  float64
	P          float64 // the chance of a larger chi-square where only the stated errors act
	// Misfits are the readings that do not fit, where P is below 1 %: one where the test can name it, all that could be it where it
	// cannot distinguish them.
	Misfits []ID
}

// Fits reports whether the readings agree within their uncertainty.
func (r *Reconciliation) Fits() bool { return len(r.Misfits) == 0 }

// Contradiction says which readings contradict each other most; "" where all agree. With a charge balance or a conductivity it may
// name the one that is off.
func (r *Reconciliation) Contradiction() string {
	if r.Fits() {
		return ""
	}
	var worst Condition
	for _, c := range r.Conditions {
		if worst.U == 0 || math.Abs(c.Miss)/c.U > math.Abs(worst.Miss)/worst.U {
			worst = c
		}
	}
	var parts []string
	for _, x := range r.Readings {
		if slices.Contains(worst.Of, x.ID) {
			info := x.ID.Info()
			value, half := Spread(x.Measured.Value, 2*x.Measured.U)
			parts = append(parts, strings.TrimSpace(info.Title+" "+value+" ± "+half+" "+info.Unit.String()))
		}
	}
	off, half := Spread(math.Abs(worst.Miss), 2*worst.U)
	text := strings.Join(parts, ", ") + ": "
	if len(parts) < 2 {
		text = worst.Name + ": "
	}
	text += "off by " + off + " " + worst.Unit + ", and their errors explain " + half
	if len(r.Misfits) == 1 {
		text += "; " + r.Misfits[0].Info().Title + " does not fit the others"
	}
	return text
}

// condition is a function of the readings that must be 0, with a standard uncertainty of its own.
type condition struct {
	name string
	of   []ID
	unit string
	u    func(a *Analysis) float64
	f    func(a *Analysis) float64
}

func exactly(*Analysis) float64 { return 0 }

// forms are the conditions between the forms of one thing; all of them hold exactly but that of alkalinity.
var forms = []condition{
	{"calcium and calcium hardness", []ID{Calcium, CalciumHardness}, "mg/L", exactly,
		func(a *Analysis) float64 { return a.m[CalciumHardness].Value*massCa/massCaCO3 - a.m[Calcium].Value }},
	{"magnesium and magnesium hardness", []ID{Magnesium, MagnesiumHardness}, "mg/L", exactly,
		func(a *Analysis) float64 { return a.m[MagnesiumHardness].Value*massMg/massCaCO3 - a.m[Magnesium].Value }},
	sumOfHardness(CalciumHardness, MagnesiumHardness), sumOfHardness(CalciumHardness, Magnesium),
	sumOfHardness(Calcium, MagnesiumHardness), sumOfHardness(Calcium, Magnesium),
	// A reported bicarbonate is that part of the alkalinity; what is carbonate follows from pH (K2 of Plummer & Busenberg 1982, 25 degC),
	// to 2 % for activity, temperature and hydroxide.
	{"alkalinity and bicarbonate", []ID{Alkalinity, Bicarbonate}, "mg/L CaCO3", func(a *Analysis) float64 { return 0.01 * a.m[Alkalinity].Value },
		func(a *Analysis) float64 {
			carbonate := 0.0
			switch {
			case a.Has(Carbonate):
				carbonate = a.m[Carbonate].Value / massCO3
			case a.Has(PHValue):
				carbonate = a.m[Bicarbonate].Value / massHCO3 * math.Pow(10, a.m[PHValue].Value-10.329)
			}
			return a.m[Alkalinity].Value - (a.m[Bicarbonate].Value/massHCO3+2*carbonate)*massCaCO3/2
		}},
}

// sumOfHardness is total hardness against its parts, each in one form.
func sumOfHardness(calcium, magnesium ID) condition {
	name := table[TotalHardness].Title + ", " + table[calcium].Title + " and " + table[magnesium].Title
	return condition{name, []ID{TotalHardness, calcium, magnesium}, "mg/L CaCO3", exactly, func(a *Analysis) float64 {
		return a.m[TotalHardness].Value - massCaCO3*(a.m[calcium].Value/table[calcium].MolarMass+a.m[magnesium].Value/table[magnesium].MolarMass)
	}}
}

// balances are the conditions between all ions. Their own uncertainty is half of the band of SM 1030 E: ions that were not measured,
// and the model of conductivity.
var balances = []condition{
	{"charge balance", []ID{Sodium}, "meq/L", func(a *Analysis) float64 {
		r := resolver{a: a}
		c, n := r.cations(), r.anions()
		b, _ := BalanceBand(n)
		if b.Unit == "%" {
			return b.High / 100 * (c + n) / 2
		}
		return 0.1
	}, func(a *Analysis) float64 { r := resolver{a: a}; return r.cations() - r.anions() }},
	{"conductivity and ions", []ID{ElectricalConductivity}, "uS/cm", func(a *Analysis) float64 { return 0.05 * a.m[ElectricalConductivity].Value },
		func(a *Analysis) float64 {
			r := resolver{a: a}
			return r.standardConductivity() - a.m[ElectricalConductivity].Value
		}},
	// Measured over calculated solids is 1.0 to 1.2. Twice the band: many pens only multiply the conductivity.
	{"dissolved solids and ions", []ID{DissolvedSolids}, "mg/L", func(a *Analysis) float64 { return 0.1 * a.m[DissolvedSolids].Value },
		func(a *Analysis) float64 {
			r := resolver{a: a}
			return 1.1*r.dissolvedSolids() - a.m[DissolvedSolids].Value
		}},
}

// Reconcile adjusts the redundant readings of an analysis together; ok is false where no condition binds two of them. Readings that are
// only bounds take no part.
func Reconcile(a *Analysis) (r Reconciliation, ok bool) {
	return reconcile(a, append(forms[:len(forms):len(forms)], balances...))
}

// ReconcileForms is Reconcile with the forms of one thing alone: calcium, magnesium, hardness, alkalinity.
func ReconcileForms(a *Analysis) (r Reconciliation, ok bool) { return reconcile(a, forms) }

// Adjusted is the analysis with the reconciled values in place of the readings.
func (r *Reconciliation) Adjusted(a *Analysis) Analysis {
	out := *a
	for _, x := range r.Readings {
		m := x.Measured
		m.Value, m.SharedU = x.Value, m.SharedU*ratio(x.U, m.U)
		m.U = x.U
		out.Set(x.ID, m)
	}
	return out
}

func ratio(a, b float64) float64 {
	if b > 0 {
		return a / b
	}
	return 1
}

func reconcile(a *Analysis, all []condition) (out Reconciliation, ok bool) {
	var held []condition
	sums := 0
	for _, c := range all {
		whole := true
		for _, id := range c.of {
			whole = whole && a.Has(id)
		}
		if whole && c.of[0] == TotalHardness {
			// The forms of the parts are tied already: one sum is enough.
			if sums++; sums > 1 {
				continue
			}
		}
		if whole && !math.IsNaN(c.f(a)) {
			held = append(held, c)
		}
	}
	if len(held) == 0 {
		return out, false
	}
	m := newAdjustment(a, held)
	m.solve()
	return m.report(), true
}

// adjustment is the linear problem: readings x with covariance s, conditions with slopes b.
type adjustment struct {
	a      *Analysis
	held   []condition
	ids    []ID
	s      [][]float64 // covariance of the readings
	b      [][]float64 // slope of each condition by each reading
	v      [][]float64 // covariance of the conditions
	miss   []float64
	weight []float64 // v⁻¹ miss
	bs     [][]float64
}

func newAdjustment(a *Analysis, held []condition) *adjustment {
	m := &adjustment{a: a, held: held}
	at := *a
	for id := range a.have.All() {
		if !a.Has(id) {
			continue
		}
		step := math.Max(a.m[id].U, 1e-6*math.Max(1, math.Abs(a.m[id].Value)))
		slopes := make([]float64, len(held))
		moves := false
		for k, c := range held {
			at.m[id].Value = a.m[id].Value + step
			high := c.f(&at)
			at.m[id].Value = a.m[id].Value - step
			d := halfDifference(c.f(&at), c.f(a), high)
			at.m[id].Value = a.m[id].Value
			if !math.IsNaN(d) && d != 0 {
				slopes[k], moves = d/step, true
			}
		}
		if moves {
			m.ids = append(m.ids, id)
			m.b = append(m.b, slopes) // by reading for now
		}
	}
	m.s = make([][]float64, len(m.ids))
	for i, one := range m.ids {
		m.s[i] = make([]float64, len(m.ids))
		for j, other := range m.ids {
			x, y := &a.m[one], &a.m[other]
			_, su := x.split()
			_, sv := y.split()
			switch {
			case i == j:
				// A reading without an error would leave nothing to adjust.
				m.s[i][i] = x.U*x.U + 1e-12*math.Max(1, x.Value*x.Value)
			case x.Shared != "" && x.Shared == y.Shared:
				m.s[i][j] = su * sv
			}
		}
	}
	return m
}

func (m *adjustment) solve() {
	n := len(m.held)
	m.miss, m.v, m.bs = make([]float64, n), make([][]float64, n), make([][]float64, n)
	for k, c := range m.held {
		m.miss[k] = c.f(m.a)
		m.bs[k] = make([]float64, len(m.ids))
		for j := range m.ids {
			for i := range m.ids {
				m.bs[k][j] += m.b[i][k] * m.s[i][j]
			}
		}
	}
	for k := range m.held {
		m.v[k] = make([]float64, n)
		for l := range m.held {
			for j := range m.ids {
				m.v[k][l] += m.bs[k][j] * m.b[j][l]
			}
		}
		u := m.held[k].u(m.a)
		m.v[k][k] += u * u
	}
	m.weight = solveLinear(m.v, m.miss)
}

func (m *adjustment) report() Reconciliation {
	var out Reconciliation
	for k, c := range m.held {
		out.Conditions = append(out.Conditions, Condition{c.name, c.of, m.miss[k], math.Sqrt(m.v[k][k]), c.unit})
		out.ChiSquare += m.miss[k] * m.weight[k]
	}
	out.P = distuv.ChiSquared{K: float64(len(m.held))}.Survival(out.ChiSquare)
	largest := 0.0
	for i, id := range m.ids {
		column := make([]float64, len(m.held))
		change := 0.0
		for k := range m.held {
			column[k] = m.bs[k][i]
			change -= m.bs[k][i] * m.weight[k]
		}
		variance := 0.0
		for k, w := range solveLinear(m.v, column) {
			variance += w * column[k]
		}
		x := Adjusted{ID: id, Measured: m.a.m[id], Value: m.a.m[id].Value + change, U: math.Sqrt(math.Max(0, m.s[i][i]-variance))}
		if variance > leastSaid*m.s[i][i] {
			x.Adjustment = change / math.Sqrt(variance)
		}
		largest = math.Max(largest, math.Abs(x.Adjustment))
		out.Readings = append(out.Readings, x)
	}
	if out.P < misfitLevel {
		for _, x := range out.Readings {
			if math.Abs(x.Adjustment) > 0.98*largest {
				out.Misfits = append(out.Misfits, x.ID)
			}
		}
	}
	return out
}

// solveLinear solves a symmetric positive definite system of a few unknowns by elimination with pivoting; a row that is the same as
// another (a condition that says nothing new) counts once.
func solveLinear(a [][]float64, b []float64) []float64 {
	n := len(b)
	m := make([][]float64, n)
	for i := range m {
		m[i] = append(append([]float64(nil), a[i]...), b[i])
	}
	x := make([]float64, n)
	pivots := make([]int, 0, n)
	for k := range n {
		best := -1
		for i := len(pivots); i < n; i++ {
			if best < 0 || math.Abs(m[i][k]) > math.Abs(m[best][k]) {
				best = i
			}
		}
		if best < 0 || math.Abs(m[best][k]) <= 1e-12*math.Abs(a[k][k]) {
			continue
		}
		row := len(pivots)
		m[row], m[best] = m[best], m[row]
		pivots = append(pivots, k)
		for i := range n {
			if i == row {
				continue
			}
			f := m[i][k] / m[row][k]
			for j := k; j <= n; j++ {
				m[i][j] -= f * m[row][j]
			}
		}
	}
	for row, k := range pivots {
		x[k] = m[row][n] / m[row][k]
	}
	return x
}
