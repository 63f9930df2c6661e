package treat

import (
	"fmt"
	"math"
	"slices"

	"wj/water"
	"wj/water/substance"
)

// Supply is a water that may go into the blend, with bounds of its share. Most 0 means 1.
type Supply struct {
	Name        string
	Analysis    *water.Analysis
	Least, Most float64
	UShare      float64
	Price       float64 // of 1000 L, with what is rejected for it; 0 where it is not known
}

// Problem is what Solve is asked.
type Problem struct {
	Waters      []Supply
	Volume      float64 // L
	UVolume     float64
	Temperature float64   // degC; 0 or NaN: the mean of the samples'
	Shelf       []Product // what may be added; several lots of one substance may be here
	Targets     []Target
	Trained     string

	Only    []string // keys of substances; empty: all of the shelf
	Without []string
	// Sulfite takes the chlorine of the blend out first, in a step of its own that MaxAdditions does not count; nil for none. The doses
	// are found for what it leaves: its sulfate, chloride and sodium or potassium, and the alkalinity that it uses.
	Sulfite *Product
	// MaxAdditions bounds how many different goods are used; 0 means no bound, a negative number none at all.
	MaxAdditions int
	// Slack is what an addition less may cost: how much farther from the aims the result may lie, as the weighted sum of
	// squared distances in half-widths of the ranges. A limit is never traded for it. 0 drops additions only where nothing is lost.
	Slack float64
	// Keep names the substances that are dosed now: that set stays where it serves as well and costs no more than a tenth more.
	Keep []string
	// Chance that all limits are kept together, 0.95 say; 0 asks for none, and the answer only tells it.
	Chance float64
	// Guard moves each limit inward by so many standard uncertainties. Solve finds it where a chance is asked for.
	Guard float64
	// Open, EndPoint, Mash, IntoMash and Settled as in Plan.
	Open     bool
	EndPoint float64
	Mash     *Mash
	IntoMash bool
	Settled  Settled
	// ShareStep rounds the shares, 0.01 to whole per cents; 0 leaves them.
	ShareStep float64
}

// PracticalSlack lets one value lie halfway between its aim and the edge of its range where that saves an addition.
const PracticalSlack = 0.25

// The objective. For each target, with y the value, [min, max] its range and s its scale:
//
//	outside = weight ((distance of y from [min, max]) / s)²
//	inside  = weight ((y − aim) / s)²
//
// and the least of outside + insideWeight × inside + tieWeight × Σx² is sought, x being shares and doses as parts of their bounds. The scale is
// half the width of a range with two limits, else a tenth of the limit or aim, but at least the accuracy of a bench test
// (Analyte.Typical). It belongs to the target and not to the meter, so that the same target gives the same dose with any
// meter; what the meter's uncertainty leaves of the margin is told after. Outside counts 100,000 times as much as inside: a
// limit is not given up for an aim.
const (
	insideWeight = 1e-5
	tieWeight    = 1e-10
)

// solverAlkalinity in mg/L CaCO3 is what the solver leaves when it doses acid, above AlkalinityWarning, unless the target
// asks for less.
const (
	solverAlkalinity = 25
	guardWeight      = 100
)

// row is a linear value with its range: y = Σ share × waters + Σ amount per litre × goods.
type row struct {
	id            water.ID
	of            int // index of its target; -1 for the guard of alkalinity
	waters, goods []float64
	lo, hi, aim   float64 // ±Inf, NaN
	scale, weight float64
}

func (r *row) outside(y float64) float64 {
	d := math.Max(0, math.Max(y-r.hi, r.lo-y)) / r.scale
	return r.weight * d * d
}

func (r *row) inside(y float64) float64 {
	if math.IsNaN(r.aim) {
		return 0
	}
	d := (y - r.aim) / r.scale
	return r.weight * d * d
}

// model is a problem in numbers.
type model struct {
	p       *Problem
	c       composition // holds what is absent
	waters  []mixture
	carbons []float64 // mol/L; nil where that of a water is not available
	celsius []float64
	last    []float64 // an answer found before, where rows are made first
	keep    uint32    // the set of Keep; 0 for none
	margins []margin  // by which limits are moved inward, by target
	shelf   []Product
	kinds   []substance.Kind
	hazards []int
	one     []mixture // of a unit of each goods in a litre
	most    []float64 // unit per litre: x = 1
	why     []string
	least   []float64 // of shares
	largest []float64
	curved  bool // some target is not linear
	slopes  map[int]pHSlopes
	solved  int // quadratic problems solved
}

func newModel(p *Problem) (*model, error) {
	if err := p.check(); err != nil {
		return nil, err
	}
	m := &model{p: p}
	plan := Plan{Volume: p.Volume, EndPoint: p.EndPoint}
	for _, w := range p.Waters {
		plan.Waters = append(plan.Waters, Portion{Name: w.Name, Analysis: w.Analysis, Share: 1 / float64(len(p.Waters))})
	}
	c, err := compose(&plan, false)
	if err != nil {
		return nil, err
	}
	m.c, m.waters = *c, c.parts
	if err := m.dechlorinate(); err != nil {
		return nil, err
	}
	for _, w := range p.Waters {
		most := w.Most
		if most == 0 {
			most = 1
		}
		m.least, m.largest = append(m.least, w.Least), append(m.largest, most)
	}
	for _, g := range p.Shelf {
		if err := m.stock(g); err != nil {
			return nil, err
		}
	}
	for j, g := range m.shelf {
		if slices.Contains(p.Keep, g.Substance) {
			m.keep |= 1 << j
		}
	}
	if err := m.carbonate(); err != nil {
		for _, t := range p.Targets {
			if t.pH() || t.Mash {
				return nil, fmt.Errorf("find doses for a pH: %w", err)
			}
		}
	}
	for _, t := range p.Targets {
		m.curved = m.curved || t.pH() || t.Mash || t.ID == water.SulfateChlorideRatio
		if t.Mash && p.Mash == nil {
			return nil, fmt.Errorf("find doses for a mash pH: no grist is given")
		}
	}
	for j := range m.one {
		// What falls out, and what a titration reads of a weak acid, depends on all the rest.
		m.curved = m.curved || m.carbons != nil && (m.one[j][sChalk] > 0 || m.one[j][sLime] > 0)
	}
	return m, nil
}

// carbonate finds temperature and inorganic carbon of each water.
func (m *model) carbonate() error {
	for _, id := range []water.ID{water.Calcium, water.Magnesium, water.Sodium, water.Chloride, water.Sulfate, water.Alkalinity} {
		if reason := m.c.lacks(id); reason != "" {
			return &water.Absent{ID: water.PHValue, Reason: "needs " + id.String() + "; " + reason}
		}
	}
	var carbons, temperatures []float64
	for i := range m.waters {
		carbon, err := inorganicCarbon(m.p.Waters[i].Name, &m.c.known[i], &m.waters[i])
		if err != nil {
			return err
		}
		celsius := sampleTemperature(&m.c.known[i])
		if given(m.p.Temperature) {
			celsius = m.p.Temperature
		}
		carbons, temperatures = append(carbons, carbon), append(temperatures, celsius)
	}
	m.carbons, m.celsius = carbons, temperatures
	return nil
}

// stock puts goods on the model's shelf, unless the options leave them out.
func (m *model) stock(g Product) error {
	p := m.p
	if len(p.Only) > 0 && !slices.Contains(p.Only, g.Substance) || slices.Contains(p.Without, g.Substance) {
		return nil
	}
	s, err := g.Entry()
	if err != nil {
		return fmt.Errorf("find doses: %w", err)
	}
	if s.Kind == substance.Sulfite {
		return fmt.Errorf("find doses: %s takes chlorine out and is dosed for that alone, in a step of its own; see Problem.Sulfite", g.Substance)
	}
	if !(g.HalfWidth >= 0) || g.HalfWidth >= g.Percent {
		return fmt.Errorf("find doses: strength %g ± %g %% of %s does not make sense", g.Percent, g.HalfWidth, g.Substance)
	}
	one, err := contribution(g, g.Percent)
	if err != nil {
		return fmt.Errorf("find doses: %w", err)
	}
	var none mixture
	if one[sAlkalinity] < 0 {
		// An acid may at most take the alkalinity of the most alkaline water.
		for i := range m.waters {
			none[sAlkalinity] = math.Max(none[sAlkalinity], m.waters[i][sAlkalinity])
		}
		if p.IntoMash {
			none[sAlkalinity] += p.Mash.takes()
		}
	}
	most, why := mostPerLitre(g, s, &one, &none)
	if s.MolesOf("calcium") > 0 && s.MolesOf("sulfate") > 0 {
		if moles, err := g.molesPerUnit(g.Percent); err == nil {
			// GypsumWarning is g of the dihydrate, 172.164 g/mol (IUPAC weights). Just below it, so that rounding does not pass it.
			if slow := 0.99 * GypsumWarning / 172.164 / moles; slow < most {
				most, why = slow, "above 1.5 g/L gypsum dissolves too slowly"
			}
		}
	}
	if g.Stock > 0 && g.Stock/p.Volume < most {
		most, why = g.Stock/p.Volume, "no more is in stock"
	}
	m.shelf, m.kinds, m.one = append(m.shelf, g), append(m.kinds, s.Kind), append(m.one, one)
	m.most, m.why, m.hazards = append(m.most, most), append(m.why, why), append(m.hazards, Hazard(g))
	return nil
}

// largest shelf and target list: subsets are kept in the bits of a word, and a screenful is more than anyone weighs.
const (
	mostShelf   = 24
	mostTargets = 24
)

func (p *Problem) check() error {
	if len(p.Waters) == 0 || len(p.Waters) > 8 {
		return fmt.Errorf("find doses: %d waters; name one to eight as basis", len(p.Waters))
	}
	if len(p.Shelf) > mostShelf || len(p.Targets) > mostTargets {
		return fmt.Errorf("find doses: %d products and %d targets are more than the %d and %d allowed", len(p.Shelf), len(p.Targets), mostShelf, mostTargets)
	}
	if len(p.Targets) == 0 {
		return fmt.Errorf("find doses: the target has no ranges")
	}
	if !(p.Slack >= 0) || !(p.ShareStep >= 0 && p.ShareStep <= 0.5) {
		return fmt.Errorf("find doses: slack %g or step of shares %g is out of range", p.Slack, p.ShareStep)
	}
	least, most := 0.0, 0.0
	for _, w := range p.Waters {
		if w.Analysis == nil {
			return fmt.Errorf("find doses: %s has no analysis", w.Name)
		}
		hi := w.Most
		if hi == 0 {
			hi = 1
		}
		if !(w.Least >= 0 && w.Least <= hi && hi <= 1) {
			return fmt.Errorf("find doses: share of %s between %g and %g is not within 0 to 1", w.Name, w.Least, hi)
		}
		least, most = least+w.Least, most+hi
	}
	if least > 1+1e-9 || most < 1-1e-9 {
		return fmt.Errorf("find doses: the shares can only add up to between %.4g and %.4g %%, not to 100 %%", 100*least, 100*most)
	}
	for _, t := range p.Targets {
		if t.ID >= water.NumNames {
			return fmt.Errorf("find doses: target %d is not a value", t.ID)
		}
		if t.Min > t.Max || t.Aim < t.Min || t.Aim > t.Max {
			return fmt.Errorf("find doses: target of %s: min %g, aim %g, max %g are not in order", t.ID, t.Min, t.Aim, t.Max)
		}
		if math.IsNaN(t.Min) && math.IsNaN(t.Max) && math.IsNaN(t.Aim) || math.IsInf(t.Min, 0) || math.IsInf(t.Max, 0) || math.IsInf(t.Aim, 0) {
			return fmt.Errorf("find doses: target of %s has no limit and no aim", t.ID)
		}
		if !(t.Weight >= 0) || t.Weight > 1000 {
			return fmt.Errorf("find doses: weight %g of %s is not within 0 to 1000", t.Weight, t.ID)
		}
	}
	return nil
}

// linear names the values that add up under blending and dosing.
func linear(id water.ID) bool {
	switch id {
	case water.CalciumHardness, water.MagnesiumHardness, water.TotalHardness, water.ResidualAlkalinity, water.CationSum, water.AnionSum:
		return true
	case water.FreeChlorine, water.TotalChlorine:
		return true
	}
	_, ok := slotOf[id]
	return ok
}

// linearRow is the row of a value that adds up.
func (m *model) linearRow(id water.ID, of int) row {
	r := row{id: id, of: of, waters: make([]float64, len(m.waters)), goods: make([]float64, len(m.shelf))}
	for i := range m.waters {
		r.waters[i], _ = m.c.evaluate(id, &m.waters[i])
	}
	for j := range m.one {
		r.goods[j], _ = m.c.evaluate(id, &m.one[j])
	}
	return r
}

// rowsAt makes the rows of all targets. Those of a ratio or a pH are made at a point x, and are exact there; so are all where
// solids fall out or stay undissolved.
func (m *model) rowsAt(x []float64) ([]row, error) {
	var rows []row
	local, err := m.lookAt(x)
	if err != nil {
		return nil, err
	}
	for k, t := range m.p.Targets {
		if reason := m.c.lacks(t.ID); reason != "" && t.ID != water.PHValue {
			return nil, fmt.Errorf("find doses for %s: %w", t.ID, &water.Absent{ID: t.ID, Reason: reason})
		}
		lo, hi, aim, scale, weight := t.limits()
		if m.margins != nil {
			lo, hi = m.margins[k].guarded(lo, hi)
		}
		switch {
		case local != nil && (linear(t.ID) || t.pH() || t.Mash):
			r, err := local.row(t, k)
			if err != nil {
				return nil, err
			}
			r.lo, r.hi, r.aim, r.scale, r.weight = lo, hi, aim, scale, weight
			rows = append(rows, r)
		case linear(t.ID):
			r := m.linearRow(t.ID, k)
			r.lo, r.hi, r.aim, r.scale, r.weight = lo, hi, aim, scale, weight
			rows = append(rows, r)
		case t.ID == water.SulfateChlorideRatio:
			rows = append(rows, m.ratioRows(k, x, lo, hi, aim, scale, weight)...)
		case t.pH():
			r, err := m.pHRow(k, x, lo, hi, aim, scale, weight)
			if err != nil {
				return nil, err
			}
			rows = append(rows, r)
		default:
			return nil, fmt.Errorf("find doses for %s: it does not follow from the ions alone; give limits of ions, alkalinity, residual_alkalinity, hardness, sulfate_chloride_ratio or pH", t.ID)
		}
	}
	return rows, nil
}

// ratioRows writes lo <= SO4/Cl <= hi as SO4 − lo Cl >= 0 and SO4 − hi Cl <= 0, scaled with the chloride at x.
func (m *model) ratioRows(of int, x []float64, lo, hi, aim, scale, weight float64) []row {
	sulfate, chloride := m.linearRow(water.Sulfate, of), m.linearRow(water.Chloride, of)
	at := math.Max(1, m.value(&chloride, x)) // below 1 mg/L a ratio says nothing
	var rows []row
	write := func(ratio, least, most, aim float64) {
		r := m.linearRow(water.Sulfate, of)
		for i := range r.waters {
			r.waters[i] = sulfate.waters[i] - ratio*chloride.waters[i]
		}
		for j := range r.goods {
			r.goods[j] = sulfate.goods[j] - ratio*chloride.goods[j]
		}
		r.id, r.lo, r.hi, r.aim, r.scale, r.weight = water.SulfateChlorideRatio, least, most, aim, scale*at, weight
		rows = append(rows, r)
	}
	if !math.IsInf(lo, 0) {
		write(lo, 0, math.Inf(1), math.NaN())
	}
	if !math.IsInf(hi, 0) {
		write(hi, math.Inf(-1), 0, math.NaN())
	}
	if !math.IsNaN(aim) {
		write(aim, math.Inf(-1), math.Inf(1), 0)
	}
	return rows
}

// mix is the mixture, temperature and inorganic carbon of the waters at a point.
func (m *model) mix(x []float64) (mixed mixture, celsius, carbon float64) {
	n := len(m.waters)
	for i := range m.waters {
		mixed.add(&m.waters[i], x[i])
		if m.carbons != nil {
			carbon += x[i] * m.carbons[i]
			celsius += x[i] * m.celsius[i]
		}
	}
	for j := range m.one {
		mixed.add(&m.one[j], x[n+j]*m.most[j])
	}
	return mixed, celsius, carbon
}

// value is y of a row at a point; doses in x are parts of their most.
func (m *model) value(r *row, x []float64) float64 {
	n := len(m.waters)
	y := 0.0
	for i, v := range r.waters {
		y += v * x[i]
	}
	for j, v := range r.goods {
		y += v * m.most[j] * x[n+j]
	}
	return y
}

// costs are outside and inside at a point.
func (m *model) costs(rows []row, x []float64) (outside, inside float64) {
	for k := range rows {
		y := m.value(&rows[k], x)
		outside += rows[k].outside(y)
		inside += rows[k].inside(y)
	}
	return outside, inside
}

// guarded adds the row that keeps some alkalinity where acid is dosed.
func (m *model) guarded(rows []row) []row {
	least := float64(solverAlkalinity)
	for _, t := range m.p.Targets {
		if t.ID != water.Alkalinity {
			continue
		}
		for _, v := range []float64{t.Min, t.Aim, t.Max} {
			if v < least {
				least = math.Max(0, v)
			}
		}
	}
	r := row{id: water.Alkalinity, of: -1, waters: make([]float64, len(m.waters)), goods: make([]float64, len(m.shelf))}
	for i := range m.waters { // the water's own: what a weak acid gives back to a titration is no buffer
		r.waters[i] = m.waters[i][sAlkalinity]
	}
	for j := range m.one {
		r.goods[j] = m.one[j][sAlkalinity] - 2*m.one[j][sChalk]*equivalentCalcite
	}
	r.lo, r.hi, r.aim, r.scale, r.weight = least, math.Inf(1), math.NaN(), AlkalinityWarning, guardWeight
	return append(slices.Clip(rows), r)
}
