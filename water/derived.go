package water

import (
	"math"
	"strings"
)

// missing collects the readings that a derivation lacks.
type missing struct{ ids []ID }

func (m *missing) reason(a *Analysis) string {
	var parts []string
	for _, id := range m.ids {
		switch r, ok := a.Measured(id); {
		case ok && r.Bound == Below:
			parts = append(parts, id.String()+" is only known to be below "+Round(r.Value, 3))
		case ok && r.Bound == Above:
			parts = append(parts, id.String()+" is only known to be above "+Round(r.Value, 3))
		default:
			parts = append(parts, "needs "+id.String())
		}
	}
	if len(parts) == 0 {
		return "it is measured, not derived"
	}
	return strings.Join(parts, ", ")
}

// Milliequivalents per mg/L (or per mg/L CaCO3): charge over molar mass.
func meqPerUnit(id ID) float64 {
	a := &table[id]
	return a.equivalents() / a.MolarMass
}

// resolver computes derived values of one analysis and notes which readings it
// used. It holds no state between values.
type resolver struct {
	a    *Analysis
	used *uint64
	lack *missing
}

func (a *Analysis) derive(id ID, used *uint64) (float64, *missing) {
	var lack missing
	var mask uint64
	r := resolver{a: a, used: &mask, lack: &lack}
	v := r.derived(id)
	if used != nil {
		*used = mask
	}
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return math.NaN(), &lack
	}
	return v, nil
}

// reading is a measured number, or NaN and a note of what is lacking.
func (r *resolver) reading(id ID) float64 {
	if r.a.Has(id) {
		*r.used |= 1 << id
		return r.a.m[id].Value
	}
	for _, l := range r.lack.ids {
		if l == id {
			return math.NaN()
		}
	}
	r.lack.ids = append(r.lack.ids, id)
	return math.NaN()
}

// optional is a measured number or 0; it is not missed. A result below its
// range counts as none: its contribution is under the limit of the method.
func (r *resolver) optional(id ID) float64 {
	if !r.a.Has(id) {
		return 0
	}
	*r.used |= 1 << id
	return r.a.m[id].Value
}

// either is a reading, or what it can be derived from.
func (r *resolver) either(id ID) float64 {
	if r.a.Has(id) {
		*r.used |= 1 << id
		return r.a.m[id].Value
	}
	return r.derived(id)
}

// derived computes a value from others. Formulas are in the analyte's standard
// units; each carries its source.
func (r *resolver) derived(id ID) float64 {
	switch id {
	case Calcium:
		// One mole of calcium for one of CaCO3 (SM 2340 B).
		return r.reading(CalciumHardness) * massCa / massCaCO3
	case CalciumHardness:
		return r.reading(Calcium) * massCaCO3 / massCa
	case Magnesium:
		if r.a.Has(MagnesiumHardness) {
			return r.reading(MagnesiumHardness) * massMg / massCaCO3
		}
		return r.hardnessDifference() * massMg / massCaCO3
	case MagnesiumHardness:
		if r.a.Has(Magnesium) {
			return r.reading(Magnesium) * massCaCO3 / massMg
		}
		return r.hardnessDifference()
	case TotalHardness:
		return r.totalHardnessFromIons()
	case Sodium:
		return r.sodiumByDifference()
	case ResidualAlkalinity:
		// Kolbach 1953 (Monatsschrift für Brauerei 6): RA = alkalinity − calcium
		// hardness / 3.5 − magnesium hardness / 7, all on one basis.
		return r.alkalinity() - r.calciumHardness()/3.5 - r.magnesiumHardness()/7
	case CarbonateHardness:
		// SM 2340 A: the smaller of total hardness and alkalinity.
		return minOf(r.totalHardness(), r.alkalinity())
	case NoncarbonateHardness:
		return atLeast(0, r.totalHardness()-r.alkalinity())
	case SulfateChlorideRatio:
		chloride := r.reading(Chloride)
		if chloride == 0 {
			return math.NaN()
		}
		return r.reading(Sulfate) / chloride
	case CombinedChlorine:
		return r.reading(TotalChlorine) - r.reading(FreeChlorine)
	case CationSum:
		return r.cations()
	case AnionSum:
		return r.anions()
	case ChargeBalance:
		// SM 1030 E. With sodium by difference the result would be 0 by
		// construction, so only a measured sodium counts.
		sodium := r.reading(Sodium)
		c, a := r.cations(), r.anions()
		if math.IsNaN(sodium) || c+a == 0 {
			return math.NaN()
		}
		return 100 * (c - a) / (c + a)
	case Bicarbonate, Carbonate, CarbonDioxide, IonicStrength, SaturationIndex:
		return r.carbonate(id)
	case ElectricalConductivity:
		return r.conductivity()
	case DissolvedSolids:
		return r.dissolvedSolids()
	}
	return math.NaN()
}

func minOf(a, b float64) float64 { return math.Min(a, b) }

func atLeast(floor, v float64) float64 {
	if math.IsNaN(v) {
		return v
	}
	return math.Max(floor, v)
}

func (r *resolver) alkalinity() float64 {
	if !r.a.Has(Alkalinity) && r.a.Has(Bicarbonate) {
		// A laboratory that reports bicarbonate and carbonate: 1 and 2 equivalents.
		return (r.reading(Bicarbonate)/massHCO3 + 2*r.optional(Carbonate)/massCO3) * massCaCO3 / 2
	}
	return r.reading(Alkalinity)
}

func (r *resolver) calciumHardness() float64 {
	if !r.a.Has(CalciumHardness) && r.a.Has(Calcium) {
		return r.derived(CalciumHardness)
	}
	return r.reading(CalciumHardness)
}

func (r *resolver) totalHardness() float64 {
	if !r.a.Has(TotalHardness) && (r.a.Has(Magnesium) || r.a.Has(MagnesiumHardness)) {
		return r.totalHardnessFromIons()
	}
	return r.reading(TotalHardness)
}

func (r *resolver) magnesiumHardness() float64 {
	if r.a.Has(MagnesiumHardness) {
		return r.reading(MagnesiumHardness)
	}
	return r.derived(MagnesiumHardness)
}

func (r *resolver) totalHardnessFromIons() float64 {
	magnesium := r.optionalNaN(MagnesiumHardness)
	if math.IsNaN(magnesium) {
		magnesium = r.reading(Magnesium) * massCaCO3 / massMg
	}
	return r.calciumHardness() + magnesium
}

func (r *resolver) optionalNaN(id ID) float64 {
	if !r.a.Has(id) {
		return math.NaN()
	}
	return r.reading(id)
}

// hardnessDifference is the magnesium hardness: total less calcium hardness.
// It is never clipped: a negative result says that one of the two is wrong.
func (r *resolver) hardnessDifference() float64 {
	return r.reading(TotalHardness) - r.calciumHardness()
}

// hardnessMeq is the charge of calcium and magnesium together, in meq/L: from
// the total hardness where it was measured, so that the calcium hardness does
// not enter twice.
func (r *resolver) hardnessMeq() float64 {
	if r.a.Has(TotalHardness) {
		return r.reading(TotalHardness) * meqPerUnit(TotalHardness)
	}
	return r.totalHardness() * meqPerUnit(TotalHardness)
}

// otherCations and otherAnions are the measured ions beside calcium,
// magnesium, sodium and alkalinity, in meq/L. Iron, manganese, copper and zinc
// are left out: at drinking-water levels they carry under 0.02 meq/L.
func (r *resolver) otherCations() float64 {
	return r.optional(Potassium)*meqPerUnit(Potassium) + r.optional(Ammonium)*meqPerUnit(Ammonium)
}

func (r *resolver) otherAnions() float64 {
	return r.optional(Nitrate)*meqPerUnit(Nitrate) + r.optional(Nitrite)*meqPerUnit(Nitrite) + r.optional(Fluoride)*meqPerUnit(Fluoride)
}

func (r *resolver) cations() float64 {
	return r.hardnessMeq() + r.reading(Sodium)*meqPerUnit(Sodium) + r.otherCations()
}

func (r *resolver) anions() float64 {
	return r.alkalinity()*meqPerUnit(Alkalinity) + r.reading(Chloride)*meqPerUnit(Chloride) +
		r.reading(Sulfate)*meqPerUnit(Sulfate) + r.otherAnions()
}

// sodiumByDifference closes the charge balance with sodium. It is sodium,
// potassium and every other unmeasured cation, less every unmeasured anion,
// plus all errors of measurement; it may be negative and is not clipped.
func (r *resolver) sodiumByDifference() float64 {
	return (r.anions() - r.hardnessMeq() - r.otherCations()) * massNa
}

// note says what a derived value assumes.
func (a *Analysis) note(id ID) string {
	switch id {
	case Sodium:
		switch {
		case !a.Has(Potassium) && !a.Has(Nitrate):
			return "by difference: includes potassium, less nitrate and all errors"
		case !a.Has(Potassium):
			return "by difference: includes potassium and all errors"
		case !a.Has(Nitrate):
			return "by difference: less nitrate, with all errors"
		}
		return "by difference: with all errors"
	case Magnesium, MagnesiumHardness:
		if !a.Has(Magnesium) && !a.Has(MagnesiumHardness) {
			return "total less calcium hardness"
		}
	case Bicarbonate, Carbonate, CarbonDioxide, SaturationIndex:
		if !a.Has(SampleTemperature) {
			return "temperature not measured: 20 degC assumed"
		}
	case ElectricalConductivity:
		return "calculated, at 25 degC"
	case DissolvedSolids:
		return "calculated, SM 1030 E"
	}
	return ""
}

// DerivedNames lists what can be computed, in the order in which it is shown.
func DerivedNames() []ID {
	return []ID{Calcium, CalciumHardness, Magnesium, MagnesiumHardness, TotalHardness, Sodium, ResidualAlkalinity, CarbonateHardness,
		NoncarbonateHardness, SulfateChlorideRatio, Bicarbonate, Carbonate, CarbonDioxide, CombinedChlorine, IonicStrength, CationSum, AnionSum,
		ChargeBalance, SaturationIndex, ElectricalConductivity, DissolvedSolids}
}
