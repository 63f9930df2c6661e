package lint

import (
	"fmt"
	"math"

	"wj/journal"
	"wj/water"
	"wj/water/equilibrium"
	"wj/water/substance"
)

// mixture is the liquor that a change makes: the blend of its basis waters,
// then what is added, in mg/L (alkalinity in mg/L CaCO3). It is plain arithmetic
// by volume; nothing precipitates and no gas is lost.
type mixture struct {
	litres       float64
	blend, after map[string]float64 // by the name of the constituent
	acid, base   bool
	acidOf       []string
	sulfite      string
}

// blended are the constituents that mix by volume.
var blended = []water.ID{water.Calcium, water.Magnesium, water.Sodium, water.Potassium, water.Chloride, water.Sulfate, water.Alkalinity, water.TotalChlorine, water.FreeChlorine}

// massCaCO3Equivalent is mg of CaCO3 in a milliequivalent: 100.086/2 (IUPAC
// 2021).
const massCaCO3Equivalent = 50.043

// mix computes the liquor of a change; ok is false where volume or basis are
// not known. Constituents that a basis water lacks are left out of blend and
// after.
func (p *Pass) mix(c *journal.Change) (m mixture, ok bool) {
	litres, err := c.Volume.In(water.Litre)
	if err != nil || litres <= 0 || len(c.Basis) == 0 {
		return m, false
	}
	m = mixture{litres: litres, blend: map[string]float64{}, after: map[string]float64{}}
	var a water.Analysis
	for _, id := range blended {
		sum, whole := 0.0, true
		for _, b := range c.Basis {
			s, found := p.Journal.Sessions.Get(b.Session)
			if !found || b.Share.Unit != water.Percent {
				return m, false
			}
			p.Journal.Analysis(s, &a)
			v := a.Number(id)
			if measured, has := a.Measured(id); has && measured.Bound == water.Below {
				v = 0 // permeate under the range of the kit: at most its share of that
			}
			if math.IsNaN(v) && allBelow(&a, id) {
				v = 0
			}
			if math.IsNaN(v) {
				whole = false
				break
			}
			sum += b.Share.Value / 100 * v
		}
		if whole {
			m.blend[id.String()] = sum
		}
	}
	for name, v := range m.blend {
		m.after[name] = v
	}
	for i := range c.Add {
		add := &c.Add[i]
		sub, known := substance.ByKey(add.Substance)
		if !known {
			continue
		}
		switch sub.Kind {
		case substance.Acid:
			m.acid, m.acidOf = true, append(m.acidOf, sub.Key)
		case substance.Base:
			m.base = true
		case substance.Sulfite:
			m.sulfite = sub.Key
		}
		moles, err := p.moles(add, sub)
		if err != nil {
			continue // additive/form tells it
		}
		for _, ion := range sub.Ions {
			if mass, known := substance.IonMass(ion.Name); known {
				if _, measured := m.after[ion.Name]; measured || onlyAdded(ion.Name) {
					m.after[ion.Name] += 1000 * moles * ion.Moles * mass / litres
				}
			}
		}
		if _, measured := m.after["alkalinity"]; measured {
			m.after["alkalinity"] += 1000 * moles * sub.Alkalinity * massCaCO3Equivalent / litres
		}
	}
	return m, true
}

// onlyAdded reports constituents that no water holds before they are added.
func onlyAdded(name string) bool {
	return name == "lactate" || name == "citrate" || name == "sulfite" || name == "phosphate"
}

// allBelow reports whether a derived value cannot be had because the readings
// behind it lie below their ranges, as in permeate.
func allBelow(a *water.Analysis, id water.ID) bool {
	below := func(x water.ID) bool {
		m, ok := a.Measured(x)
		return ok && m.Bound == water.Below
	}
	switch id {
	case water.Calcium:
		return below(water.CalciumHardness)
	case water.Magnesium, water.Sodium:
		return below(water.TotalHardness)
	}
	return false
}

// moles is the amount of the pure substance in an addition, mol.
func (p *Pass) moles(a *journal.Addition, sub substance.Substance) (float64, error) {
	text := a.Strength
	assay := a.Assay
	if lot, ok := p.Journal.Lots.Get(a.Lot); ok {
		if text == "" {
			text = lot.Strength
		}
		if assay.Unit.IsNone() {
			assay = lot.Assay
		}
	}
	strength, stated := parseStrength(text)
	if a.Amount.Unit.Family() == water.Volume {
		if !stated {
			return 0, fmt.Errorf("the strength is not known")
		}
		litres, err := a.Amount.In(water.Litre)
		if err != nil {
			return 0, err
		}
		return sub.MolesInMillilitres(1000*litres, strength)
	}
	grams, err := a.Amount.In(water.Gram)
	if err != nil {
		return 0, err
	}
	percent := sub.Assay
	switch {
	case stated:
		if percent, err = sub.WeightPercent(strength); err != nil {
			return 0, err
		}
	case sub.Liquid:
		return 0, fmt.Errorf("the strength is not known")
	case assay.Unit == water.Percent && assay.Value > 0:
		// Dihydrate sold drier than its formula has an assay above 100 %.
		return grams * assay.Value / 100 / sub.MolarMass(), nil
	}
	return sub.MolesInGrams(grams, percent)
}

// pHAfter is the pH of the liquor before any gas is lost, from the pH and
// alkalinity of each basis water and all that is added (package equilibrium).
// ok is false where a basis lacks a reading that it rests on.
func (p *Pass) pHAfter(c *journal.Change, m mixture) (pH float64, ok bool) {
	var parts []equilibrium.Part
	var a water.Analysis
	for _, b := range c.Basis {
		s, _ := p.Journal.Sessions.Get(b.Session)
		p.Journal.Analysis(s, &a)
		w := equilibrium.Water{Temperature: 20}
		if a.Has(water.SampleTemperature) {
			w.Temperature = a.Number(water.SampleTemperature)
		}
		alkalinity := a.Number(water.Alkalinity)
		if !a.Has(water.PHValue) || math.IsNaN(alkalinity) {
			if share := b.Share.Value / 100; share > 0 && allSoft(&a) {
				parts = append(parts, equilibrium.Part{Water: w, Volume: share})
				continue
			}
			return 0, false
		}
		for _, id := range blended[:6] {
			if v := a.Number(id); v > 0 {
				if total := w.Total(id.String()); total != nil {
					*total = v / 1000 / id.Info().MolarMass
				}
			}
		}
		w.Alkalinity = alkalinity / massCaCO3Equivalent / 1000
		solution, err := equilibrium.SpeciateAt(w, a.Number(water.PHValue))
		if err != nil {
			return 0, false
		}
		parts = append(parts, equilibrium.Part{Water: solution.Water, Volume: b.Share.Value / 100})
	}
	mixed, err := equilibrium.Blend(parts...)
	if err != nil {
		return 0, false
	}
	for i := range c.Add {
		sub, known := substance.ByKey(c.Add[i].Substance)
		if !known {
			continue
		}
		moles, err := p.moles(&c.Add[i], sub)
		if err != nil {
			return 0, false
		}
		perLitre := moles / m.litres
		for _, ion := range sub.Ions {
			if total := mixed.Total(ion.Name); total != nil {
				*total += perLitre * ion.Moles
			}
		}
		mixed.Alkalinity += perLitre * sub.Alkalinity
		mixed.InorganicCarbon += perLitre * sub.InorganicCarbon
	}
	solution, err := equilibrium.Speciate(mixed)
	if err != nil {
		return 0, false
	}
	return solution.PH, true
}

// allSoft reports a water whose alkalinity lies below the kit's range.
func allSoft(a *water.Analysis) bool {
	m, ok := a.Measured(water.Alkalinity)
	return ok && m.Bound == water.Below && m.Value <= 20
}

// eachMix calls do for every change that is not void and whose liquor can be
// computed.
func (p *Pass) eachMix(do func(c *journal.Change, m mixture)) {
	for _, c := range p.Journal.Changes.List {
		if c.Void != nil {
			continue
		}
		if m, ok := p.mix(c); ok {
			do(c, m)
		}
	}
}
