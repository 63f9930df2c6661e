package treat

import (
	"math"
	"math/bits"

	"wj/water/substance"
)

// point is an answer of the model for one set of goods.
type point struct {
	x               []float64 // shares, then doses as parts of their most
	set             uint32    // goods allowed
	cost            float64   // outside + insideWeight × inside
	outside, inside float64
	family          int
}

// family is a set of goods among which acid and base never meet, with its rows.
type family struct {
	allowed uint32
	rows    []row
	q       *quadratic
	memory  map[uint32]*point
}

// families splits the shelf: without acid, and with acid but without base. Acid and base in one change undo each other.
func (m *model) families(rows []row) []*family {
	var acids, bases, all uint32
	for j, kind := range m.kinds {
		all |= 1 << j
		switch kind {
		case substance.Acid:
			acids |= 1 << j
		case substance.Base:
			bases |= 1 << j
		}
	}
	list := []*family{{allowed: all &^ acids, rows: rows}}
	if acids != 0 {
		guarded := rows
		if !m.p.IntoMash {
			guarded = m.guarded(rows)
		}
		list = append(list, &family{allowed: all &^ bases, rows: guarded})
	}
	for _, f := range list {
		f.q = m.quadratic(f.rows)
		f.memory = map[uint32]*point{}
	}
	return list
}

// quadratic writes the rows as a quadratic problem. The distance of y from a range is the least distance of y from a z
// within it, so each row with limits brings a variable z with those limits, and the whole is a bounded least-squares problem.
func (m *model) quadratic(rows []row) *quadratic {
	n := len(m.waters) + len(m.shelf)
	q := newQuadratic(n+len(rows), len(m.waters))
	a := make([]float64, n)
	for k := range rows {
		r := &rows[k]
		for i, v := range r.waters {
			a[i] = v / r.scale
		}
		for j, v := range r.goods {
			a[len(m.waters)+j] = v * m.most[j] / r.scale
		}
		z := n + k
		q.lo[z], q.hi[z] = r.lo/r.scale, r.hi/r.scale
		limited := !math.IsInf(r.lo, 0) || !math.IsInf(r.hi, 0)
		outside, inside := 2*r.weight, 0.0
		if !limited {
			outside = 0
			q.lo[z], q.hi[z] = 0, 0
		}
		if !math.IsNaN(r.aim) {
			inside = 2 * r.weight * insideWeight
		}
		for i := range n {
			for j := range n {
				q.h[i*q.n+j] += (outside + inside) * a[i] * a[j]
			}
			q.h[i*q.n+z] -= outside * a[i]
			q.h[z*q.n+i] -= outside * a[i]
			if inside > 0 {
				q.g[i] -= inside * a[i] * r.aim / r.scale
			}
		}
		q.h[z*q.n+z] += outside
	}
	steepest := 0.0
	for i := range q.n {
		steepest = math.Max(steepest, q.h[i*q.n+i])
	}
	for i := range n {
		q.h[i*q.n+i] += 2*tieWeight + 1e-15*steepest // the second part stays above rounding
	}
	for i := range m.waters {
		q.lo[i], q.hi[i] = m.least[i], m.largest[i]
	}
	return q
}

// at solves for a set of goods; answers are remembered.
func (m *model) at(f *family, which int, set uint32) (*point, error) {
	set &= f.allowed
	if known, ok := f.memory[set]; ok {
		return known, nil
	}
	q, n := f.q, len(m.waters)
	for j := range m.shelf {
		q.lo[n+j], q.hi[n+j] = 0, 0
		if set&(1<<j) != 0 && m.most[j] > 0 {
			q.hi[n+j] = 1
		}
	}
	for i := range m.waters {
		q.lo[i], q.hi[i] = m.least[i], m.largest[i]
	}
	q.start()
	if err := q.solve(); err != nil {
		return nil, err
	}
	m.solved++
	out := &point{x: append([]float64(nil), q.x[:n+len(m.shelf)]...), set: set, family: which}
	out.outside, out.inside = m.costs(f.rows, out.x)
	out.cost = out.outside + insideWeight*out.inside
	f.memory[set] = out
	return out, nil
}

// used counts the goods that a point doses.
func (m *model) used(x []float64) (set uint32) {
	for j := range m.shelf {
		if x[len(m.waters)+j] > 1e-9 {
			set |= 1 << j
		}
	}
	return set
}

// Differences that count as a tie.
const (
	tieOutside = 5e-7
	tieInside  = 1e-4
)

// search finds the best point with at most `most` additions, then the fewest additions that do as well within the slack,
// then the least hazardous and the cheapest among those. Dropping goods never lowers the cost, so a set whose superset is too dear
// is never looked at.
func (m *model) search(families []*family, most int) (*point, error) {
	var best *point
	for which, f := range families {
		p, err := m.best(f, which, 0, f.allowed, most, best)
		if err != nil {
			return nil, err
		}
		if best == nil || p != nil && p.cost < best.cost {
			best = p
		}
	}
	if best == nil {
		return nil, errNoOptimum
	}
	limit := bounds{outside: best.outside + tieOutside + 1e-10*best.outside, inside: best.inside + m.p.Slack + math.Min(tieInside*(1+best.inside), 0.04)}
	limit.cost = limit.outside + insideWeight*limit.inside
	for count := 0; count <= min(most, len(m.shelf)); count++ {
		var chosen *point
		for which, f := range families {
			if err := m.fewest(f, which, 0, f.allowed, count, limit, &chosen); err != nil {
				return nil, err
			}
		}
		if chosen != nil {
			return chosen, nil
		}
	}
	return best, nil
}

// bounds are what a set must not pass to count as good as the best.
type bounds struct{ outside, inside, cost float64 }

func (b bounds) hold(p *point) bool { return p.outside <= b.outside && p.inside <= b.inside }

// best is branch and bound over the sets between taken and taken|open.
func (m *model) best(f *family, which int, taken, open uint32, most int, incumbent *point) (*point, error) {
	relaxed, err := m.at(f, which, taken|open)
	if err != nil {
		return nil, err
	}
	if incumbent != nil && relaxed.cost >= incumbent.cost-1e-13 {
		return incumbent, nil
	}
	if used := m.used(relaxed.x); bits.OnesCount32(used|taken) <= most {
		return relaxed, nil
	}
	if bits.OnesCount32(taken) >= most {
		return m.better(f, which, taken, incumbent)
	}
	// Branch on the open goods that the relaxed answer leans on most: its dose as a part of its most.
	pick, largest := -1, -1.0
	for rest := open; rest != 0; rest &= rest - 1 {
		j := bits.TrailingZeros32(rest)
		if v := relaxed.x[len(m.waters)+j]; v > largest {
			pick, largest = j, v
		}
	}
	if pick < 0 {
		return incumbent, nil
	}
	bit := uint32(1) << pick
	if incumbent, err = m.best(f, which, taken|bit, open&^bit, most, incumbent); err != nil {
		return nil, err
	}
	return m.best(f, which, taken, open&^bit, most, incumbent)
}

func (m *model) better(f *family, which int, set uint32, incumbent *point) (*point, error) {
	p, err := m.at(f, which, set)
	if err != nil {
		return nil, err
	}
	if incumbent == nil || p.cost < incumbent.cost {
		return p, nil
	}
	return incumbent, nil
}

// fewest looks for sets of exactly count goods that hold the bounds and keeps the least hazardous, cheapest, nearest.
func (m *model) fewest(f *family, which int, taken, open uint32, count int, limit bounds, chosen **point) error {
	if bits.OnesCount32(taken) == count {
		p, err := m.at(f, which, taken)
		if err == nil && limit.hold(p) && (*chosen == nil || m.preferred(p, *chosen)) {
			*chosen = p
		}
		return err
	}
	if bits.OnesCount32(taken|open) < count {
		return nil
	}
	relaxed, err := m.at(f, which, taken|open)
	if err != nil || relaxed.cost > limit.cost {
		return err
	}
	bit := open & -open
	if err := m.fewest(f, which, taken|bit, open&^bit, count, limit, chosen); err != nil {
		return err
	}
	return m.fewest(f, which, taken, open&^bit, count, limit, chosen)
}

// preferred orders sets of the same size: what is dosed now, unless it costs a tenth more; else less hazardous, then cheaper,
// then nearer to the aims.
func (m *model) preferred(a, b *point) bool {
	ha, ca := m.burden(a)
	hb, cb := m.burden(b)
	if m.keep != 0 {
		now, then := m.used(a.x) == m.keep, m.used(b.x) == m.keep
		if now != then && math.Max(ca, cb) <= (1+equalCost)*math.Min(ca, cb) {
			return now
		}
	}
	if ha != hb {
		return ha < hb
	}
	if math.Abs(ca-cb) > 1e-9*(ca+cb) {
		return ca < cb
	}
	return a.cost < b.cost
}

func (m *model) burden(p *point) (hazard int, cost float64) {
	for i := range m.waters {
		cost += p.x[i] * m.p.Volume / 1000 * m.p.Waters[i].Price
	}
	for j, g := range m.shelf {
		if v := p.x[len(m.waters)+j]; v > 1e-9 {
			hazard += m.hazards[j]
			cost += v * m.most[j] * m.p.Volume / 1000 * g.Price
		}
	}
	return hazard, cost
}

// solve finds the answer, with curved targets settled, and the families that it was found in.
func (m *model) solve() (*point, []*family, error) {
	most := m.p.MaxAdditions
	switch {
	case most < 0:
		most = 0
	case most == 0:
		most = len(m.shelf)
	}
	n := len(m.waters) + len(m.shelf)
	x := m.last // where an answer was found before
	if x == nil {
		q := newQuadratic(n, len(m.waters))
		copy(q.lo, m.least)
		copy(q.hi, m.largest)
		q.start()
		x = q.x
	}
	rows, err := m.rowsAt(x)
	if err != nil {
		return nil, nil, err
	}
	families := m.families(rows)
	if !m.curved {
		p, err := m.search(families, most)
		return p, families, err
	}
	return m.solveCurved(families, most)
}
