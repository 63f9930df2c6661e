package water

import (
	"math"

	"wj/water/equilibrium"
)

// Milliequivalents per mg/L (or per mg/L CaCO3): charge over molar mass.
func meqPerUnit(id ID) float64 {
	a := &table[id]
	return a.Equivalents() / a.MolarMass
}

// resolver computes derived values of one analysis and notes what it met. The
// speciation of the analysis is kept for the next value.
type resolver struct {
	a *Analysis
	trace
	solution      *equilibrium.Solution // of the last speciation, nil where it failed
	speciated     bool
	solutionTrace trace
	conductance   float64 // conductivity over that of the Standard Methods formula; 0 until known
}

// reading is a measured number, or NaN and a note of what is lacking.
func (r *resolver) reading(id ID) float64 {
	if r.a.Has(id) {
		r.used.Add(id)
		return r.a.m[id].Value
	}
	r.lack.Add(id)
	return math.NaN()
}

// optional is a measured number; where there is none, 0, and it is not missed.
// A result below its range is bounded: it is taken as the middle of 0 and its
// limit, with the uncertainty of a rectangular distribution (GUM 4.3.7). One
// above its range is missed.
func (r *resolver) optional(id ID) float64 {
	b, ok := r.a.bound(id)
	switch {
	case !ok:
		return 0
	case b == Exact:
		r.used.Add(id)
		return r.a.m[id].Value
	case b == Below:
		r.bounded.Add(id)
		return r.a.m[id].Value / 2
	}
	r.lack.Add(id)
	return math.NaN()
}

// derived computes a value from others. Formulas are in the analyte's standard
// units; each carries its source. The result is NaN where readings are lacking.
func (r *resolver) derived(id ID) float64 {
	switch id {
	case Alkalinity:
		return r.alkalinityFromIons()
	case Calcium:
		// One mole of calcium for one of CaCO3 (SM 2340 B).
		if v, ok := r.calciumHardnessBut(Calcium); ok {
			return v * massCa / massCaCO3
		}
		return r.reading(CalciumHardness)
	case CalciumHardness:
		if v, ok := r.calciumHardnessBut(CalciumHardness); ok {
			return v
		}
		return r.reading(Calcium)
	case Magnesium:
		return r.magnesiumHardness(Magnesium) * massMg / massCaCO3
	case MagnesiumHardness:
		return r.magnesiumHardness(MagnesiumHardness)
	case TotalHardness:
		return r.totalHardnessFromIons()
	case Sodium:
		return r.sodiumByDifference()
	case ResidualAlkalinity:
		return r.residualAlkalinity()
	case CarbonateHardness:
		// SM 2340 A: the smaller of total hardness and alkalinity.
		return math.Min(r.totalHardness(), r.alkalinity())
	case NoncarbonateHardness:
		// SM 2340 A. An alkalinity above the hardness leaves none.
		return math.Max(0, r.totalHardness()-r.alkalinity())
	case SulfateChlorideRatio:
		chloride, sulfate := r.reading(Chloride), r.reading(Sulfate)
		if chloride == 0 {
			r.why = "chloride is 0"
			return math.NaN()
		}
		return sulfate / chloride
	case CombinedChlorine:
		return r.reading(TotalChlorine) - r.reading(FreeChlorine)
	case NitrateRatios:
		// Directive (EU) 2020/2184, Annex I part B, note on nitrate; WHO guidelines, 4th edition.
		return r.reading(Nitrate)/50 + r.reading(Nitrite)/3
	case OxidizedNitrogen:
		return (r.reading(Nitrate)/table[Nitrate].MolarMass + r.reading(Nitrite)/table[Nitrite].MolarMass) * table[OxidizedNitrogen].MolarMass
	case CationSum:
		return r.cations()
	case AnionSum:
		return r.anions()
	case ChargeBalance:
		return r.chargeBalance()
	case Bicarbonate, Carbonate, CarbonDioxide, IonicStrength, SaturationIndex, ElectricalConductivity:
		return r.speciesValue(id)
	case DissolvedSolids:
		return r.dissolvedSolids()
	}
	return math.NaN()
}

// residualAlkalinity: Kolbach 1953 (Monatsschrift für Brauerei 6): alkalinity
// less calcium hardness / 3.5 less magnesium hardness / 7, all on one basis.
func (r *resolver) residualAlkalinity() float64 {
	return r.alkalinity() - r.calciumHardness()/3.5 - r.magnesiumHardness(NumNames)/7
}

func (r *resolver) alkalinity() float64 {
	if b, ok := r.a.bound(Bicarbonate); ok && b == Exact && !r.a.Has(Alkalinity) {
		return r.alkalinityFromIons()
	}
	return r.reading(Alkalinity)
}

// alkalinityFromIons is for a laboratory that reports bicarbonate and
// carbonate: 1 and 2 equivalents (SM 2320 B). Hydroxide, which it leaves out,
// is below 1 % of it under pH 9.5 in waters above 100 mg/L.
func (r *resolver) alkalinityFromIons() float64 {
	return (r.reading(Bicarbonate)/massHCO3 + 2*r.optional(Carbonate)/massCO3) * massCaCO3 / 2
}

func (r *resolver) calciumHardness() float64 {
	if v, ok := r.calciumHardnessBut(NumNames); ok {
		return v
	}
	return r.reading(CalciumHardness)
}

// calciumHardnessBut is the calcium hardness without the reading named, which
// must not stand for itself: from its other form, or by difference.
func (r *resolver) calciumHardnessBut(not ID) (v float64, ok bool) {
	switch {
	case not != CalciumHardness && r.a.Has(CalciumHardness):
		return r.reading(CalciumHardness), true
	case not != Calcium && r.a.Has(Calcium):
		return r.reading(Calcium) * massCaCO3 / massCa, true
	case r.a.Has(TotalHardness) && r.a.Has(MagnesiumHardness):
		return r.reading(TotalHardness) - r.reading(MagnesiumHardness), true
	case r.a.Has(TotalHardness) && r.a.Has(Magnesium):
		return r.reading(TotalHardness) - r.reading(Magnesium)*massCaCO3/massMg, true
	}
	return math.NaN(), false
}

// magnesiumHardness is the magnesium hardness without the reading named
// (NumNames: with all of them); by difference it is total less calcium hardness
// and never clipped: a negative result says that one of the two is wrong.
func (r *resolver) magnesiumHardness(not ID) float64 {
	switch {
	case not != MagnesiumHardness && r.a.Has(MagnesiumHardness):
		return r.reading(MagnesiumHardness)
	case not != Magnesium && r.a.Has(Magnesium):
		return r.reading(Magnesium) * massCaCO3 / massMg
	}
	total := r.reading(TotalHardness)
	if r.a.Has(Calcium) && !r.a.Has(CalciumHardness) {
		return total - r.reading(Calcium)*massCaCO3/massCa
	}
	return total - r.reading(CalciumHardness)
}

func (r *resolver) totalHardness() float64 {
	if !r.a.Has(TotalHardness) && (r.a.Has(Magnesium) || r.a.Has(MagnesiumHardness)) {
		return r.totalHardnessFromIons()
	}
	return r.reading(TotalHardness)
}

// totalHardnessFromIons: SM 2340 B, the sum of calcium and magnesium as CaCO3.
func (r *resolver) totalHardnessFromIons() float64 {
	var calcium, magnesium float64
	switch {
	case r.a.Has(CalciumHardness) || !r.a.Has(Calcium):
		calcium = r.reading(CalciumHardness)
	default:
		calcium = r.reading(Calcium) * massCaCO3 / massCa
	}
	switch {
	case r.a.Has(MagnesiumHardness) || !r.a.Has(Magnesium):
		magnesium = r.reading(MagnesiumHardness)
	default:
		magnesium = r.reading(Magnesium) * massCaCO3 / massMg
	}
	return calcium + magnesium
}

// hardnessMeq is the charge of calcium and magnesium together, in meq/L: from
// the total hardness where it was measured, so that the calcium hardness does
// not enter twice.
func (r *resolver) hardnessMeq() float64 { return r.totalHardness() * meqPerUnit(TotalHardness) }

// sumOf adds up the ions of one sign that the analyte table counts, in meq/L.
// Iron, manganese, copper and zinc are none of them: at drinking-water levels they
// carry under 0.02 meq/L. Phosphate counts one charge: alkalinity is titrated to
// H2PO4- and holds the rest (Stumm & Morgan, Aquatic Chemistry, chapter 4).
func (r *resolver) sumOf(sign int, but ID) float64 {
	sum := 0.0
	for i := range measured {
		a := &table[i]
		if a.Ion == NoIon || a.IonCharge*sign < 0 || a.ID == but {
			continue
		}
		value := r.optional
		if a.Ion == MajorIon {
			value = r.reading
		}
		sum += value(a.ID) * float64(a.IonCharge*sign) / a.MolarMass
	}
	return sum
}

func (r *resolver) cations() float64 { return r.hardnessMeq() + r.sumOf(1, NumNames) }

func (r *resolver) anions() float64 {
	return r.alkalinity()*meqPerUnit(Alkalinity) + r.sumOf(-1, NumNames)
}

// chargeBalance: SM 1030 E, over the sum. With sodium by difference the result
// would be 0 by construction, so only a measured sodium counts.
func (r *resolver) chargeBalance() float64 {
	c, a := r.cations(), r.anions()
	if c+a == 0 {
		r.why = "there are no ions"
		return math.NaN()
	}
	return 100 * (c - a) / (c + a)
}

// sodiumByDifference closes the charge balance with sodium. It is sodium,
// potassium and every other unmeasured cation, less every unmeasured anion,
// plus all errors of measurement; it may be negative and is not clipped.
func (r *resolver) sodiumByDifference() float64 {
	return (r.anions() - r.hardnessMeq() - r.sumOf(1, Sodium)) * massNa
}

// DerivedNames lists what can be computed, in the order in which it is shown.
func DerivedNames() []ID {
	return []ID{Alkalinity, Calcium, CalciumHardness, Magnesium, MagnesiumHardness, TotalHardness, Sodium, ResidualAlkalinity, CarbonateHardness,
		NoncarbonateHardness, SulfateChlorideRatio, Bicarbonate, Carbonate, CarbonDioxide, CombinedChlorine, NitrateRatios, OxidizedNitrogen, IonicStrength, CationSum, AnionSum,
		ChargeBalance, SaturationIndex, ElectricalConductivity, DissolvedSolids}
}
