package treat

import (
	"fmt"
	"math"

	"wj/water"
	"wj/water/substance"
)

// FieldFactor is how much more metabisulfite than theory is dosed: 1.47 mg per mg of chlorine (AWWA, Disinfection of
// Pipelines and Storage Facilities Field Guide, table 7-2) over 190.095/(2 × 70.90) = 1.341 of theory for the sodium salt.
const FieldFactor = 1.47 / (190.095 / (2 * 70.90))

// Chlorine is what a water holds, mg/L as Cl2, with standard uncertainties.
type Chlorine struct {
	Total, UTotal float64
	// Free is the part that is not bound to ammonia; NaN where it was not measured, and then all is taken as free for the
	// alkalinity, the larger use.
	Free float64
}

// Removal is a dose of metabisulfite with what it leaves in the water.
type Removal struct {
	Dose Dose
	// Theory is the amount that reacts mole for mole, in Dose.Unit; the dose is FieldFactor times that.
	Theory float64
	// By-products in mg/L of the treated volume.
	Sulfate, Chloride, Sodium, Potassium, Ammonium float64
	// AlkalinityUsed in mg/L CaCO3.
	AlkalinityUsed float64
	// SulfiteLeft in mg/L as SO2: the excess, which air and the rest of the day take away.
	SulfiteLeft float64
	// U is the standard uncertainty of the dose, from the chlorine test and the assay, in Dose.Unit.
	U        float64
	Cautions []Caution
}

// Dechlorinate finds the metabisulfite that takes chlorine and chloramine out of a volume in L. The dose rests on total
// chlorine: free chlorine alone would leave the chloramine in. One mole of S2O5 2- takes two of Cl2:
//
//	S2O5 2- + H2O = 2 HSO3-;  HSO3- + HOCl = SO4 2- + Cl- + 2 H+;  HSO3- + NH2Cl + H2O = SO4 2- + Cl- + NH4+ + H+
//
// so each mg of chlorine leaves 1.355 mg sulfate and 0.5 mg chloride, and uses 1.41 (free) or 0.71 mg CaCO3 of alkalinity
// (combined). [stoichiometry; White's Handbook of Chlorination, from memory]
func Dechlorinate(c Chlorine, g Goods, volume float64) (*Removal, error) {
	s, err := g.Entry()
	if err != nil {
		return nil, err
	}
	if s.Kind != substance.Sulfite {
		return nil, fmt.Errorf("remove chlorine with %s: it does not take chlorine up; use sodium_metabisulfite or potassium_metabisulfite", g.Substance)
	}
	if !(volume > 0) || math.IsInf(volume, 0) {
		return nil, fmt.Errorf("remove chlorine: volume %g L is not above zero", volume)
	}
	if !(c.Total >= 0) || c.Total > 20 || !(c.UTotal >= 0) {
		return nil, fmt.Errorf("remove chlorine: total chlorine %g ± %g mg/L is not between 0 and 20 (drinking water holds at most 5)", c.Total, c.UTotal)
	}
	if c.Free > c.Total+2*c.UTotal || c.Free < 0 {
		return nil, fmt.Errorf("remove chlorine: free chlorine %g mg/L is not between 0 and the total of %g; measure both again", c.Free, c.Total)
	}
	one, err := contribution(g, g.Percent)
	if err != nil {
		return nil, err
	}
	sulfitePerUnit := one[sSulfite] / massSulfite // mmol
	need := c.Total / massChlorine                // mmol/L
	out := &Removal{Theory: need / sulfitePerUnit * volume}
	amount := RoundTo(FieldFactor*out.Theory, g.Step)
	if amount > SulfiteFactor*out.Theory && g.Step > 0 {
		if lower := math.Floor(SulfiteFactor*out.Theory/g.Step) * g.Step; lower >= out.Theory {
			amount = RoundTo(lower, g.Step)
		}
	}
	blend := mixture{sTotalChlorine: c.Total, sFreeChlorine: c.Total}
	if !math.IsNaN(c.Free) {
		blend[sFreeChlorine] = math.Min(c.Free, c.Total)
	}
	if out.Dose, err = newDose(Addition{Goods: g, Amount: amount, Stage: "dechlorination"}, volume, &blend); err != nil {
		return nil, err
	}
	treated := blend
	treated.add(&one, amount/volume)
	after := treated.dechlorinated()
	out.Sulfate, out.Chloride, out.Sodium = after[sSulfate], after[sChloride], after[sSodium]
	out.Potassium, out.Ammonium, out.AlkalinityUsed = after[sPotassium], after[sAmmonium], -after[sAlkalinity]
	out.SulfiteLeft = after[sSulfite] / massSulfite * massSulfurDioxide
	if c.Total > 0 {
		out.U = amount * math.Hypot(c.UTotal/c.Total, g.HalfWidth/math.Sqrt(3)/g.Percent)
	}
	out.Cautions = []Caution{
		{Warning, "dose/sulfite", s.Caution, "alone, first, with fresh air; wait and measure total chlorine before anything else goes in", sourceSulfite},
		{Error, "dose/incompatible", "never in one step with an acid or with hypochlorite", "rinse the vessel between the two", sourceIncompat},
	}
	if out.Dose.Over() {
		out.Cautions = append(out.Cautions, Caution{Warning, "dose/sulfite", fmt.Sprintf("the scale's step of %g %s is coarse for this dose: it passes %g times the need", g.Step, g.Unit, SulfiteFactor), "weigh on a finer scale, or dose a weighed stock solution", commonPractice})
	}
	if g.Assumed != "" {
		out.Cautions = append(out.Cautions, Caution{Warning, "additive/form", g.Assumed, "read the assay from the label or certificate", commonPractice})
	}
	return out, nil
}

// massSulfurDioxide in g/mol, abridged IUPAC weights.
const massSulfurDioxide = 64.058

// ChlorineOf reads the chlorine of a water; ok is false where it was not measured as a number.
func ChlorineOf(a *water.Analysis) (c Chlorine, ok bool) {
	m, found := a.Measured(water.TotalChlorine)
	if !found || m.Bound != water.Exact {
		return Chlorine{Free: math.NaN()}, false
	}
	c = Chlorine{Total: m.Value, UTotal: m.U, Free: math.NaN()}
	if a.Has(water.FreeChlorine) {
		c.Free = a.Number(water.FreeChlorine)
	}
	return c, true
}
