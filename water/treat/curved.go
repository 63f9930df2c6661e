package treat

import (
	"fmt"
	"math"

	"wj/water"
	"wj/water/equilibrium"
)

// local is the treated water near a point where solids matter, by differences of the whole course at the end that is shown.
type local struct {
	m          *model
	here       *end
	waters     []*end // a thousandth of the blend replaced by each water
	goods      []*end // a thousandth of its most more of each of the goods
	x          []float64
	step, dose float64
}

// lookAt follows the course at a point; nil where no solids matter there.
func (m *model) lookAt(x []float64) (*local, error) {
	if m.carbons == nil {
		return nil, nil
	}
	mixed, celsius, carbon := m.mix(x)
	pressure := 0.0
	if m.p.Open {
		pressure = equilibrium.AirCarbonDioxide
	}
	plain, err := follow(&mixed, celsius, carbon, pressure, corner{})
	if err != nil {
		return nil, fmt.Errorf("find doses: %w", err)
	}
	k := &course{celsius: celsius, carbon: carbon, pressure: pressure, endPoint: m.c.plan.TitratedTo()}
	if m.c.taken, err = protonsTaken(&plain.closed.Water, k); err != nil {
		return nil, err
	}
	at := cornersAt(plain.index, &mixed, m.p.Settled)[0]
	if at == (corner{}) && plain.left == (solids{}) && pressure == 0 && !m.solidGoods() && m.p.Mash == nil {
		return nil, nil
	}
	l := &local{m: m, x: x, step: 1e-3, dose: 1e-3}
	try := func(v mixture, celsius, carbon float64) (*end, error) {
		e, err := follow(&v, celsius, carbon, pressure, at)
		return &e, err
	}
	if l.here, err = try(mixed, celsius, carbon); err != nil {
		return nil, fmt.Errorf("find doses: %w", err)
	}
	blend, _, _ := m.mix(append(append([]float64{}, x[:len(m.waters)]...), make([]float64, len(m.shelf))...))
	for i := range m.waters {
		v := mixed
		v.add(&m.waters[i], l.step)
		v.add(&blend, -l.step)
		e, err := try(v, celsius+l.step*(m.celsius[i]-celsius), carbon+l.step*(m.carbons[i]-carbon))
		if err != nil {
			return nil, fmt.Errorf("find doses: %w", err)
		}
		l.waters = append(l.waters, e)
	}
	for j := range m.one {
		v := mixed
		v.add(&m.one[j], l.dose*m.most[j])
		e, err := try(v, celsius, carbon)
		if err != nil {
			e = l.here // more of it has no answer: it is not moved from here
		}
		l.goods = append(l.goods, e)
	}
	return l, nil
}

// solidGoods reports whether the shelf holds what falls out or stays undissolved.
func (m *model) solidGoods() bool {
	for j := range m.one {
		if m.most[j] > 0 && (m.one[j][sChalk] > 0 || m.one[j][sLime] > 0) {
			return true
		}
	}
	return false
}

// row is a value by its slopes; the constant is laid into the shares, which add up to one.
func (l *local) row(t Target, of int) (row, error) {
	m := l.m
	var failed error
	value := func(e *end) float64 {
		if t.Mash {
			v, err := m.p.Mash.at(&e.mix, e.closed.Water, -1, 0)
			if err != nil {
				failed = err
			}
			return v
		}
		if t.pH() {
			return e.closed.PH
		}
		v, _ := m.c.evaluate(t.ID, &e.mix)
		return v
	}
	r := row{id: t.ID, of: of, waters: make([]float64, len(m.waters)), goods: make([]float64, len(m.shelf))}
	here := value(l.here)
	rest := here
	for j, e := range l.goods {
		if m.most[j] > 0 {
			r.goods[j] = (value(e) - here) / (l.dose * m.most[j])
			rest -= r.goods[j] * m.most[j] * l.x[len(m.waters)+j]
		}
	}
	for i, e := range l.waters {
		r.waters[i] = rest + (value(e)-here)/l.step
	}
	if failed != nil {
		return r, fmt.Errorf("find doses: %w", failed)
	}
	return r, nil
}

// pHSlopes says how the total alkalinity that belongs to a pH moves: with the pH (scale, for the width of its range), with inorganic
// carbon and with weak acids, mg/L CaCO3 per mol/L.
type pHSlopes struct {
	scale     float64
	perCarbon float64
	perAnion  [len(weakAcids)]float64
}

// pHRow turns a range of pH into one of total alkalinity. In a closed water pH and alkalinity determine each other once
// the other totals are known, and alkalinity adds up where pH does not. The slopes are taken into the row, so that renewing it at the
// answer settles in a few rounds.
func (m *model) pHRow(of int, x []float64, lo, hi, aim, scale, weight float64) (row, error) {
	r := m.linearRow(water.Calcium, of)
	r.id, r.weight = water.PHValue, weight
	mixed, celsius, carbon := m.mix(x)
	start := mixed.totals(celsius, carbon)
	middle := aim
	if math.IsNaN(middle) {
		if middle = lo; math.IsInf(lo, 0) {
			middle = hi
		}
	}
	slopes, ok := m.slopes[of]
	if !ok {
		var err error
		if slopes, err = m.findSlopes(start, middle, scale); err != nil {
			return r, err
		}
		if m.slopes == nil {
			m.slopes = map[int]pHSlopes{}
		}
		m.slopes[of] = slopes
	}
	moves := func(v *mixture, carbon float64) float64 {
		y := v[sAlkalinity] - slopes.perCarbon*(carbon+v[sCarbon]/1000)
		for k := range weakAcids {
			y -= slopes.perAnion[k] * v[weakAcids[k].slot] / weakAcids[k].mass / 1000
		}
		return y
	}
	for i := range m.waters {
		r.waters[i] = moves(&m.waters[i], m.carbons[i])
	}
	for j := range m.one {
		r.goods[j] = moves(&m.one[j], 0)
	}
	offset := m.value(&r, x) - mixed[sAlkalinity]
	var limits [3]float64
	for k, pH := range []float64{lo, hi, aim} {
		v, err := alkalinityOf(start, pH)
		if err != nil {
			return r, err
		}
		limits[k] = v + offset
	}
	r.lo, r.hi, r.aim, r.scale = limits[0], limits[1], limits[2], slopes.scale
	return r, nil
}

// alkalinityOf is the total alkalinity, mg/L CaCO3, that a closed water with these totals has at a pH. No limit and no aim
// stay what they are.
func alkalinityOf(w equilibrium.Water, pH float64) (float64, error) {
	if math.IsInf(pH, 0) || math.IsNaN(pH) {
		return pH, nil
	}
	alkalinity, err := equilibrium.AlkalinityAt(w, pH)
	if err != nil {
		return 0, fmt.Errorf("find doses for pH %g: %w", pH, err)
	}
	return alkalinity * 1000 * equivalentCalcite, nil
}

func (m *model) findSlopes(start equilibrium.Water, pH, scale float64) (s pHSlopes, err error) {
	base, err := alkalinityOf(start, pH)
	if err != nil {
		return s, err
	}
	above, err := alkalinityOf(start, pH+scale)
	if err != nil {
		return s, err
	}
	s.scale = math.Max(above-base, 0.1)
	const step = 1e-4 // mol/L
	slope := func(change func(*equilibrium.Water)) (float64, error) {
		w := start
		change(&w)
		v, err := alkalinityOf(w, pH)
		return (v - base) / step, err
	}
	if s.perCarbon, err = slope(func(w *equilibrium.Water) { w.InorganicCarbon += step }); err != nil {
		return s, err
	}
	for k := range weakAcids {
		used := false
		for j := range m.one {
			used = used || m.one[j][weakAcids[k].slot] > 0
		}
		if !used {
			continue
		}
		if s.perAnion[k], err = slope(func(w *equilibrium.Water) { *w.Total(weakAcids[k].name) += step }); err != nil {
			return s, err
		}
	}
	return s, nil
}

// Rounds of renewing the rows of curved targets.
const (
	warmRounds = 4  // before the goods are chosen: nearly right rows are enough
	lastRounds = 40 // with the goods chosen
)

// solveCurved settles the rows with all goods, chooses the goods on those rows, and settles again with them. Between curved
// targets there may be more than one resting point: the best one met is taken, measured by its own exact rows. So an answer
// with curved targets is exact where all limits are met, and otherwise near: the scale of a missed pH or ratio moves with the dose.
func (m *model) solveCurved(families []*family, most int) (*point, []*family, error) {
	_, warm, err := m.settle(families, warmRounds, func(families []*family) (*point, error) {
		var best *point
		for which, f := range families {
			p, err := m.at(f, which, f.allowed)
			if err != nil {
				return nil, err
			}
			if best == nil || p.cost < best.cost {
				best = p
			}
		}
		return best, nil
	})
	if err != nil {
		return nil, nil, err
	}
	p, err := m.search(warm, most)
	if err != nil {
		return nil, nil, err
	}
	set, which := m.used(p.x), p.family
	m.slopes = nil // once more, at the new place
	rows, err := m.rowsAt(p.x)
	if err != nil {
		return nil, nil, err
	}
	return m.settle(m.families(rows), lastRounds, func(families []*family) (*point, error) { return m.at(families[which], which, set) })
}

// settle renews the curved rows until the answer stays where its rows were made; after a few rounds it goes only part of the way,
// lest it swing between two places. It returns the best answer that it met, with the rows made there.
func (m *model) settle(families []*family, rounds int, answer func([]*family) (*point, error)) (*point, []*family, error) {
	var best *point
	var bestFamilies []*family
	var at []float64
	length := 1.0
	for n := range rounds {
		p, err := answer(families)
		if err != nil {
			return nil, nil, err
		}
		moved := math.Inf(1)
		if at != nil {
			moved = 0
			for i := range p.x {
				moved = math.Max(moved, math.Abs(p.x[i]-at[i]))
			}
		}
		next := append([]float64(nil), p.x...)
		if n >= 5 && moved >= 1e-6 {
			length *= 0.8
			for i := range next {
				next[i] = at[i] + length*(p.x[i]-at[i])
				if p.x[i] == 0 && next[i] < 1e-5 {
					next[i] = 0
				}
			}
		}
		rows, err := m.rowsAt(next)
		if err != nil {
			return nil, nil, err
		}
		families = m.families(rows)
		reached := &point{x: next, set: p.set, family: p.family}
		reached.outside, reached.inside = m.costs(families[p.family].rows, next)
		reached.cost = reached.outside + insideWeight*reached.inside
		if best == nil || reached.cost < best.cost {
			best, bestFamilies = reached, families
		}
		if moved < 1e-6 {
			break
		}
		at = next
	}
	return best, bestFamilies, nil
}
