package treat

import (
	"fmt"
	"math"
	"math/bits"
	"slices"
	"sort"
	"strings"

	"wj/water"
)

// Solution is what Solve found.
type Solution struct {
	Plan       Plan // ready to be predicted, recorded or scaled
	Prediction *Prediction
	Doses      []Dose
	Results    []Result
	// Bindings says what holds the result back where a limit is missed; empty where all are met.
	Bindings []Binding
	// Outside and Inside are the cost of what is proposed; OutsideExact and InsideExact before shares and doses were rounded.
	Outside, Inside, OutsideExact, InsideExact float64
	Tried                                      int // sets of goods that were solved
	// Chance that the limits are kept, and Guard, the standard uncertainties by which they were moved inward to find the doses.
	Chance Chance
	Guard  float64
	// Equal lists other sets of no more goods that would do as well: no dearer than a tenth, and kept with nearly the same guard.
	Equal [][]string
}

// Met reports whether every limit of the target is kept.
func (s *Solution) Met() bool {
	for _, r := range s.Results {
		if r.Missed != 0 {
			return false
		}
	}
	return true
}

// Result is one value of the target in the answer.
type Result struct {
	Target Target
	Value  water.Value
	// Range is the value with its interval, over all that solids may do, and Chance that the limits of this target are kept.
	Range  Range
	Chance float64
	// Missed is how far the value lies outside its range, with its sign, in its unit; 0 inside.
	Missed float64
	// Margin is the distance to the nearest limit in standard uncertainties, negative outside; NaN without limit or
	// uncertainty.
	Margin float64
	Words  string
}

// Binding is one thing that holds the result back.
type Binding struct {
	What string // "share of ro-permeate", "sulfate", "gypsum", "number of additions"
	// Gain is by what part the remaining distance (outside, squared) would fall for one Step more room, to first order.
	Gain  float64
	Step  string // "1 % of the blend", "1 mg/L", "10 % of the bound"
	Words string
}

// Solve finds shares and doses that bring the waters as near to the target as can be, by quadratic programming and
// enumeration of the sets of additions (see the objective at insideWeight), with the limits moved inward until all are kept
// with the chance that is asked for. It never proposes a negative dose, an acid together with a base, or acid that leaves less
// than 25 mg/L CaCO3 of alkalinity unless the target asks for less. Among answers that are as good it takes fewer additions,
// then less hazardous ones, then cheaper ones. What it proposes has yet to be read, reviewed and signed by a person.
func Solve(p Problem) (*Solution, error) {
	if p.Chance > 0 {
		return solveWithChance(p)
	}
	return solveGuarded(p, p.Guard)
}

// solution solves the model with the margins that it has.
func (m *model) solution() (*Solution, error) {
	p := m.p
	exact, families, err := m.solve()
	if err != nil {
		return nil, err
	}
	rows := families[exact.family].rows
	m.last = exact.x
	rounded, amounts, err := m.round(families[exact.family], exact)
	if err != nil {
		return nil, err
	}
	out := &Solution{OutsideExact: exact.outside, InsideExact: exact.inside}
	out.Outside, out.Inside = m.costs(rows, rounded)
	out.Plan = m.plan(rounded, amounts)
	if p.Sulfite != nil {
		if err := out.Plan.Dechlorinate(*p.Sulfite); err != nil {
			return nil, err
		}
	}
	if out.Prediction, err = Predict(out.Plan); err != nil {
		return nil, err
	}
	if out.Chance, err = out.Prediction.Chance(p.Targets); err != nil {
		return nil, err
	}
	out.leaveIdle(p)
	out.Doses = out.Prediction.Doses
	out.Guard = p.Guard
	for k, t := range p.Targets {
		out.Results = append(out.Results, result(t, out.Chance.Ranges[k], out.Chance.Of[k]))
	}
	used := m.used(rounded)
	if exact.outside > tieOutside {
		if out.Bindings, err = m.bindings(families[exact.family], exact); err != nil {
			return nil, err
		}
	}
	out.Equal = m.equallyGood(families[exact.family], exact, used)
	out.Tried = m.solved
	return out, nil
}

// idleEffect is by how many standard uncertainties a dose must move some value of the target to be worth weighing; idlePart, of its
// most, is how small a dose is looked at.
const (
	idleEffect = 0.1
	idlePart   = 0.05
)

// leaveIdle drops doses that nobody could tell from none: they move no value of the target by a tenth of what it is known to, and
// without them the limits are kept as likely.
func (s *Solution) leaveIdle(p *Problem) {
	for i := len(s.Plan.Additions) - 1; i >= 0; i-- {
		if s.Plan.Additions[i].sulfite() || s.Prediction.Doses[i].Amount > idlePart*s.Prediction.Doses[i].Most {
			continue
		}
		plan := s.Plan
		plan.Additions = slices.Delete(slices.Clone(s.Plan.Additions), i, i+1)
		prediction, err := Predict(plan)
		if err != nil {
			continue
		}
		chance, err := prediction.Chance(p.Targets)
		if err != nil || chance.Wide < math.Min(p.Chance, s.Chance.Wide)-0.002 {
			continue
		}
		idle := true
		for k, t := range p.Targets {
			before, after := s.Chance.Ranges[k], chance.Ranges[k].Value.Value
			outside := (after < t.lowest() || after > t.highest()) && !(before.Value.Value < t.lowest() || before.Value.Value > t.highest())
			idle = idle && !outside && math.Abs(after-before.Value.Value) <= idleEffect*before.U
		}
		if idle {
			s.Plan, s.Prediction, s.Chance = plan, prediction, chance
		}
	}
}

func (m *model) plan(x, amounts []float64) Plan {
	p := Plan{Volume: m.p.Volume, UVolume: m.p.UVolume, Temperature: m.p.Temperature, Open: m.p.Open, EndPoint: m.p.EndPoint, Mash: m.p.Mash, IntoMash: m.p.IntoMash, Settled: m.p.Settled, Trained: m.p.Trained}
	for i, w := range m.p.Waters {
		least := 1e-9
		if w.Least < m.p.ShareStep/2 { // less of a water than a tank or a meter shows is none
			least = math.Max(least, m.p.ShareStep/2)
		}
		if x[i] > least {
			p.Waters = append(p.Waters, Portion{Name: w.Name, Analysis: w.Analysis, Share: x[i], UShare: w.UShare})
		}
	}
	for j, g := range m.shelf {
		if amounts[j] > 0 {
			p.Additions = append(p.Additions, Addition{Product: g, Amount: amounts[j]})
		}
	}
	// Shares below the threshold are given to the largest, so that the sum stays 1.
	sum, largest := 0.0, 0
	for i, w := range p.Waters {
		sum += w.Share
		if w.Share > p.Waters[largest].Share {
			largest = i
		}
	}
	p.Waters[largest].Share += 1 - sum
	return p
}

// round brings shares and doses to the steps of their scales and tries the neighbours, all combinations of rounding down
// and up, and keeps the best. Amounts are for the whole volume.
func (m *model) round(f *family, exact *point) (x, amounts []float64, err error) {
	x = append([]float64(nil), exact.x...)
	if m.p.ShareStep > 0 && len(m.waters) > 1 {
		if x, err = m.roundShares(f, exact); err != nil {
			return nil, nil, err
		}
	}
	n := len(m.waters)
	amounts = make([]float64, len(m.shelf))
	var stepped []int
	for j := range m.shelf {
		if x[n+j] <= 1e-9 {
			x[n+j] = 0
			continue
		}
		amounts[j] = x[n+j] * m.most[j] * m.p.Volume
		if m.shelf[j].Step > 0 {
			stepped = append(stepped, j)
		}
	}
	if len(stepped) == 0 {
		return x, amounts, nil
	}
	if len(stepped) > 10 { // a thousand combinations are enough; the rest is rounded plainly
		stepped = stepped[:10]
	}
	best, bestCost := append([]float64(nil), amounts...), math.Inf(1)
	trial, y := append([]float64(nil), amounts...), append([]float64(nil), x...)
	for combination := range 1 << len(stepped) {
		ok := true
		for b, j := range stepped {
			step := m.shelf[j].Step
			k := math.Floor(amounts[j]/step + 1e-9)
			if combination&(1<<b) != 0 {
				k++
			}
			trial[j] = RoundTo(k*step, step)
			y[n+j] = trial[j] / m.p.Volume / math.Max(m.most[j], 1e-300)
			ok = ok && y[n+j] <= 1+1e-9
		}
		if !ok {
			continue
		}
		outside, inside := m.costs(f.rows, y)
		if cost := outside + insideWeight*inside; cost < bestCost {
			bestCost = cost
			copy(best, trial)
		}
	}
	if math.IsInf(bestCost, 1) {
		return nil, nil, fmt.Errorf("round doses: a step of the scale is larger than the most that may be given; use a finer scale")
	}
	for j := range m.shelf {
		x[n+j] = best[j] / m.p.Volume / math.Max(m.most[j], 1e-300)
	}
	return x, best, nil
}

// roundShares tries every rounding of the shares that adds up to one and solves the doses again for each.
func (m *model) roundShares(f *family, exact *point) ([]float64, error) {
	n, step := len(m.waters), m.p.ShareStep
	q := f.q
	var best []float64
	bestCost := math.Inf(1)
	shares := make([]float64, n)
	for combination := range 1 << n {
		sum, ok := 0.0, true
		for i := range n {
			k := math.Floor(exact.x[i]/step + 1e-9)
			if combination&(1<<i) != 0 {
				k++
			}
			shares[i] = RoundTo(k*step, step)
			if k == 0 {
				shares[i] = 0
			}
			ok = ok && shares[i] >= m.least[i]-1e-9 && shares[i] <= m.largest[i]+1e-9
			sum += shares[i]
		}
		if !ok || math.Abs(sum-1) > 1e-9 {
			continue
		}
		for i := range n {
			q.lo[i], q.hi[i] = shares[i], shares[i]
		}
		for j := range m.shelf {
			q.lo[n+j], q.hi[n+j] = 0, 0
			if exact.x[n+j] > 1e-9 {
				q.hi[n+j] = 1
			}
		}
		q.start()
		if err := q.solve(); err != nil {
			return nil, err
		}
		x := append([]float64(nil), q.x[:n+len(m.shelf)]...)
		outside, inside := m.costs(f.rows, x)
		if cost := outside + insideWeight*inside; cost < bestCost {
			best, bestCost = x, cost
		}
	}
	if best == nil { // the bounds leave no room for round shares
		return append([]float64(nil), exact.x...), nil
	}
	return best, nil
}

// result holds a value against its target, at the end of what solids may do that is farther outside.
func result(t Target, value Range, chance float64) Result {
	r := Result{Target: t, Value: value.Value, Range: value, Chance: chance, Margin: math.NaN()}
	lo, hi, _, scale, _ := t.limits()
	least, most := math.Min(value.None, value.Tank), math.Max(value.None, value.Tank)
	unit := ""
	if u := t.ID.Info().Unit.String(); u != "" {
		unit = " " + u
	}
	// A thousandth of the scale is far below what any meter tells.
	slack := 1e-3 * scale
	number := func(x float64) string { return water.Round(x, 3) }
	v := value.Value.Value
	if most-hi > lo-least {
		v = most
	} else if lo-least > 0 {
		v = least
	}
	if !(v > hi+slack) && !(v < lo-slack) {
		v = value.Value.Value
	}
	switch {
	case v > hi+slack:
		r.Missed = v - hi
		r.Words = fmt.Sprintf("%s %s%s is %s over %s", t.Words(), number(v), unit, number(v-hi), number(hi))
	case v < lo-slack:
		r.Missed = v - lo
		r.Words = fmt.Sprintf("%s %s%s is %s under %s", t.Words(), number(v), unit, number(lo-v), number(lo))
	default:
		r.Words = fmt.Sprintf("%s %s%s is within its range", t.Words(), number(v), unit)
	}
	if r.Missed != 0 && value.Solids() {
		r.Words += fmt.Sprintf(" (%s if nothing settles or dissolves, %s at equilibrium)", number(value.None), number(value.Full))
	}
	if r.Value.U > 0 && (!math.IsNaN(t.Min) || !math.IsNaN(t.Max)) {
		r.Margin = math.Min(least-lo, hi-most) / r.Value.U
	}
	return r
}

// equalCost is by what part an equally good set may be dearer, mostEqual how many are told.
const (
	equalCost = 0.1
	mostEqual = 3
)

// equallyGood lists other sets of no more goods that keep the same limits as nearly, and cost no more than a tenth more, the
// cheapest first. A small change of a reading may turn the answer to one of them.
func (m *model) equallyGood(f *family, exact *point, used uint32) [][]string {
	count := bits.OnesCount32(used)
	if count == 0 || exact.outside > tieOutside || len(m.shelf) > 16 {
		return nil
	}
	_, cost := m.burden(exact)
	limit := bounds{outside: exact.outside + 10*tieOutside, inside: exact.inside + math.Max(m.p.Slack, tieInside)}
	var found []*point
	for set := uint32(1); set < 1<<len(m.shelf); set++ {
		if set&^f.allowed != 0 || set == used || bits.OnesCount32(set) > count {
			continue
		}
		p, err := m.at(f, exact.family, set)
		if err != nil || m.used(p.x) != set || !limit.hold(p) {
			continue
		}
		if _, c := m.burden(p); c > cost*(1+equalCost)+1e-9 {
			continue
		}
		found = append(found, p)
	}
	sort.SliceStable(found, func(a, b int) bool { return m.preferred(found[a], found[b]) })
	var out [][]string
	for _, p := range found[:min(len(found), mostEqual)] {
		var names []string
		for j, g := range m.shelf {
			if p.set&(1<<j) != 0 {
				names = append(names, g.Substance)
			}
		}
		out = append(out, names)
	}
	return out
}

// bindings reads the multipliers of the answer.
func (m *model) bindings(f *family, exact *point) ([]Binding, error) {
	n := len(m.waters)
	delete(f.memory, exact.set)
	if _, err := m.at(f, exact.family, exact.set); err != nil {
		return nil, err
	}
	q := f.q
	q.computeGradient()
	freeSum, freeCount := 0.0, 0
	for i := range n {
		if q.held[i] == 0 {
			freeSum -= q.gradient[i]
			freeCount++
		}
	}
	if freeCount > 0 {
		q.lambda = freeSum / float64(freeCount)
	} else {
		q.settleLambda()
	}
	var out []Binding
	add := func(what, step, words string, gain float64) {
		gain /= exact.outside
		if gain > 1e-4 {
			out = append(out, Binding{What: what, Gain: gain, Step: step,
				Words: fmt.Sprintf("%s; %s more would %s", words, step, nearer(gain))})
		}
	}
	for i, w := range m.p.Waters {
		share := fmt.Sprintf("%.4g %%", 100*q.x[i])
		switch {
		case q.held[i] > 0 && m.largest[i] < 1:
			add("share of "+w.Name, "1 % of the blend", fmt.Sprintf("%s is at its most, %s", w.Name, share), -0.01*q.multiplier(i))
		case q.held[i] < 0 && m.least[i] > 0:
			add("share of "+w.Name, "1 % of the blend", fmt.Sprintf("%s is at its least, %s", w.Name, share), 0.01*q.multiplier(i))
		}
	}
	for j, g := range m.shelf {
		if q.held[n+j] > 0 && q.hi[n+j] > 0 {
			most := m.most[j] * m.p.Volume
			add(g.Substance, "a tenth", fmt.Sprintf("%s is at its most, %s %s (%s)", strings.ReplaceAll(g.Substance, "_", " "), water.Round(most*(1-5e-4), 3), g.Unit, m.why[j]), -0.1*q.multiplier(n+j))
		}
	}
	for k := range f.rows {
		out = m.rowBinding(&f.rows[k], exact, out)
	}
	if full, err := m.at(f, exact.family, f.allowed); err != nil {
		return nil, err
	} else if gain := (exact.outside - full.outside) / exact.outside; gain > 1e-4 {
		allowed := "no additions are allowed"
		if m.p.MaxAdditions > 0 {
			allowed = fmt.Sprintf("no more than %d additions are allowed", m.p.MaxAdditions)
		}
		out = append(out, Binding{What: "number of additions", Gain: gain, Step: "all of the shelf",
			Words: fmt.Sprintf("%s: all that is in stock would %s", allowed, nearer(gain))})
	}
	sort.SliceStable(out, func(a, b int) bool { return out[a].Gain > out[b].Gain })
	return out, nil
}

// nearer is what room would bring, in words.
func nearer(gain float64) string {
	if gain >= 0.995 {
		return "do"
	}
	return fmt.Sprintf("bring the answer %s %% nearer to the limits", water.Round(100*gain, 2))
}

// rowBinding tells of a missed limit, and whether anything on the shelf moves it.
func (m *model) rowBinding(r *row, exact *point, out []Binding) []Binding {
	y := m.value(r, exact.x)
	over := math.Max(y-r.hi, r.lo-y)
	if !(over > 1e-3*r.scale) {
		return out
	}
	side, limit := "least", r.lo
	if y > r.hi {
		side, limit = "most", r.hi
	}
	movable := false
	for j, v := range r.goods {
		movable = movable || m.most[j] > 0 && (y < r.lo && v > 0 || y > r.hi && v < 0)
	}
	for i := range r.waters {
		d := r.waters[i] - y
		movable = movable || exact.x[i] < m.largest[i]-1e-9 && (y < r.lo && d > 1e-9 || y > r.hi && d < -1e-9)
	}
	name := Target{ID: r.id}.Words()
	if r.of >= 0 {
		name = m.p.Targets[r.of].Words()
	}
	if r.of < 0 {
		name = "alkalinity left by the acid"
	}
	b := Binding{What: name, Gain: math.Min(1, 2*r.weight*over/r.scale*0.1/exact.outside), Step: "a tenth of the range's scale"}
	switch {
	case !movable && y > r.hi:
		b.Words = fmt.Sprintf("nothing here lowers %s: more of a water that holds less of it would", name)
	case !movable:
		b.Words = fmt.Sprintf("nothing here raises %s: another salt or water would", name)
	case r.id == water.PHValue || r.id == water.SulfateChlorideRatio:
		b.Words = fmt.Sprintf("the %s of %s pulls against the other limits", side, name)
	default:
		b.Words = fmt.Sprintf("the %s of %s, %s, pulls against the other limits: it is passed by %s", side, name, water.Round(limit, 3), water.Round(over, 3))
	}
	return append(out, b)
}
