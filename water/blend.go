package water

import (
	"fmt"
	"math"
	"slices"

	"wj/water/equilibrium"
)

// Part is a water in a blend: its analysis, its share of the volume (0.4 for
// 40 %) and the standard uncertainty with which that share was metered. Each
// ShareU is an error of its own, for which the other waters make room: give 0 to
// the water that tops the tank up.
type Part struct {
	Analysis *Analysis
	Share    float64
	ShareU   float64
}

// Blend is several waters mixed without gas exchange. Concentrations,
// alkalinity and hardness mix by volume; pH and what rests on it are solved for
// the mixture. Uncertainties are carried from the readings of the parts, so that
// a lot or meter that several of them share counts as the one error it is, and
// shares too much of one water are too little of the others.
type Blend struct {
	parts   []Part
	water   []Analysis // of each part, with numbers where only some parts know a bound
	bounded idSet      // analytes that some parts know only as a bound
}

// conservative lists what mixes by volume. Calcium and magnesium are carried by
// the hardnesses, bicarbonate and carbonate by the alkalinity. Turbidity does so
// only nearly.
var conservative = [...]ID{Alkalinity, CalciumHardness, TotalHardness, MagnesiumHardness, Sodium, Potassium, Chloride, Sulfate, Nitrate,
	Nitrite, Ammonium, Fluoride, Phosphate, Silica, Iron, Manganese, Copper, Zinc, FreeChlorine, TotalChlorine, TurbidityValue, SampleTemperature}

// Combine makes a blend. Shares must be 0 or more and add up to 1 within 0.001;
// the rest is spread over them. A value below its range in some parts only is
// taken there as anything from 0 to the limit (GUM 4.3.7); below in all parts it
// stays a bound of the mixture, and above in any it stays one. What a part does
// not have the mixture has not either, sodium by difference excepted. The same
// Analysis given twice is one water with both shares.
func Combine(parts ...Part) (*Blend, error) {
	if len(parts) == 0 {
		return nil, fmt.Errorf("combine waters: there are none")
	}
	sum := 0.0
	for i, p := range parts {
		if p.Analysis == nil {
			return nil, fmt.Errorf("combine waters: water %d has no analysis", i+1)
		}
		if !(p.Share >= 0 && p.Share <= 1.001) || !(p.ShareU >= 0) || math.IsInf(p.ShareU, 0) {
			return nil, fmt.Errorf("combine waters: water %d has share %g ± %g; a share lies between 0 and 1", i+1, p.Share, 2*p.ShareU)
		}
		sum += p.Share
	}
	if math.Abs(sum-1) > 0.001 {
		return nil, fmt.Errorf("combine waters: the shares add up to %s %%, not 100 %%", Round(100*sum, 4))
	}
	b := &Blend{}
	for _, p := range parts {
		p.Share /= sum
		if same := b.find(p.Analysis); same != nil { // one water is not two with errors of their own
			same.Share += p.Share
			same.ShareU = math.Hypot(same.ShareU, p.ShareU)
			continue
		}
		b.parts = append(b.parts, p)
		b.water = append(b.water, *p.Analysis)
	}
	for id := range NumAnalytes {
		if b.someExact(id) {
			b.fill(id)
		}
	}
	return b, nil
}

func (b *Blend) find(a *Analysis) *Part {
	for i := range b.parts {
		if b.parts[i].Analysis == a {
			return &b.parts[i]
		}
	}
	return nil
}

func (b *Blend) someExact(id ID) bool {
	for i := range b.water {
		if b.parts[i].Share > 0 && b.water[i].Has(id) {
			return true
		}
	}
	return false
}

// fill puts numbers for what is below its range.
func (b *Blend) fill(id ID) {
	for i := range b.water {
		if bound, ok := b.water[i].bound(id); ok && bound == Below {
			limit := b.water[i].m[id].Value
			b.water[i].Set(id, Measured{Value: limit / 2, U: math.Abs(limit) / math.Sqrt(12)})
			b.bounded.add(id)
		}
	}
}

// Analysis is the mixture as an analysis of its own: its conservative readings
// with their uncertainties, and its pH where every part has one with an
// alkalinity. The correlations between the readings are lost in it: take
// uncertainties of further values from the blend.
func (b *Blend) Analysis() Analysis {
	mixed := b.mix(b.water, shares(b.parts), true)
	for id := range NumAnalytes {
		if mixed.Has(id) {
			u, _ := b.spread(id == PHValue, func(m *Analysis) float64 { return m.Number(id) }, false)
			mixed.m[id].U = u
		}
	}
	return mixed
}

func shares(parts []Part) []float64 {
	s := make([]float64, len(parts))
	for i := range parts {
		s[i] = parts[i].Share
	}
	return s
}

// mix is the mixture of analyses. Where a part lacks a value, or the value is
// only a bound, the mixture lacks it or has a bound.
func (b *Blend) mix(water []Analysis, share []float64, withPH bool) Analysis {
	var out Analysis
	for _, id := range conservative {
		least, most, bound, known := 0.0, 0.0, Exact, true
		for i := range water {
			if share[i] == 0 {
				continue
			}
			v, bd, ok := part(&water[i], id)
			if !ok {
				known = false
				break
			}
			most += share[i] * v
			if bd != Below {
				least += share[i] * v
			}
			if bd != Exact && bound != Above {
				bound = bd
			}
		}
		switch {
		case !known:
		case bound == Above: // what is below something else adds nothing for sure
			out.Set(id, Measured{Bound: Above, Value: least})
		default:
			out.Set(id, Measured{Bound: bound, Value: most})
		}
	}
	if withPH {
		if pH, ok := mixedPH(water, share); ok {
			out.Set(PHValue, Measured{Value: pH})
		}
	}
	return out
}

// part is the value of one water for mixing: measured, or from its other form.
func part(a *Analysis, id ID) (v float64, b Bound, ok bool) {
	if m, ok := a.Measured(id); ok {
		return m.Value, m.Bound, true
	}
	switch id {
	case Alkalinity, CalciumHardness, MagnesiumHardness, TotalHardness, Sodium:
		r := resolver{a: a}
		v = r.number(id)
		if math.IsNaN(v) {
			if s, ok := a.scaledBound(id); ok {
				return s.Value, s.Bound, true
			}
		}
		return v, Exact, !math.IsNaN(v)
	}
	return 0, Exact, false
}

// mixedPH solves the closed mixture: alkalinity and inorganic carbon add up, pH
// does not.
func mixedPH(water []Analysis, share []float64) (pH float64, ok bool) {
	list := make([]equilibrium.Part, 0, len(water))
	for i := range water {
		if share[i] == 0 {
			continue
		}
		r := resolver{a: &water[i]}
		r.reading(PHValue)
		r.alkalinity()
		if r.lack != 0 {
			return 0, false
		}
		s := r.speciate()
		if s == nil {
			return 0, false
		}
		list = append(list, equilibrium.Part{Water: s.Water, Volume: share[i]})
	}
	w, err := equilibrium.Blend(list...)
	if err != nil {
		return 0, false
	}
	s, err := equilibrium.Speciate(w)
	if err != nil {
		return 0, false
	}
	return s.PH, true
}

// needsPH tells which values of a mixture rest on its pH.
func needsPH(id ID) bool {
	switch id {
	case PHValue, Bicarbonate, Carbonate, CarbonDioxide, IonicStrength, SaturationIndex, ElectricalConductivity:
		return true
	}
	return false
}

// Value is a value of the mixture with its standard uncertainty. From lists the
// readings of the parts that it rests on. The error is *Absent where it cannot
// be had; a charge balance with sodium by difference in any part is none.
func (b *Blend) Value(id ID) (Value, error) {
	mixed := b.mix(b.water, shares(b.parts), needsPH(id))
	v := Value{ID: id, Derived: true}
	if m, ok := mixed.Measured(id); ok {
		v.Value, v.Bound = m.Value, m.Bound
	} else {
		d, err := mixed.Derive(id)
		if err != nil {
			return Value{}, err
		}
		v = d
	}
	if id == ChargeBalance {
		for i := range b.water {
			if b.parts[i].Share > 0 && !b.water[i].Has(Sodium) {
				return Value{}, &Absent{id, fmt.Sprintf("needs sodium measured in every water; in water %d it is by difference", i+1)}
			}
		}
	}
	if v.Bound != Exact {
		return v, nil
	}
	u, budget := b.spread(needsPH(id), func(m *Analysis) float64 { return m.Number(id) }, true)
	v.U = math.Hypot(u, modelUncertainty(id, v.Value))
	var from idSet
	for _, c := range budget {
		if c.ID < NumAnalytes {
			from.add(c.ID)
		}
	}
	v.From = from.list()
	return v, nil
}

// Spread is the standard uncertainty of any function of the mixture, and what it
// is made of: each reading of each part, what several readings share, and the
// shares. The function is given mixtures that differ by one uncertainty; with
// withPH their pH is solved as well, which costs three speciations each.
func (b *Blend) Spread(withPH bool, f func(mixed *Analysis) float64) (u float64, budget []Contribution) {
	return b.spread(withPH, f, true)
}

func (b *Blend) spread(withPH bool, f func(*Analysis) float64, list bool) (u float64, budget []Contribution) {
	share := shares(b.parts)
	work := append([]Analysis(nil), b.water...)
	value := func() float64 {
		m := b.mix(work, share, withPH)
		return f(&m)
	}
	at := value()
	add := func(c Contribution, move func(by float64)) {
		move(1)
		high := value()
		move(-1)
		low := value()
		move(0)
		c.Change = halfDifference(low, at, high)
		if math.IsNaN(c.Change) || c.Change == 0 {
			return
		}
		u = math.Hypot(u, c.Change)
		if list {
			budget = append(budget, c)
		}
	}
	var seen []string
	for p := range work {
		if b.parts[p].Share == 0 {
			continue
		}
		for _, s := range b.water[p].sources(idSet(b.water[p].have)) {
			if s.shared == "" {
				add(Contribution{Part: p, ID: lowest(s.moves)}, func(by float64) { work[p].move(&s, by, &b.water[p]) })
				continue
			}
			if slices.Contains(seen, s.shared) {
				continue
			}
			seen = append(seen, s.shared)
			add(Contribution{Part: -1, ID: NumNames, Shared: s.shared}, func(by float64) { b.moveShared(work, s.shared, by) })
		}
	}
	for p := range share {
		if du := b.parts[p].ShareU; du > 0 {
			add(Contribution{Part: p, ID: NumNames}, func(by float64) { b.moveShare(share, p, by*du) })
		}
	}
	return u, budget
}

// moveShared moves all readings of all parts that share an error.
func (b *Blend) moveShared(work []Analysis, name string, by float64) {
	for p := range work {
		s := source{shared: name}
		for rest := idSet(b.water[p].have); rest != 0; rest &= rest - 1 {
			if id := lowest(rest); b.water[p].m[id].Shared == name {
				s.moves.add(id)
			}
		}
		work[p].move(&s, by, &b.water[p])
	}
}

// moveShare makes one share larger and the others smaller in proportion.
func (b *Blend) moveShare(share []float64, p int, by float64) {
	for i := range share {
		share[i] = b.parts[i].Share
	}
	rest := 1 - share[p]
	if by == 0 || rest <= 0 {
		return
	}
	for i := range share {
		if i == p {
			share[i] += by
		} else {
			share[i] *= (rest - by) / rest
		}
	}
}
