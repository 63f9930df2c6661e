package treat

import (
	"fmt"
	"math"
	"strings"
	"sync"

	"wj/water"
)

// Prediction is what a plan makes of its waters: the part that adds up exactly. Equilibrate gives pH and saturation.
type Prediction struct {
	Plan Plan
	// Doses are the plan's additions with all that a dose must carry.
	Doses []Dose
	// Assumptions lists in words what was taken for granted.
	Assumptions []string

	c     *composition
	after mixture // treated, with chlorine and sulfite reacted

	once    sync.Once
	reached []end
	course  *course
	cause   error // why there is no course

	balanced   sync.Once
	balance    *Equilibrium
	balanceErr error

	ranges sync.Map // water.ID to ranged
}

// ranged is what Range found.
type ranged struct {
	r   Range
	err error
}

// Predict works out a plan: ions, alkalinity, residual alkalinity and ratios, each with its standard uncertainty. It costs
// some ten microseconds for two waters and three additions.
func Predict(p Plan) (*Prediction, error) {
	p.Waters = append([]Portion(nil), p.Waters...)
	p.Additions = append([]Addition(nil), p.Additions...)
	out := &Prediction{Plan: p}
	c, err := compose(&out.Plan, true)
	if err != nil {
		return nil, err
	}
	out.c, out.after = c, c.treated.dechlorinated()
	for _, a := range out.Plan.Additions {
		// The upper bound of an addition counts what the others bring.
		one, err := contribution(a.Product, a.Percent)
		if err != nil {
			return nil, err
		}
		others := c.treated
		others.add(&one, -a.Amount/p.Volume)
		if p.IntoMash && p.Mash != nil {
			others[sAlkalinity] += p.Mash.takes()
		}
		d, err := newDose(a, p.Volume, &others)
		if err != nil {
			return nil, err
		}
		out.Doses = append(out.Doses, d)
	}
	out.assume()
	return out, nil
}

func (p *Prediction) assume() {
	for _, w := range p.Plan.Waters {
		if len(p.Plan.Waters) > 1 && w.UShare > 0 {
			p.Assumptions = append(p.Assumptions, fmt.Sprintf("share of %s %.4g ± %.2g %%", w.Name, 100*w.Share, 200*w.UShare))
		}
	}
	if p.Plan.UVolume > 0 && len(p.Plan.Additions) > 0 {
		p.Assumptions = append(p.Assumptions, fmt.Sprintf("volume ± %.2g %%", 173*p.Plan.UVolume/p.Plan.Volume))
	}
	p.Assumptions = append(p.Assumptions, p.c.notes...)
	if p.c.by[sSodium] != "" {
		p.Assumptions = append(p.Assumptions, "sodium of "+p.c.by[sSodium])
	}
	if p.c.by[sPotassium] != "" {
		p.Assumptions = append(p.Assumptions, "potassium is "+p.c.by[sPotassium])
	}
	if s := p.Plan.Settled; s.Batches > 0 {
		p.Assumptions = append(p.Assumptions, fmt.Sprintf("calcite goes %.0f to %.0f %% of the way to equilibrium, as %d own tanks had it", 100*s.Low, 100*s.High, s.Batches))
	}
	for _, a := range p.Plan.Additions {
		if a.Assumed != "" {
			p.Assumptions = append(p.Assumptions, a.Substance+": "+a.Assumed)
		}
	}
	celsius := p.Plan.Temperature
	if !given(celsius) {
		celsius = 0
		for i := range p.c.known {
			celsius += p.Plan.Waters[i].Share * sampleTemperature(&p.c.known[i])
		}
	}
	_, why := p.c.extrapolated(celsius)
	p.Assumptions = append(p.Assumptions, why...)
	if p.after[sLactate]+p.after[sCitrate]+p.after[sAcidPhate] > 0 {
		p.Assumptions = append(p.Assumptions, fmt.Sprintf("alkalinity as a titration to pH %g reads it, with what the weak acid takes up on the way", p.Plan.TitratedTo()))
	}
}

// Value is a value of the treated water in its standard unit with its standard uncertainty, at the end of what solids may
// do that Range calls its point: measured ions, alkalinity as a titration reads it, residual_alkalinity, hardnesses, sums of
// charge, charge_balance, sulfate_chloride_ratio, combined_chlorine. What needs the equilibrium is refused here. The error is
// *water.Absent.
func (p *Prediction) Value(id water.ID) (water.Value, error) {
	e := &p.ends()[0]
	return p.value(id, &e.mix, func(f func(*mixture) float64, at float64) float64 { return e.spread(f, at) })
}

// Blend is a value of the blended waters before anything is added.
func (p *Prediction) Blend(id water.ID) (water.Value, error) {
	return p.value(id, &p.c.blend, p.c.blendSpread)
}

// Range is a value of the treated water with what it may be.
type Range struct {
	water.Value
	Low, High float64 // 95 %, at the lowest and the highest end of what solids may do
	// None and Full are the value where no solid forms or dissolves, and where it does so to equilibrium; Tank is that where it goes as
	// far as it may in the hours that a tank stands, by which limits are judged. The same where nothing does.
	None, Tank, Full float64
	tank             Interval // 95 %, as far as a tank goes
}

// Solids reports whether solids make a difference of more than a hundredth of the interval.
func (r Range) Solids() bool { return math.Abs(r.None-r.Full) > 0.01*(r.High-r.Low) }

// Range is Value with its interval of 95 % over all that solids may do.
func (p *Prediction) Range(id water.ID) (Range, error) {
	if known, ok := p.ranges.Load(id); ok {
		return known.(ranged).r, known.(ranged).err
	}
	r, err := p.findRange(id)
	p.ranges.Store(id, ranged{r, err})
	return r, err
}

func (p *Prediction) findRange(id water.ID) (Range, error) {
	v, err := p.Value(id)
	if err != nil {
		return Range{}, err
	}
	out := Range{Value: v, Low: math.Inf(1), High: math.Inf(-1)}
	ends := p.ends()
	for i := range ends {
		e := &ends[i]
		at, _ := p.c.evaluate(id, &e.mix)
		u := 2 * e.spread(func(m *mixture) float64 { v, _ := p.c.evaluate(id, m); return v }, at)
		out.Low, out.High = math.Min(out.Low, at-u), math.Max(out.High, at+u)
		if e.full {
			out.Full = at
		}
		if !e.beyond {
			out.Tank = at
		}
		if e.none || len(ends) == 1 {
			out.None = at
		}
	}
	if len(ends) == 1 {
		out.Full = out.None
	}
	out.Low = p.notBelowNone(id, out.Value.Value, out.Low)
	return out, nil
}

// notBelowNone keeps the lower end of a concentration at none, unless the value itself says that a reading is wrong. Alkalinity is below
// none where acid uses it up.
func (p *Prediction) notBelowNone(id water.ID, value, low float64) float64 {
	acidified := id == water.Alkalinity && p.after[sAlkalinity] < p.c.blend[sAlkalinity]
	if _, ion := slotOf[id]; ion && !acidified && value >= 0 {
		return math.Max(0, low)
	}
	return low
}

func (p *Prediction) value(id water.ID, m *mixture, spread func(f func(*mixture) float64, at float64) float64) (water.Value, error) {
	if reason := p.c.lacks(id); reason != "" {
		return water.Value{}, &water.Absent{ID: id, Reason: reason}
	}
	v, ok := p.c.evaluate(id, m)
	if !ok {
		return water.Value{}, &water.Absent{ID: id, Reason: "it does not follow from the blend alone; see the equilibrium"}
	}
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return water.Value{}, &water.Absent{ID: id, Reason: "it has no value in this water"}
	}
	out := water.Value{ID: id, Value: v, Derived: true, From: needs(id), Note: p.note(id)}
	out.U = spread(func(m *mixture) float64 { v, _ := p.c.evaluate(id, m); return v }, v)
	return out, nil
}

// Acid is the anion that weak acids bring, "lactate", "citrate" or "phosphate" (as PO4), or "sulfite" (as SO3) that is
// left of a metabisulfite, in mg/L with its standard uncertainty.
func (p *Prediction) Acid(anion string) (value, u float64) {
	at := slot(-1)
	for i := range weakAcids {
		if weakAcids[i].name == anion {
			at = weakAcids[i].slot
		}
	}
	if anion == "sulfite" {
		at = sSulfite
	}
	if at < 0 {
		return 0, 0
	}
	read := func(m *mixture) float64 { r := m.dechlorinated(); return r[at] }
	e := &p.ends()[0]
	value = read(&e.mix)
	return value, e.spread(read, value)
}

// ownAlkalinity is the total alkalinity of the treated water, mg/L CaCO3, without what weak acids give back to a titration;
// ok is false where it is not known.
func (p *Prediction) ownAlkalinity() (v float64, ok bool) {
	if p.c.lacks(water.Alkalinity) != "" {
		return 0, false
	}
	m := p.ends()[0].mix.dechlorinated()
	return m[sAlkalinity], true
}

// IonBalance returns the sums of charge of the treated water in meq/L, anions of acids among them. Treating keeps their
// difference: that of the result is that of the analyses, plus nothing.
func (p *Prediction) IonBalance() (cations, anions float64) {
	return p.after.cations(), p.after.anions()
}

func (p *Prediction) note(id water.ID) string {
	var notes []string
	for _, n := range needs(id) {
		if s, ok := slotOf[n]; ok && p.c.by[s] != "" {
			notes = append(notes, p.c.by[s])
		}
	}
	return strings.Join(notes, "; ")
}

// blendSpread adds the changes that the sources make of the blend in quadrature; those of doses have no part in it.
func (c *composition) blendSpread(f func(*mixture) float64, at float64) float64 {
	e := end{mix: c.blend}
	for i := range c.sources {
		if s := &c.sources[i]; len(s.readings) > 0 || s.share >= 0 {
			e.deltas = append(e.deltas, s.delta)
		}
	}
	return e.spread(f, at)
}

// needs lists the base values that a value depends on.
func needs(id water.ID) []water.ID {
	switch id {
	case water.CalciumHardness:
		return []water.ID{water.Calcium}
	case water.MagnesiumHardness:
		return []water.ID{water.Magnesium}
	case water.TotalHardness:
		return []water.ID{water.Calcium, water.Magnesium}
	case water.ResidualAlkalinity, water.CarbonateHardness, water.NoncarbonateHardness:
		return []water.ID{water.Alkalinity, water.Calcium, water.Magnesium}
	case water.SulfateChlorideRatio:
		return []water.ID{water.Sulfate, water.Chloride}
	case water.CombinedChlorine:
		return []water.ID{water.TotalChlorine, water.FreeChlorine}
	case water.CationSum:
		return []water.ID{water.Calcium, water.Magnesium, water.Sodium}
	case water.AnionSum:
		return []water.ID{water.Alkalinity, water.Chloride, water.Sulfate}
	case water.ChargeBalance:
		return []water.ID{water.Calcium, water.Magnesium, water.Sodium, water.Alkalinity, water.Chloride, water.Sulfate}
	}
	return []water.ID{id}
}

// lacks says why a value is not available, "" where it can.
func (c *composition) lacks(id water.ID) string {
	for _, n := range needs(id) {
		s, ok := slotOf[n]
		if ok && c.absent[s] != "" {
			return c.absent[s]
		}
	}
	if id == water.ChargeBalance && c.by[sSodium] != "" {
		// With sodium by difference the balance is zero by construction.
		return "sodium was not measured in every water (" + c.by[sSodium] + ")"
	}
	return ""
}

// evaluate is a value of a mixture; ok is false for what a mixture does not tell.
func (c *composition) evaluate(id water.ID, before *mixture) (v float64, ok bool) {
	m := before.dechlorinated()
	if s, found := slotOf[id]; found {
		switch id {
		case water.Alkalinity:
			return m.alkalinity(&c.taken), true
		case water.Phosphate:
			return m[s] + m[sAcidPhate], true
		}
		return m[s], true
	}
	switch id {
	case water.CalciumHardness:
		return m.calciumHardness(), true
	case water.MagnesiumHardness:
		return m.magnesiumHardness(), true
	case water.TotalHardness:
		return m.calciumHardness() + m.magnesiumHardness(), true
	case water.ResidualAlkalinity:
		return m.residualAlkalinity(&c.taken), true
	case water.CarbonateHardness: // SM 2340 A
		return math.Min(m.calciumHardness()+m.magnesiumHardness(), m.alkalinity(&c.taken)), true
	case water.NoncarbonateHardness:
		return math.Max(0, m.calciumHardness()+m.magnesiumHardness()-m.alkalinity(&c.taken)), true
	case water.SulfateChlorideRatio:
		if m[sChloride] <= 0 {
			return math.NaN(), true
		}
		return m[sSulfate] / m[sChloride], true
	case water.CombinedChlorine:
		return m[sTotalChlorine] - m[sFreeChlorine], true
	case water.CationSum:
		return m.cations(), true
	case water.AnionSum:
		return m.anions(), true
	case water.ChargeBalance: // SM 1030 E
		cations, anions := m.cations(), m.anions()
		return 100 * (cations - anions) / (cations + anions), true
	}
	return 0, false
}
