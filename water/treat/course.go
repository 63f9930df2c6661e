package treat

import (
	"fmt"
	"math"

	"wj/water"
	"wj/water/equilibrium"
)

// The course of a dose, from totals to what a brewer measures: mix; add the doses, chalk as a solid; set the temperature;
// keep the carbon dioxide, or let it go to that of the air; let solids form or dissolve; read.
//
// How far solids get in a tank is no matter of probability but of time, stirring and seed: it is told as a range, from none to
// equilibrium, in parts of the way between. How far it gets in the hours that a tank stands is opinion, kept here as data (common practice,
// no source): up to a saturation index of quietIndex nothing forms; from there to lustyIndex up to a part that grows with it; above anything.
// Chances count that; intervals reach to equilibrium. What forms less than leastFormed is not told. Lime that is stirred and settled gets
// at least leastSettled of the way. Chalk dissolves as much as it can, or not at all. A brewery's own readings narrow the range
// (Plan.Settled).
const (
	quietIndex   = 0.3
	lustyIndex   = 1.0
	leastSettled = 0.7
	leastFormed  = 1.0 // mg/L CaCO3, under what a drop of a titration reads
)

// Standard uncertainties of solubility products, log10: of calcite 8.48 ± 0.02 (Plummer & Busenberg 1982); of gypsum that by which
// compilations differ, 5 % in what dissolves (wateq4f.dat and phreeqc.dat of PHREEQC 3).
const (
	uCalcite = 0.01
	uGypsum  = 0.02
)

// corner is one end of what solids may do: the part of the way to equilibrium that forms, and that dissolves.
type corner struct{ forms, dissolves float64 }

// course is what leads there.
type course struct {
	celsius  float64
	carbon   float64   // mol/L of the blend
	carbons  []float64 // of each water
	pressure float64   // of CO2 in atm; 0: closed
	endPoint float64   // pH of the titration
}

// end is a treated water at one corner, with what each source of error changes there.
type end struct {
	corner
	mix        mixture // dissolved
	deltas     []mixture
	closed     equilibrium.Solution // of the water as it is: closed, or open where the plan says so
	index      float64              // of calcite, before any forms
	left       solids
	none, full bool // the corner where as little happens as may; where all does
	beyond     bool // equilibrium, where no tank gets in the hours that it stands: in every interval, and in no chance
}

// solids in mmol/L at the bottom: formed, or never dissolved.
type solids struct{ calcite, chalk, gypsum, brucite float64 }

// spread adds the changes that every source makes in quadrature.
func (e *end) spread(f func(*mixture) float64, at float64) float64 {
	sum := 0.0
	for i := range e.deltas {
		moved := e.mix
		moved.add(&e.deltas[i], 1)
		if d := f(&moved) - at; !math.IsNaN(d) && !math.IsInf(d, 0) {
			sum += d * d
		}
	}
	return math.Sqrt(sum)
}

// ends are the treated water at each corner that applies, the point first. Where the waters' pH or an ion is not known
// nothing forms and no chalk dissolves.
func (p *Prediction) ends() []end {
	p.once.Do(func() {
		if p.course, p.cause = p.c.course(); p.cause == nil {
			p.reached, p.cause = p.c.reach(p.course)
		}
		if p.cause != nil {
			e := end{mix: p.c.treated, none: true, full: true}
			e.mix.takeCalcite(e.mix[sChalk])
			e.left.chalk, e.mix[sChalk] = e.mix[sChalk], 0
			for i := range p.c.sources {
				e.deltas = append(e.deltas, p.c.sources[i].delta)
			}
			p.reached = []end{e}
		}
	})
	return p.reached
}

// course finds temperature and inorganic carbon.
func (c *composition) course() (*course, error) {
	for _, id := range []water.ID{water.Calcium, water.Magnesium, water.Sodium, water.Chloride, water.Sulfate, water.Alkalinity} {
		if reason := c.lacks(id); reason != "" {
			return nil, &water.Absent{ID: water.PHValue, Reason: "needs " + id.String() + "; " + reason}
		}
	}
	out := &course{carbons: make([]float64, len(c.known)), endPoint: c.plan.TitratedTo()}
	for i := range c.known {
		w := &c.plan.Waters[i]
		if w.Share == 0 {
			continue
		}
		var err error
		if out.carbons[i], err = inorganicCarbon(w.Name, &c.known[i], &c.parts[i]); err != nil {
			return nil, err
		}
		out.celsius += w.Share * sampleTemperature(&c.known[i])
		out.carbon += w.Share * out.carbons[i]
	}
	if given(c.plan.Temperature) {
		out.celsius = c.plan.Temperature
	}
	if c.plan.Open {
		out.pressure = equilibrium.AirCarbonDioxide
	}
	return out, nil
}

// reach follows the treated water to each corner.
func (c *composition) reach(k *course) ([]end, error) {
	plain, err := follow(&c.treated, k.celsius, k.carbon, k.pressure, corner{})
	if err != nil {
		return nil, err
	}
	if err := c.titrate(&plain.closed.Water, k); err != nil {
		return nil, err
	}
	corners := cornersAt(plain.index, &c.treated, c.plan.Settled)
	if at := corners[len(corners)-1]; len(corners) > 1 && corners[0] == (corner{}) {
		most, err := follow(&c.treated, k.celsius, k.carbon, k.pressure, at)
		if err != nil {
			return nil, err
		}
		if most.left.calcite*massCalcite < leastFormed {
			corners = corners[:1]
		}
	}
	out := make([]end, len(corners))
	var held solids
	for i, at := range corners {
		e := &out[i]
		if *e, err = follow(&c.treated, k.celsius, k.carbon, k.pressure, at); err != nil {
			return nil, err
		}
		held.calcite = math.Max(held.calcite, e.left.calcite+(c.treated[sChalk]-e.left.chalk))
		held.gypsum = math.Max(held.gypsum, e.left.gypsum)
	}
	c.solubilities(held)
	for i, at := range corners {
		e := &out[i]
		e.beyond = i == 2
		e.none, e.full = i == len(corners)-1 && len(corners) > 1 && corners[0].forms == 1 || at == corner{}, at.forms == 1 && (at.dissolves == 1 || c.treated[sChalk] == 0)
		if e.left == (solids{}) && c.treated[sChalk] == 0 && k.pressure == 0 {
			e.mix = c.treated
			for j := range c.sources {
				e.deltas = append(e.deltas, c.sources[j].delta)
			}
			continue
		}
		for j := range c.sources {
			moved, sign, err := c.moved(&c.sources[j], k, at, 1)
			if err != nil {
				return nil, err
			}
			var delta mixture
			delta.add(&moved.mix, sign)
			delta.add(&e.mix, -sign)
			e.deltas = append(e.deltas, delta)
		}
	}
	return out, nil
}

// solubilities adds the solubility products of what forms or dissolves as sources of error.
func (c *composition) solubilities(held solids) {
	add := func(name string, at slot, u float64) {
		s := source{name: name, share: -1}
		s.delta[at] = u
		c.sources = append(c.sources, s)
	}
	if held.calcite > 0 {
		add("solubility of calcite", sCalciteOff, uCalcite)
	}
	if held.gypsum > 0 {
		add("solubility of gypsum", sGypsumOff, uGypsum)
	}
}

// cornersAt lists the ends of what solids may do, the one that is shown as the point first: equilibrium where lime or chalk
// was dosed, else as little as may be.
func cornersAt(index float64, m *mixture, settled Settled) []corner {
	switch {
	case m[sChalk] > 0:
		return []corner{{1, 1}, {}}
	case m[sLime] > 0 && index > 0:
		return []corner{{1, 0}, {leastSettled, 0}}
	case !(index > quietIndex):
		return []corner{{}}
	case settled.Batches == 0 && index < lustyIndex:
		return []corner{{}, {(index - quietIndex) / (lustyIndex - quietIndex), 0}, {1, 0}}
	case settled.Batches > 0:
		return []corner{{settled.Low, 0}, {settled.High, 0}}
	}
	return []corner{{}, {1, 0}}
}

// follow takes a mixture with the inorganic carbon of its waters, mol/L, to a corner.
func follow(before *mixture, celsius, carbon, pressure float64, at corner) (out end, err error) {
	out = end{corner: at, mix: before.dechlorinated()}
	m := &out.mix
	chalk := m[sChalk]
	m.takeCalcite(chalk)
	m[sChalk], out.left.chalk = 0, chalk
	solve := func() (equilibrium.Solution, error) {
		w := m.totals(celsius, math.Max(0, carbon))
		if pressure > 0 {
			return equilibrium.EquilibrateCO2(w, pressure)
		}
		return equilibrium.Speciate(w)
	}
	if out.closed, err = solve(); err != nil {
		return out, fmt.Errorf("find pH of the treated water: %w", err)
	}
	out.index = out.closed.CalciteSaturation
	defer func() {
		if pressure > 0 { // what the air took or gave
			m[sMoved] += 1000*(out.closed.Water.InorganicCarbon-carbon) - m[sCarbon]
		}
	}()
	hold := equilibrium.Solids(0)
	if (out.closed.CalciteSaturation > m[sCalciteOff] || chalk > 0) && (at.forms > 0 || at.dissolves > 0) {
		hold |= equilibrium.Calcite
	}
	if out.closed.GypsumSaturation > m[sGypsumOff] && m[sGypsum] > 0 {
		hold |= equilibrium.GypsumSolid
	}
	if hold == 0 {
		return out, nil
	}
	d, err := deposit(out.closed.Water, hold, pressure, m[sLime] > 0, equilibrium.Offset{Calcite: m[sCalciteOff], Gypsum: m[sGypsumOff]})
	if err != nil {
		return out, fmt.Errorf("find what solids make of the treated water: %w", err)
	}
	calcite := 1000 * d.Calcite
	if calcite < 0 {
		calcite = -math.Min(chalk, -calcite) * at.dissolves
		out.left.chalk += calcite
	} else {
		calcite *= at.forms
		out.left.calcite = calcite
	}
	m.takeCalcite(calcite)
	if out.left.gypsum = math.Max(0, math.Min(1000*d.Gypsum, m[sGypsum])); out.left.gypsum > 0 {
		m.takeGypsum(out.left.gypsum)
	}
	if out.left.brucite = 1000 * d.Brucite * at.forms; out.left.brucite > 0 {
		m.takeBrucite(out.left.brucite)
	}
	if out.closed, err = solve(); err != nil {
		return out, fmt.Errorf("find pH of the treated water: %w", err)
	}
	return out, nil
}

// deposit finds the solids of a water at equilibrium. Magnesium hydroxide joins where lime supersaturates it; a solid that
// would have to dissolve, without there being any, leaves (but calcite: chalk may be there).
func deposit(w equilibrium.Water, hold equilibrium.Solids, pressure float64, limed bool, off equilibrium.Offset) (equilibrium.Deposit, error) {
	d, err := equilibrium.HoldSolidsAt(w, hold, pressure, off)
	if err != nil {
		return d, err
	}
	if limed && d.Solution.BruciteSaturation > 0 {
		if both, err := equilibrium.HoldSolidsAt(w, hold|equilibrium.Brucite, pressure, off); err == nil && both.Brucite > 0 {
			d = both
			hold |= equilibrium.Brucite
		}
	}
	if hold&equilibrium.GypsumSolid != 0 && d.Gypsum < 0 {
		return equilibrium.HoldSolidsAt(w, hold&^equilibrium.GypsumSolid, pressure, off)
	}
	return d, nil
}

// moved follows the treated water with one source of error moved by its standard uncertainty times a size; sign is that of
// the move that had an answer. A moved reading moves the inorganic carbon that its water's pH and alkalinity stand for.
func (c *composition) moved(s *source, k *course, at corner, size float64) (e end, sign float64, err error) {
	for _, sign = range []float64{1, -1} {
		m, carbon, lacks := c.shift(s, k, sign*size)
		if err = lacks; err != nil {
			continue
		}
		if e, err = follow(&m, k.celsius, carbon, k.pressure, at); err == nil {
			return e, sign, nil
		}
	}
	return e, 0, fmt.Errorf("find uncertainty from %s: %w", s.name, err)
}

// shift is the treated mixture and its inorganic carbon with a source moved by so many standard uncertainties.
func (c *composition) shift(s *source, k *course, size float64) (m mixture, carbon float64, err error) {
	return c.shiftAll([]*source{s}, k, []float64{size})
}

// shiftAll is shift of several sources together.
func (c *composition) shiftAll(sources []*source, k *course, sizes []float64) (m mixture, carbon float64, err error) {
	m, carbon = c.treated, k.carbon
	for n, s := range sources {
		m.add(&s.delta, sizes[n])
		if s.share >= 0 {
			carbon += sizes[n] * c.plan.Waters[s.share].UShare * (k.carbons[s.share] - k.carbons[c.fill])
		}
	}
	for i := range c.known {
		a, touched := c.known[i], false
		for n, s := range sources {
			for _, r := range s.readings {
				if r.water == i && sizes[n] != 0 {
					a, touched = shifted(a, r.id, sizes[n]), true
				}
			}
		}
		if !touched {
			continue
		}
		part := c.read(i, &a, false)
		again, err := inorganicCarbon(c.plan.Waters[i].Name, &a, &part)
		if err != nil {
			return m, 0, err
		}
		carbon += c.plan.Waters[i].Share * (again - k.carbons[i])
	}
	return m, carbon, nil
}

// titrate finds what the treated water takes to the end point of a titration, and how much more of it than the raw waters.
func (c *composition) titrate(treated *equilibrium.Water, k *course) (err error) {
	if c.taken, err = protonsTaken(treated, k); err != nil {
		return err
	}
	raw := c.blend.totals(k.celsius, math.Max(0, k.carbon))
	before, err := protonsTaken(&raw, k)
	c.treated[sEnd] = c.taken.free - before.free
	return err
}

// protonsTaken counts the protons that the weak acids take up on the way to the end point in the treated water, at the
// temperature of a bench and with the chloride of the titrant.
func protonsTaken(of *equilibrium.Water, k *course) (taken, error) {
	w := *of
	w.Temperature = assumedTemperature
	w.Chloride += math.Max(0, w.Alkalinity)
	const trace = 1e-9 // mol/L of what is not there yet: the solver asks before it doses
	w.Lactate, w.Citrate, w.Phosphate, w.InorganicCarbon = math.Max(w.Lactate, trace), math.Max(w.Citrate, trace), math.Max(w.Phosphate, trace), math.Max(w.InorganicCarbon, trace)
	protons, err := equilibrium.ProtonsTaken(w, k.endPoint)
	if err != nil {
		return inPureWater(k.endPoint), fmt.Errorf("read the alkalinity of the treated water: %w", err)
	}
	return taken{[...]float64{protons.Lactate, protons.Citrate, protons.Phosphate}, protons.Carbon, 1000 * protons.Free}, nil
}
