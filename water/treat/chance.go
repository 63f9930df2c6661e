package treat

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"sort"

	"wj/water"
)

// Chance is how likely a treated water keeps the limits of a target, at the worst end of what solids may do.
type Chance struct {
	// All is the chance that every limit is kept together; Wide that of all but the narrow ones.
	All, Wide float64
	// Drawn says that direct draws found another chance than was worked out, by more than two points, and corrected the one here.
	Drawn bool
	// Narrow marks the targets whose range is narrower than two standard uncertainties to each side: no dose keeps such a one
	// with a high chance, so it is centred and told apart.
	Narrow []bool
	// Of is the chance of each target by itself, in their order; 1 where it has no limit.
	Of []float64
	// Ranges are the values with their intervals of 95 %.
	Ranges []Range
	// Doubts names the sources of error by how much of the doubt about the least likely limit they carry, the largest first.
	Doubts []Doubt

	ends []endChance // of the ends that count
}

// endChance is the chance at one end of what solids may do: over all points, and over those of the first hypercube alone.
type endChance struct {
	at                          corner
	all, wide, first, firstWide float64
}

// Doubt is a source of error and its part of a variance.
type Doubt struct {
	Source string
	Part   float64
}

// Chance works out how likely the limits of targets are kept. Each source of error is moved to both sides through the whole
// course, and the chance is counted over the same 2,048 points in every run. The error is *water.Absent where a value cannot be
// had.
func (p *Prediction) Chance(targets []Target) (Chance, error) { return p.chanceOver(targets, 1) }

// chanceOver is Chance over the points of so many hypercubes.
func (p *Prediction) chanceOver(targets []Target, cubes int) (Chance, error) {
	ends := p.ends()
	out := Chance{All: 1, Wide: 1, Narrow: make([]bool, len(targets)), Of: make([]float64, len(targets)), Ranges: make([]Range, len(targets))}
	needsCourse := ends[0].left != (solids{}) || len(ends) > 1
	for k, t := range targets {
		out.Of[k] = 1
		out.Ranges[k] = Range{Value: water.Value{ID: t.ID, Derived: true}, Low: math.Inf(1), High: math.Inf(-1), tank: nowhere()}
		if t.pH() || t.Mash {
			needsCourse = true
			if p.cause != nil {
				return out, p.cause
			}
			if t.Mash {
				if p.Plan.Mash == nil {
					return out, fmt.Errorf("find the chance of a mash pH: no grist is given")
				}
				if err := p.Plan.Mash.check(); err != nil {
					return out, err
				}
			}
		} else if _, err := p.Value(t.ID); err != nil {
			return out, err
		}
	}
	sources := p.errorSources(targets)
	flat := make([]bool, len(sources))
	for i := range sources {
		flat[i] = sources[i].flat
	}
	for n := range ends {
		e := &ends[n]
		v, err := vary(flat, len(targets), func(source int, size float64, values []float64) error {
			var s *doubtful
			if source >= 0 {
				s = &sources[source]
			}
			return p.valuesAt(targets, e, s, size, needsCourse, values)
		})
		if err != nil {
			return out, err
		}
		inside, wide := make([]bool, cubes*drawn), make([]bool, cubes*drawn)
		for i := range inside {
			inside[i], wide[i] = true, true
		}
		worst, least := -1, 1.1
		for k, t := range targets {
			points := v.draw(k, cubes)
			low, high := interval(points)
			r := &out.Ranges[k]
			if n == 0 {
				r.Value.Value, r.Value.U, r.None, r.Full = v.at[k], (high-low)/4, v.at[k], v.at[k]
				out.Narrow[k] = t.Max-t.Min < 4*r.Value.U
			}
			r.Low, r.High = math.Min(r.Low, p.notBelowNone(t.ID, v.at[k], low)), math.Max(r.High, high)
			if e.none {
				r.None = v.at[k]
			}
			if e.full {
				r.Full = v.at[k]
			}
			if e.beyond {
				continue
			}
			r.Tank = v.at[k]
			r.tank.join(low, high)
			kept := 0
			for i, y := range points {
				if y >= t.lowest() && y <= t.highest() {
					kept++
				} else {
					inside[i] = false
					wide[i] = wide[i] && out.Narrow[k]
				}
			}
			of := float64(kept) / float64(len(points))
			out.Of[k] = math.Min(out.Of[k], of)
			if of < least && !out.Narrow[k] {
				worst, least = k, of
			}
		}
		if e.beyond {
			continue
		}
		out.ends = append(out.ends, endChance{e.corner, part(inside), part(wide), part(inside[:drawn]), part(wide[:drawn])})
		out.All = math.Min(out.All, part(inside))
		if all := part(wide); n == 0 || all < out.Wide {
			out.Wide = all
			if worst >= 0 {
				out.Doubts = doubts(v, sources, worst)
			}
		}
	}
	return out, nil
}

// part is the part of points that hold.
func part(holds []bool) float64 {
	n := 0
	for _, ok := range holds {
		if ok {
			n++
		}
	}
	return float64(n) / float64(len(holds))
}

// doubts shares the variance of one value out among the sources.
func doubts(v *variation, sources []doubtful, row int) []Doubt {
	var out []Doubt
	sum := 0.0
	for i := range sources {
		a, b := v.slope[i][row], v.bend[i][row]
		part := a*a + 2*b*b // of a normal variable and its square
		sum += part
		out = append(out, Doubt{sources[i].name, part})
	}
	sort.SliceStable(out, func(a, b int) bool { return out[a].Part > out[b].Part })
	for i := range out {
		out[i].Part /= math.Max(sum, 1e-300)
	}
	for len(out) > 0 && !(out[len(out)-1].Part > 0.02) {
		out = out[:len(out)-1]
	}
	return out
}

// doubtful is a source of error as a chance sees it: one of the waters, shares and doses, or one of the mash.
type doubtful struct {
	name string
	flat bool
	of   *source
	mash mashSource // of the mash alone, -1
	pH   float64    // of the liquor's pH alone: by how much one standard uncertainty moves it
}

func (p *Prediction) errorSources(targets []Target) []doubtful {
	var out []doubtful
	for i := range p.c.sources {
		s := &p.c.sources[i]
		out = append(out, doubtful{s.name, s.flat, s, -1, 0})
	}
	if p.course != nil && slices.ContainsFunc(targets, Target.pH) {
		if doubt, _ := p.c.extrapolated(p.course.celsius); doubt > 0 {
			out = append(out, doubtful{"constants of the hot acid", false, nil, -1, doubt / normal95})
		}
	}
	for _, t := range targets {
		if t.Mash {
			for m := range mashSources {
				out = append(out, doubtful{mashSourceNames[m], m == mashHardness, nil, m, 0})
			}
			break
		}
	}
	return out
}

// valuesAt are the values of targets at a corner, with one source moved.
func (p *Prediction) valuesAt(targets []Target, at *end, s *doubtful, size float64, needsCourse bool, values []float64) error {
	c := p.c
	m, carbon := c.treated, 0.0
	if needsCourse && p.cause == nil {
		carbon = p.course.carbon
		if s != nil && s.of != nil {
			var err error
			if m, carbon, err = c.shift(s.of, p.course, size); err != nil {
				return fmt.Errorf("find chance, with %s moved: %w", s.name, err)
			}
		}
		e, err := follow(&m, p.course.celsius, carbon, p.course.pressure, at.corner)
		if err != nil {
			return fmt.Errorf("find chance: %w", err)
		}
		for k, t := range targets {
			switch {
			case t.Mash:
				moved := mashSource(-1)
				if s != nil {
					moved = s.mash
				}
				if values[k], err = p.Plan.Mash.at(&e.mix, e.closed.Water, moved, size); err != nil {
					return err
				}
			case t.pH():
				if values[k] = e.closed.PH; s != nil {
					values[k] += size * s.pH
				}
			default:
				values[k], _ = c.evaluate(t.ID, &e.mix)
			}
		}
		return nil
	}
	m = at.mix
	if s != nil && s.of != nil {
		m.add(&s.of.delta, size)
	}
	for k, t := range targets {
		values[k], _ = c.evaluate(t.ID, &m)
	}
	return nil
}

// pH reports whether the target is of the liquor's pH.
func (t Target) pH() bool { return t.ID == mashID && !t.Mash }

// mashID is the name of a mash's pH as a value; Target.Mash tells it from the liquor's.
const mashID = water.PHValue

// lowest and highest are the limits of a target; an aim without limits has none.
func (t Target) lowest() float64 {
	if math.IsNaN(t.Min) {
		return math.Inf(-1)
	}
	return t.Min
}

func (t Target) highest() float64 {
	if math.IsNaN(t.Max) {
		return math.Inf(1)
	}
	return t.Max
}

// AskedChance is the chance of keeping every limit that is asked for where nothing else is said.
const AskedChance = 0.95

// guards in standard uncertainties by which limits are moved inward: none, the one-sided 95 %, and further where several
// limits or a lopsided value need more.
var guards = [...]float64{0, 0.8, 1.645, 2.33, 3}

// solveWithChance looks for the answer that keeps all limits with the chance that is asked for: the one with the least guard
// that does, since a wider guard costs additions and nearness to the aims; else the likeliest.
func solveWithChance(p Problem) (*Solution, error) {
	best, err := solveGuarded(p, 0)
	if err != nil || best.Chance.Wide >= p.Chance {
		return best, err
	}
	low := 0.0
	for _, k := range guards[1:] {
		s, err := solveGuarded(p, k)
		if err != nil {
			if errors.Is(err, errNoOptimum) {
				continue
			}
			return nil, err
		}
		if s.better(best) {
			best = s
		}
		if s.Chance.Wide < p.Chance {
			low = k
			continue
		}
		best = s
		for high := k; high-low > 0.25; { // the least guard that does
			middle := (low + high) / 2
			between, err := solveGuarded(p, middle)
			if err == nil && between.Chance.Wide >= p.Chance {
				best, high = between, middle
			} else {
				low = middle
			}
		}
		break
	}
	return best, nil
}

// better reports whether an answer that is not likely enough is yet better than another: it misses less, or is likelier.
func (s *Solution) better(than *Solution) bool {
	a, b := s.Met(), than.Met()
	if a != b {
		return a
	}
	return s.Chance.Wide > than.Chance.Wide+0.005
}

// solveGuarded solves with each limit moved inward by so many standard uncertainties, and by what solids may do to the value.
func solveGuarded(p Problem, guard float64) (*Solution, error) {
	p.Guard = guard
	m, err := newModel(&p)
	if err != nil {
		return nil, err
	}
	m.margins = make([]margin, len(p.Targets))
	var best *Solution
	for range 5 {
		s, err := m.solution()
		if err != nil {
			return nil, err
		}
		if best == nil || s.better(best) {
			best = s
		}
		moved := m.misread(s)
		for k := range p.Targets {
			now := marginOf(s.Chance.Ranges[k], guard)
			_, _, _, scale, _ := p.Targets[k].limits()
			moved = moved || math.Abs(now.low-m.margins[k].low) > 0.02*scale || math.Abs(now.high-m.margins[k].high) > 0.02*scale
			m.margins[k] = now
		}
		if !moved {
			return s, nil
		}
	}
	return best, nil
}

// misread reports whether weak acids give back more to a titration in the answer than where its rows were made, by a tenth of
// a mg/L CaCO3.
func (m *model) misread(s *Solution) bool {
	c := s.Prediction.c
	off := 0.0
	for k := range weakAcids {
		off += math.Abs(c.taken.acids[k]-m.c.taken.acids[k]) * c.treated[weakAcids[k].slot] / weakAcids[k].mass * equivalentCalcite
	}
	return m.carbons != nil && off > 0.1
}

// margin is by how much the limits of a row are moved inward.
type margin struct{ low, high float64 }

// marginOf is so many standard uncertainties on each side, as lopsided as the interval is, and how far the other end of what
// solids may do lies away.
func marginOf(r Range, guard float64) margin {
	point := r.Value.Value
	least, most := math.Min(r.None, r.Tank), math.Max(r.None, r.Tank)
	return margin{
		low:  math.Max(0, point-least) + guard*math.Max(0, least-r.tank.Low)/normal95,
		high: math.Max(0, most-point) + guard*math.Max(0, r.tank.High-most)/normal95,
	}
}

// normal95 is the half-width of the middle 95 % of a normal distribution in standard deviations.
const normal95 = 1.96

// guarded moves the limits of a row inward. Where they would cross, the middle is taken.
func (g margin) guarded(lo, hi float64) (float64, float64) {
	a, b := lo+g.low, hi-g.high
	if a > b {
		middle := (lo + hi + g.low - g.high) / 2
		middle = math.Max(lo, math.Min(hi, middle))
		return middle, middle
	}
	return a, b
}
