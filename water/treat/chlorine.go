package treat

import (
	"fmt"
	"math"
	"strings"

	"wj/water"
	"wj/water/substance"
)

// FieldFactor is how much more metabisulfite than theory is dosed: 1.47 mg per mg of chlorine (AWWA, Disinfection of
// Pipelines and Storage Facilities Field Guide, table 7-2) over 190.095/(2 × 70.90) = 1.341 of theory for the sodium salt.
const FieldFactor = 1.47 / (190.095 / (2 * 70.90))

// LeastChlorine in mg/L as Cl2 is what a DPD test tells from none, and from where on chlorine is taken out: chlorophenols
// taste at micrograms. Common practice, no source.
const LeastChlorine = 0.05

// Stages of additions that must never meet: what takes chlorine out goes in first, alone; acid goes into the liquor later.
const (
	DechlorinationStage = "dechlorination"
	LiquorStage         = "liquor"
)

// Chlorine is what a water holds, mg/L as Cl2, with standard uncertainties.
type Chlorine struct {
	Total, UTotal float64
	// Free is the part that is not bound to ammonia; NaN where it was not measured, and then all is taken as free for the
	// alkalinity, the larger use.
	Free float64
}

// Removal is a dose of metabisulfite with what it leaves in the water.
type Removal struct {
	Dose     Dose
	Chlorine Chlorine // of the blend
	Unknown  []string // waters whose chlorine was not measured within the range of a test
	// Theory is the amount that reacts mole for mole, in Dose.Unit; the dose is FieldFactor times that.
	Theory float64
	// By-products in mg/L of the treated volume.
	Sulfate, Chloride, Sodium, Potassium, Ammonium float64
	// AlkalinityUsed in mg/L CaCO3.
	AlkalinityUsed float64
	// ChlorineLeft in mg/L as Cl2: what a dose below Theory does not take.
	ChlorineLeft float64
	// SulfiteLeft in mg/L as SO2: the excess, which air and the rest of the day take away.
	SulfiteLeft float64
	// U is the standard uncertainty of the dose, from the chlorine test and the assay, in Dose.Unit.
	U float64
}

// Dechlorinate finds the metabisulfite that takes chlorine and chloramine out of a volume in L. The dose depends on total
// chlorine: free chlorine alone would leave the chloramine in. One mole of S2O5 2- takes two of Cl2:
//
//	S2O5 2- + H2O = 2 HSO3-;  HSO3- + HOCl = SO4 2- + Cl- + 2 H+;  HSO3- + NH2Cl + H2O = SO4 2- + Cl- + NH4+ + H+
//
// so each mg of chlorine leaves 1.355 mg sulfate and 0.5 mg chloride, and uses 1.41 (free) or 0.71 mg CaCO3 of alkalinity
// (combined). [stoichiometry; White's Handbook of Chlorination, from memory]
func Dechlorinate(c Chlorine, g Product, volume float64) (*Removal, error) {
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
	theory, err := sulfiteNeed(c.Total, g, volume)
	if err != nil {
		return nil, err
	}
	a := Addition{Product: g, Amount: FieldFactor * theory, Stage: DechlorinationStage}
	a.Amount = a.rounded()
	return removal(c, a, volume)
}

// sulfiteNeed is the goods, in their unit, that take up total chlorine mole for mole.
func sulfiteNeed(total float64, g Product, volume float64) (float64, error) {
	one, err := contribution(g, g.Percent)
	if err != nil {
		return 0, err
	}
	return total / massChlorine / (one[sSulfite] / massSulfite) * volume, nil
}

// removal tells what a dose of a sulfite does to the chlorine of a blend.
func removal(c Chlorine, a Addition, volume float64) (*Removal, error) {
	one, err := contribution(a.Product, a.Percent)
	if err != nil {
		return nil, err
	}
	out := &Removal{Chlorine: c}
	if out.Theory, err = sulfiteNeed(c.Total, a.Product, volume); err != nil {
		return nil, err
	}
	blend := mixture{sTotalChlorine: c.Total, sFreeChlorine: c.Total}
	if !math.IsNaN(c.Free) {
		blend[sFreeChlorine] = math.Min(c.Free, c.Total)
	}
	if out.Dose, err = newDose(a, volume, &blend); err != nil {
		return nil, err
	}
	blend.add(&one, a.Amount/volume)
	after := blend.dechlorinated()
	out.Sulfate, out.Chloride, out.Sodium = after[sSulfate], after[sChloride], after[sSodium]
	out.Potassium, out.Ammonium, out.AlkalinityUsed = after[sPotassium], after[sAmmonium], -after[sAlkalinity]
	out.ChlorineLeft = after[sTotalChlorine]
	out.SulfiteLeft = after[sSulfite] / massSulfite * massSulfurDioxide
	if c.Total > 0 {
		out.U = a.Amount * math.Hypot(c.UTotal/c.Total, a.HalfWidth/math.Sqrt(3)/a.Percent)
	}
	return out, nil
}

// Dechlorinate puts the metabisulfite that the blend needs before all other additions, and acids into a later stage.
// Nothing is added to a blend whose total chlorine is below LeastChlorine.
func (p *Plan) Dechlorinate(g Product) error {
	c, _, _ := ChlorineIn(p.Waters)
	if c.Total < LeastChlorine {
		return nil
	}
	r, err := Dechlorinate(c, g, p.Volume)
	if err != nil {
		return err
	}
	all := []Addition{r.Dose.Addition}
	for _, a := range p.Additions {
		if s, err := a.Entry(); err == nil && s.Kind == substance.Acid && a.Stage == "" {
			a.Stage = LiquorStage
		}
		all = append(all, a)
	}
	p.Additions = all
	return nil
}

// dechlorinate takes each water as it is once its chlorine has reacted. A dose in proportion to total chlorine leaves of a blend
// what it leaves of its parts.
func (m *model) dechlorinate() error {
	if m.p.Sulfite == nil {
		return nil
	}
	for i := range m.waters {
		total := math.Max(m.waters[i][sTotalChlorine], m.waters[i][sFreeChlorine])
		r, err := Dechlorinate(Chlorine{Total: math.Max(0, total), Free: math.NaN()}, *m.p.Sulfite, 1000)
		if err != nil {
			return fmt.Errorf("find doses: %s: %w", m.p.Waters[i].Name, err)
		}
		one, err := contribution(*m.p.Sulfite, m.p.Sulfite.Percent)
		if err != nil {
			return fmt.Errorf("find doses: %w", err)
		}
		m.waters[i].add(&one, FieldFactor*r.Theory/1000)
		m.waters[i] = m.waters[i].dechlorinated()
	}
	return nil
}

// Removal tells what the metabisulfite of a plan does; nil where it doses none.
func (p *Prediction) Removal() *Removal {
	for _, d := range p.Doses {
		if s, ok := substance.ByKey(d.Substance); !ok || s.Kind != substance.Sulfite || d.Amount == 0 {
			continue
		}
		c, unknown, _ := ChlorineIn(p.Plan.Waters)
		out, err := removal(c, d.Addition, p.Plan.Volume)
		if err != nil {
			return nil
		}
		out.Unknown = unknown
		return out
	}
	return nil
}

// String says it in one line: what is taken out, what that brings and what is left.
func (r *Removal) String() string {
	number := func(v float64) string { return water.Round(v, 2) }
	value, half := water.Spread(r.Chlorine.Total, 2*r.Chlorine.UTotal)
	text := "total chlorine " + value
	if half != "" {
		text += " ± " + half
	}
	text += " mg/L as Cl2"
	if len(r.Unknown) > 0 {
		text = "chlorine of " + strings.Join(r.Unknown, ", ") + " not measured within the range of a test: no need is known"
	} else if !math.IsNaN(r.Chlorine.Free) {
		text += " (free " + number(r.Chlorine.Free) + ")"
	}
	if r.Theory > 0 {
		text += fmt.Sprintf("; the dose is %.2f times what it takes up", r.Dose.Amount/r.Theory)
	}
	var brings []string
	for _, b := range []struct {
		name  string
		value float64
	}{{"sulfate", r.Sulfate}, {"chloride", r.Chloride}, {"sodium", r.Sodium}, {"potassium", r.Potassium}, {"ammonium", r.Ammonium}} {
		if b.value > 1e-9 {
			brings = append(brings, b.name+" "+number(b.value))
		}
	}
	if len(brings) > 0 {
		text += "; brings " + strings.Join(brings, ", ") + " mg/L, uses " + number(r.AlkalinityUsed) + " mg/L CaCO3 of alkalinity"
	}
	if r.ChlorineLeft > 1e-9 {
		text += "; LEAVES " + number(r.ChlorineLeft) + " mg/L of chlorine"
	}
	if r.SulfiteLeft > 1e-9 {
		text += "; leaves " + number(r.SulfiteLeft) + " mg/L of sulfite as SO2"
	}
	return text
}

// massSulfurDioxide in g/mol, abridged IUPAC weights.
const massSulfurDioxide = 64.058

// ChlorineOf reads the chlorine of a water; ok is false where total chlorine was not measured as a number.
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

// ChlorineBeyond reports a water that holds more chlorine than its test reads: how much is not known, and nothing can be dosed
// for it.
func ChlorineBeyond(a *water.Analysis) bool {
	above := func(id water.ID) bool {
		m, ok := a.Measured(id)
		return ok && m.Bound == water.Above
	}
	return above(water.TotalChlorine) || above(water.FreeChlorine) && !a.Has(water.TotalChlorine)
}

// ChlorineIn is the chlorine of a blend: the shares of its waters' totals, a total below the test's range as none. Waters
// without any test of chlorine, or with more than it reads, count as none and are named in unknown; those of which free chlorine
// alone was measured, and is there, count with that and are named in onlyFree: how much chloramine they hold is not known, and a
// dose on them would leave it in.
func ChlorineIn(waters []Portion) (c Chlorine, unknown, onlyFree []string) {
	variance, free := 0.0, true
	for _, w := range waters {
		one, ok := ChlorineOf(w.Analysis)
		bound, tested := w.Analysis.Measured(water.TotalChlorine)
		switch {
		case w.Share == 0:
			continue
		case ChlorineBeyond(w.Analysis):
			one = Chlorine{}
			unknown = append(unknown, w.Name)
		case ok:
			free = free && !math.IsNaN(one.Free)
		case tested && bound.Bound == water.Below:
			one.Free = 0
		case w.Analysis.Has(water.FreeChlorine):
			m, _ := w.Analysis.Measured(water.FreeChlorine)
			one = Chlorine{m.Value, m.U, m.Value}
			if m.Value >= LeastChlorine {
				onlyFree = append(onlyFree, w.Name)
			}
		default:
			one.Free = 0
			if _, bounded := w.Analysis.Measured(water.FreeChlorine); !bounded {
				unknown = append(unknown, w.Name)
			}
		}
		c.Total += w.Share * one.Total
		c.Free += w.Share * one.Free
		variance += w.Share * w.Share * one.UTotal * one.UTotal
	}
	c.UTotal = math.Sqrt(variance)
	if !free {
		c.Free = math.NaN()
	}
	return c, unknown, onlyFree
}
