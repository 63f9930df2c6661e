package treat

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"wj/water"
	"wj/water/equilibrium"
	"wj/water/substance"
)

// mixture holds what adds up linearly under blending and dosing. Slots of measured ions are in the standard unit of their
// analyte; see slot.
type mixture [slotCount]float64

// slot numbers the entries of a mixture. The first ones are baseIDs in their order.
type slot int

const (
	sCalcium slot = iota
	sMagnesium
	sSodium
	sPotassium
	sAmmonium
	sChloride
	sSulfate
	sNitrate
	sNitrite
	sFluoride
	sPhosphate // measured in the water
	sSilica
	sIron
	sManganese
	sCopper
	sZinc
	// sAlkalinity is total alkalinity at the zero level of protons of equilibrium.Water, mg/L CaCO3.
	sAlkalinity
	sFreeChlorine
	sTotalChlorine
	namedSlots
)

// measuredSlots leaves room for ions of the analyte table that no formula here names: they add up as the others do, and count in
// the sums of charge and in the total that the table says.
const measuredSlots = namedSlots + 16

const (
	sLactate   = measuredSlots + iota // from acid, mg/L
	sCitrate                          // from acid, mg/L
	sAcidPhate                        // phosphate from acid, mg/L PO4
	sSulfite                          // from metabisulfite before it reacts, mg/L SO3
	sCarbon                           // inorganic carbon that bases bring less what solids took, mmol/L
	sMoved                            // inorganic carbon that bases and the air brought less what solids and the air took, mmol/L
	sEnd                              // protons that the water itself takes to the end point of a titration, beyond those of the raw waters, meq/L
	sChalk                            // of calcium, alkalinity and carbon: what comes as chalk, mmol/L CaCO3
	sGypsum                           // of calcium and sulfate: what comes as gypsum or anhydrite, mmol/L
	sLime                             // of calcium and alkalinity: what comes as slaked lime, mmol/L
	// By how much the solubility products are moved, log10: no part of the water, but a source of error like its parts.
	sCalciteOff
	sGypsumOff
	slotCount
)

// baseIDs are the analytes of the slots: those that formulas name, then the other ions of the analyte table.
var baseIDs = func() []water.ID {
	ids := []water.ID{
		water.Calcium, water.Magnesium, water.Sodium, water.Potassium, water.Ammonium, water.Chloride, water.Sulfate, water.Nitrate,
		water.Nitrite, water.Fluoride, water.Phosphate, water.Silica, water.Iron, water.Manganese, water.Copper, water.Zinc,
		water.Alkalinity, water.FreeChlorine, water.TotalChlorine,
	}
	for id := range water.NumAnalytes {
		if id.Info().Ion != water.NoIon && !slices.Contains(ids, id) {
			ids = append(ids, id)
		}
	}
	if len(ids) > int(measuredSlots) {
		panic("water/treat: more ions in the analyte table than a mixture has room for")
	}
	return ids
}()

var slotOf = func() map[water.ID]slot {
	m := map[water.ID]slot{}
	for i, id := range baseIDs {
		m[id] = slot(i)
	}
	return m
}()

// Molar masses, g/mol: abridged IUPAC weights (Prohaska et al. 2022) through the analyte table.
var (
	massCalcium   = water.Calcium.Info().MolarMass
	massMagnesium = water.Magnesium.Info().MolarMass
	massCalcite   = water.CalciumHardness.Info().MolarMass
	massChlorine  = water.TotalChlorine.Info().MolarMass
	massChloride  = water.Chloride.Info().MolarMass
	massSulfate   = water.Sulfate.Info().MolarMass
	massAmmonium  = water.Ammonium.Info().MolarMass
	massPhosphate = ionMass("phosphate")
	massLactate   = ionMass("lactate")
	massCitrate   = ionMass("citrate")
	massSulfite   = ionMass("sulfite")
)

// equivalentCalcite is mg of CaCO3 per meq: half its molar mass.
var equivalentCalcite = massCalcite / 2

func ionMass(name string) float64 {
	m, _ := substance.IonMass(name)
	return m
}

func (m *mixture) add(other *mixture, times float64) {
	for i := range m {
		m[i] += times * other[i]
	}
}

// contribution is what one unit (g or mL) of goods of a strength brings into one litre.
func contribution(g Product, percent float64) (mixture, error) {
	var m mixture
	s, err := g.Entry()
	if err != nil {
		return m, err
	}
	moles, err := g.molesPerUnit(percent)
	if err != nil {
		return m, err
	}
	for _, ion := range s.Ions {
		mass := ionMass(ion.Name)
		amount := 1000 * moles * ion.Moles * mass
		switch ion.Name {
		case "lactate":
			m[sLactate] += amount
		case "citrate":
			m[sCitrate] += amount
		case "phosphate":
			m[sAcidPhate] += amount
		case "sulfite":
			m[sSulfite] += amount
		default:
			id, _ := water.Lookup(ion.Name)
			at, ok := slotOf[id]
			if !ok {
				return m, fmt.Errorf("dose %s: it brings %s, which is not followed", g.Substance, ion.Name)
			}
			m[at] += amount
		}
	}
	m[sAlkalinity] += 1000 * moles * s.Alkalinity * equivalentCalcite
	m[sCarbon] += 1000 * moles * s.InorganicCarbon
	m[sMoved] += 1000 * moles * s.InorganicCarbon
	if calcium := s.MolesOf("calcium"); calcium > 0 {
		switch {
		case s.InorganicCarbon > 0:
			m[sChalk] += 1000 * moles * calcium
		case s.MolesOf("sulfate") > 0:
			m[sGypsum] += 1000 * moles * calcium
		case s.Alkalinity > 0:
			m[sLime] += 1000 * moles * calcium
		}
	}
	return m, nil
}

// takeCalcite takes mmol/L of calcium carbonate out of solution.
func (m *mixture) takeCalcite(mmol float64) {
	m[sCalcium] -= mmol * massCalcium
	m[sAlkalinity] -= 2 * mmol * equivalentCalcite
	m[sCarbon] -= mmol
	m[sMoved] -= mmol
}

// takeGypsum takes mmol/L of calcium sulfate out of solution.
func (m *mixture) takeGypsum(mmol float64) {
	m[sCalcium] -= mmol * massCalcium
	m[sSulfate] -= mmol * massSulfate
}

// takeBrucite takes mmol/L of magnesium hydroxide out of solution.
func (m *mixture) takeBrucite(mmol float64) {
	m[sMagnesium] -= mmol * massMagnesium
	m[sAlkalinity] -= 2 * mmol * equivalentCalcite
}

// TitrationEnd is the pH of the end point of an alkalinity titration where a method names no other (EN ISO 9963-1: 4.5;
// DIN 38409-7 has 4.3).
const TitrationEnd = 4.5

// lowestEnd and highestEnd are between which an alkalinity titration ends (Standard Methods 2320 B names 4.3 to 5.1; the rest is for
// indicators that turn early or late).
const lowestEnd, highestEnd = 3.5, 5.5

// protonsGiven is the mean number of protons that a molecule of an acid has given off at a pH:
// sum k beta_k / sum beta_k, beta_k = 10^(k pH - pK1 … - pKk). [definition]
func protonsGiven(steps []substance.Dissociation, pH float64) float64 {
	sum, weighted, beta := 1.0, 0.0, 1.0
	for k, d := range steps {
		beta *= math.Pow(10, pH-d.PKa)
		sum += beta
		weighted += float64(k+1) * beta
	}
	return weighted / sum
}

// weakAcids lists the anions of weak acids.
var weakAcids = [...]struct {
	slot slot
	name string
	mass float64
	acid string // the substance that brings it
}{
	{sLactate, "lactate", massLactate, "lactic_acid"},
	{sCitrate, "citrate", massCitrate, "citric_acid_anhydrous"},
	{sAcidPhate, "phosphate", massPhosphate, "phosphoric_acid"},
}

// taken is the protons that each of weakAcids takes up on the way to the end point of a titration, beyond the zero level that total
// alkalinity counts: lactate takes 0.19 to pH 4.5, so that a titration reads more alkalinity than the acid left. carbon is that of a
// mole of inorganic carbon, -0.014 at pH 4.5: that part is still bicarbonate there and is not read. The reading of the raw water leaves
// it out too, so only carbon that came or went between them counts. free, meq/L, are the protons that the water itself holds there, as H+
// and with sulfate: much gypsum makes it 1 mg/L CaCO3.
type taken struct {
	acids  [len(weakAcids)]float64
	carbon float64
	free   float64
}

// inPureWater is what they take up in pure water at 25 degC. A prediction counts them in its own water.
func inPureWater(endPoint float64) (t taken) {
	for k := range weakAcids {
		s, _ := substance.ByKey(weakAcids[k].acid)
		t.acids[k] = 1 - protonsGiven(s.Dissociation, endPoint)
	}
	t.carbon = -1 / (1 + math.Pow(10, 6.352-endPoint)) // pK1 at 25 degC: Plummer & Busenberg 1982
	return t
}

// alkalinity is what a titration reads: total alkalinity with what the anions of weak acids take up on the way. The acid
// that pure water takes to the end point is left out, as in the readings that it starts from.
func (m *mixture) alkalinity(t *taken) float64 {
	a := m[sAlkalinity] + (m[sMoved]*t.carbon+m[sEnd])*equivalentCalcite
	for k := range weakAcids {
		w := &weakAcids[k]
		a += m[w.slot] / w.mass * t.acids[k] * equivalentCalcite
	}
	return a
}

func (m *mixture) calciumHardness() float64   { return m[sCalcium] / massCalcium * massCalcite }
func (m *mixture) magnesiumHardness() float64 { return m[sMagnesium] / massMagnesium * massCalcite }

// residualAlkalinity: Kolbach 1953 (Monatsschrift für Brauerei 6), all as CaCO3.
func (m *mixture) residualAlkalinity(t *taken) float64 {
	return m.alkalinity(t) - m.calciumHardness()/3.5 - m.magnesiumHardness()/7
}

// dechlorinated is the mixture after sulfite has reacted with chlorine, mole for mole of Cl2:
// HSO3- + HOCl = SO4 2- + Cl- + 2 H+;  HSO3- + NH2Cl + H2O = SO4 2- + Cl- + NH4+ + H+. Free chlorine reacts first.
func (m mixture) dechlorinated() mixture {
	if m[sSulfite] <= 0 {
		return m
	}
	total := math.Max(m[sTotalChlorine], m[sFreeChlorine])
	free := math.Max(0, m[sFreeChlorine])
	reacted := math.Min(m[sSulfite]/massSulfite, math.Max(0, total)/massChlorine) // mmol/L
	ofFree := math.Min(reacted, free/massChlorine)
	combined := reacted - ofFree
	m[sSulfite] -= reacted * massSulfite
	m[sSulfate] += reacted * massSulfate
	m[sChloride] += reacted * massChloride
	m[sAmmonium] += combined * massAmmonium
	m[sAlkalinity] -= (2*ofFree + combined) * equivalentCalcite
	m[sFreeChlorine] -= ofFree * massChlorine
	m[sTotalChlorine] = total - reacted*massChlorine
	return m
}

// cations and anions in meq/L at the zero level of protons, so that blending and dosing keep their difference. Which ions count, and
// with what charge, the analyte table says.
func (m *mixture) cations() float64 {
	return m[sCalcium]*chargePerMass(water.Calcium) + m[sMagnesium]*chargePerMass(water.Magnesium) + m.sumOf(1)
}

func (m *mixture) anions() float64 {
	return m[sAlkalinity]/equivalentCalcite + m[sLactate]/massLactate + m[sCitrate]/massCitrate + m[sAcidPhate]/massPhosphate + m[sSulfite]/massSulfite + m.sumOf(-1)
}

func (m *mixture) sumOf(sign int) float64 {
	sum := 0.0
	for s, id := range baseIDs {
		if a := id.Info(); a.Ion != water.NoIon && a.IonCharge*sign > 0 {
			sum += m[s] * float64(a.IonCharge*sign) / a.MolarMass
		}
	}
	return sum
}

func chargePerMass(id water.ID) float64 {
	a := id.Info()
	return math.Abs(float64(a.Charge)) / a.MolarMass
}

// totalOf is the total of the equilibrium that a slot is part of, by name; "" for none.
var totalOf = func() (names [measuredSlots]string) {
	var w equilibrium.Water
	for s, id := range baseIDs {
		if name := cmp.Or(id.Info().Total, id.Info().Key); slot(s) != sAlkalinity && w.Total(name) != nil {
			names[s] = name
		}
	}
	return names
}()

// totals turns a mixture into mol/L for the equilibrium. carbon is in mol/L. A sodium by difference that came out
// negative is taken as none.
func (m *mixture) totals(celsius, carbon float64) equilibrium.Water {
	w := equilibrium.Water{
		Temperature: celsius,
		Phosphate:   math.Max(0, m[sAcidPhate]) / massPhosphate / 1000,
		Lactate:     math.Max(0, m[sLactate]) / massLactate / 1000, Citrate: math.Max(0, m[sCitrate]) / massCitrate / 1000,
		Alkalinity: m[sAlkalinity] / equivalentCalcite / 1000, InorganicCarbon: carbon + m[sCarbon]/1000,
	}
	for s, id := range baseIDs {
		if v := m[s]; v > 0 && totalOf[s] != "" {
			*w.Total(totalOf[s]) += v / id.Info().MolarMass / 1000
		}
	}
	return w
}
