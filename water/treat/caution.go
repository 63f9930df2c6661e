package treat

import (
	"fmt"
	"math"

	"wj/water"
	"wj/water/substance"
)

// Severity of a caution.
type Severity string

// An Error must not be done; a Warning is for a person to decide.
const (
	Error   Severity = "error"
	Warning Severity = "warning"
)

// Caution is one thing to know before dosing. Rule is the name under which it is reported everywhere.
type Caution struct {
	Severity Severity
	Rule     string
	Message  string
	Help     string
	Source   string
}

// Sources.
const (
	commonPractice       = "common practice, no source"
	sourceGypsum         = "solubility of gypsum: Nordstrom et al. 1990, 2.4 g per kg water at 10 degC; the warning is common practice, no source"
	sourceAlkalinity     = "common practice, no source: without alkalinity a small error of dose moves the pH far"
	sourceLactate        = "taste of lactate, 250 to 400 mg/L, from memory, no better source"
	sourceIncompat       = "acid sets sulfur dioxide free from sulfites: safety data sheets of metabisulfites, section 10, from memory"
	sourceDechlorination = "AWWA, Disinfection of Pipelines and Storage Facilities Field Guide, table 7-2: 1.47 mg per mg chlorine, 1.10 times theory"
	sourceBrewing        = "brewing ranges: Palmer & Kaminski, Water, 2013, from memory"
	sourceSulfite        = "declaration of sulfites from 10 mg/kg as SO2: Regulation (EU) No 1169/2011, Annex II; 27 CFR 7.63; from memory"
)

// brewingMost is the most of an ion that brewing handbooks recommend, mg/L (Palmer & Kaminski, Water, 2013, from memory),
// and what a drinking-water rule says where there is one: Directive (EU) 2020/2184, Annex I; 40 CFR 143.3.
var brewingMost = [...]struct {
	id    water.ID
	most  float64
	legal float64
	law   string
}{
	{water.Calcium, 200, 0, ""},
	{water.Magnesium, 40, 0, ""},
	{water.Sodium, 150, 200, "200 mg/L, Directive (EU) 2020/2184, Annex I part C"},
	{water.Chloride, 250, 250, "250 mg/L, Directive (EU) 2020/2184, Annex I part C; 40 CFR 143.3"},
	{water.Sulfate, 400, 250, "250 mg/L, Directive (EU) 2020/2184, Annex I part C; 40 CFR 143.3"},
}

// Hazard ranks goods by what they can do to the person who handles them, 0 to 5. The ranking is this project's own: salts 0;
// salts that heat, and mild bases 1; weak or diluted acids and strong bases 2; diluted mineral acid 3; strong phosphoric acid
// and sulfites 4; concentrated mineral acids 5.
func Hazard(g Goods) int {
	s, ok := substance.ByKey(g.Substance)
	if !ok {
		return 5
	}
	switch s.Kind {
	case substance.Salt:
		if g.Substance == "calcium_chloride_anhydrous" || g.Substance == "magnesium_sulfate_anhydrous" {
			return 1
		}
		return 0
	case substance.Base:
		if g.Substance == "slaked_lime" || g.Substance == "soda_ash" {
			return 2
		}
		return 1
	case substance.Sulfite:
		return 4
	}
	switch {
	case concentrated(g):
		if g.Substance == "phosphoric_acid" {
			return 4
		}
		return 5
	case g.Substance == "hydrochloric_acid":
		return 3
	}
	return 2
}

// concentrated: hydrochloric acid from 30 %, phosphoric from 75 %, sulfuric of any strength. Common practice, no source; the
// classes of Regulation (EC) No 1272/2008 begin lower: the label of the pack decides.
func concentrated(g Goods) bool {
	switch g.Substance {
	case "hydrochloric_acid":
		return g.Percent >= 30
	case "phosphoric_acid":
		return g.Percent >= 75
	case "sulfuric_acid":
		return true
	}
	return false
}

// Check looks for everything that should stop a person or make one think. balance may be nil: what needs the pH is then not
// checked. The rules are pure: a linter and a command show the same cautions.
func Check(p *Prediction, balance *Equilibrium) []Caution {
	c := checker{p: p, balance: balance}
	c.forms()
	c.incompatible()
	c.gypsum()
	c.acid()
	c.base()
	c.sulfite()
	c.ions()
	c.bounds()
	return c.list
}

type checker struct {
	p       *Prediction
	balance *Equilibrium
	list    []Caution
}

func (c *checker) add(severity Severity, rule, message, help, source string) {
	c.list = append(c.list, Caution{severity, rule, message, help, source})
}

func (c *checker) kinds() (acid, base, sulfite *Dose) {
	for i := range c.p.Doses {
		d := &c.p.Doses[i]
		if s, ok := substance.ByKey(d.Substance); ok && d.Amount > 0 {
			switch s.Kind {
			case substance.Acid:
				acid = d
			case substance.Base:
				base = d
			case substance.Sulfite:
				sulfite = d
			}
		}
	}
	return acid, base, sulfite
}

func (c *checker) forms() {
	for _, d := range c.p.Doses {
		if d.Assumed != "" {
			c.add(Warning, "additive/form", fmt.Sprintf("%s: nothing declared, taken as %s", d.Substance, d.Assumed), "read form and assay from the label or certificate of the lot", commonPractice)
		}
		if !concentrated(d.Goods) || d.Amount == 0 {
			continue
		}
		severity, by := Error, "no trained person is named"
		if c.p.Plan.Trained != "" {
			severity, by = Warning, "to be handled by "+c.p.Plan.Trained
		}
		c.add(severity, "dose/acid-strength", fmt.Sprintf("%s %s is a concentrated mineral acid; %s", d.Name, d.StrengthText(), by),
			"buy it diluted and food grade, or name a trained person with goggles, gloves and apron; acid into water; follow the safety data sheet and the local code", commonPractice)
	}
}

// apart reports whether two doses are given in steps that never meet.
func apart(a, b *Dose) bool { return a.Stage != "" && b.Stage != "" && a.Stage != b.Stage }

func (c *checker) incompatible() {
	acid, base, sulfite := c.kinds()
	if acid != nil && sulfite != nil && !apart(acid, sulfite) {
		c.add(Error, "dose/incompatible", fmt.Sprintf("%s and %s in one step give sulfur dioxide, a gas that hurts the lungs", acid.Name, sulfite.Name),
			"take the chlorine away first, alone and with fresh air; dose acid in a later step", sourceIncompat)
	}
	if acid != nil && base != nil {
		c.add(Error, "dose/lime-base", fmt.Sprintf("%s and %s in one change undo each other", acid.Name, base.Name), "choose one of the two", commonPractice)
	}
}

func (c *checker) gypsum() {
	grams := 0.0 // as the dihydrate, g/L
	for _, d := range c.p.Doses {
		s, ok := substance.ByKey(d.Substance)
		if !ok || s.MolesOf("calcium") == 0 || s.MolesOf("sulfate") == 0 {
			continue
		}
		if moles, err := d.molesPerUnit(d.Percent); err == nil {
			grams += moles * d.PerLitre() * 172.164 // g/mol of CaSO4.2H2O, IUPAC weights
		}
	}
	switch {
	case grams > GypsumMost:
		c.add(Error, "dose/gypsum", fmt.Sprintf("%s g/L gypsum is more than water takes up (%g g/L)", water.Round(grams, 3), GypsumMost), "use less, or calcium chloride for the calcium", sourceGypsum)
		return
	case grams >= GypsumWarning:
		c.add(Warning, "dose/gypsum", fmt.Sprintf("%s g/L gypsum dissolves slowly in cold water (from %g g/L on)", water.Round(grams, 3), GypsumWarning), "stir long, split the dose, or use calcium chloride for part of the calcium", sourceGypsum)
	}
	if c.balance == nil {
		return
	}
	for _, u := range c.balance.Undissolved {
		if s, ok := substance.ByKey(u.Substance); ok && s.MolesOf("sulfate") > 0 {
			c.add(Error, "dose/gypsum", fmt.Sprintf("%s g of the %s stay undissolved beside the calcium and sulfate of the water", water.Round(u.Grams, 2), s.Name), "use less", sourceGypsum)
		} else {
			c.add(Warning, "dose/lime-base", fmt.Sprintf("%s g of the %s (%s %%) stay undissolved", water.Round(u.Grams, 2), s.Name, water.Round(100*u.Part, 2)),
				"chalk dissolves only with acid or carbon dioxide; baking soda dissolves at once", "equilibrium with calcite, Plummer & Busenberg 1982")
		}
	}
}

func (c *checker) acid() {
	acid, _, _ := c.kinds()
	if acid == nil {
		return
	}
	if v, err := c.p.Value(water.Alkalinity); err == nil {
		text := water.Round(v.Value, 3)
		switch {
		case v.Value < 0:
			c.add(Error, "dose/over-acid", fmt.Sprintf("alkalinity would be %s mg/L CaCO3: the acid is more than the water holds", text), "halve the dose, measure, continue", sourceAlkalinity)
		case v.Value < AlkalinityWarning:
			c.add(Warning, "dose/over-acid", fmt.Sprintf("alkalinity would be %s mg/L CaCO3, under %d", text, AlkalinityWarning), "halve the dose, measure, continue", sourceAlkalinity)
		}
	}
	if c.balance != nil && c.balance.PH.Value < 4.5 {
		c.add(Error, "dose/over-acid", fmt.Sprintf("pH of the liquor would be %s, under 4.5", water.Round(c.balance.PH.Value, 3)), "halve the dose, measure, continue", sourceAlkalinity)
	}
	lactate, _ := c.p.Acid("lactate")
	if lactate > lactateTasteWarning {
		c.add(Warning, "dose/anion-from-acid", fmt.Sprintf("%s mg/L lactate can be tasted (from %d to %d mg/L on)", water.Round(lactate, 3), lactateTasteWarning, LactateTaste), "dilute the water, or use another acid for a part", sourceLactate)
	}
	if phosphate, _ := c.p.Acid("phosphate"); phosphate > 0 {
		if v, err := c.p.Value(water.Calcium); err == nil && v.Value > 50 {
			c.add(Warning, "dose/anion-from-acid", fmt.Sprintf("%s mg/L phosphate beside %s mg/L calcium can throw down calcium phosphate", water.Round(phosphate, 2), water.Round(v.Value, 3)),
				"expect less calcium than computed, or use lactic acid", "calcium phosphates are sparingly soluble; the 50 mg/L are common practice, no source")
		}
	}
}

func (c *checker) base() {
	_, base, _ := c.kinds()
	if base != nil && c.balance != nil && c.balance.PH.Value > 10 {
		c.add(Error, "dose/lime-base", fmt.Sprintf("pH would be %s, over 10", water.Round(c.balance.PH.Value, 3)), "use less, in steps, and measure; softening with lime is another procedure", commonPractice)
	}
}

func (c *checker) sulfite() {
	_, _, sulfite := c.kinds()
	if sulfite == nil {
		return
	}
	if sulfite.Over() {
		c.add(Warning, "dose/sulfite", fmt.Sprintf("%s %s %s is more than %g times what the chlorine of the blend takes up (%s %s)", sulfite.AmountText(), sulfite.Unit, sulfite.Name, SulfiteFactor, floorText(sulfite.Most), sulfite.Unit),
			"dose on total chlorine as measured today", sourceDechlorination)
	}
	if fine := sulfite.step(); fine < sulfite.Step {
		stock := sulfite.Amount * 100 // mL of a solution of 10 g in 1 L, where the goods are weighed
		help := "weigh it on a scale that reads " + fmt.Sprintf("%.3g %s", fine, sulfite.Unit)
		if sulfite.Unit == water.Gram {
			help += fmt.Sprintf(", or dissolve 10 g in 1 L of cold water, fresh and labelled, and measure out %s mL of that", water.Round(stock, 3))
		}
		c.add(Warning, "dose/sulfite", fmt.Sprintf("%s %s of %s is finer than the step of %g %s that scale or cylinder has", sulfite.AmountText(), sulfite.Unit, sulfite.Name, sulfite.Step, sulfite.Unit), help, commonPractice)
	}
	if r := c.p.Removal(); r != nil && r.ChlorineLeft > LeastChlorine/10 {
		c.add(Warning, "dose/sulfite", fmt.Sprintf("%s %s %s is less than the chlorine of the blend takes up (%s %s): %s mg/L would be left", sulfite.AmountText(), sulfite.Unit, sulfite.Name, water.Round(r.Theory, 3), sulfite.Unit, water.Round(r.ChlorineLeft, 2)),
			"dose on total chlorine as measured today, and measure that it is gone", sourceDechlorination)
	}
	left, _ := c.p.Acid("sulfite")
	if as := left / massSulfite * massSulfurDioxide; as > 10 {
		c.add(Warning, "dose/sulfite", fmt.Sprintf("%s mg/L SO2 would be left, over 10", water.Round(as, 3)), "use less; sulfites are an allergen that must be declared; follow the local code", sourceSulfite)
	}
}

func (c *checker) ions() {
	for _, b := range brewingMost {
		v, err := c.p.Value(b.id)
		if err != nil {
			continue
		}
		switch {
		case v.Value > b.most:
			help := "use less, or more of a softer water, unless the style asks for it"
			if b.legal > 0 && v.Value > b.legal {
				help += "; drinking water: " + b.law
			}
			c.add(Warning, "dose/ion-max", fmt.Sprintf("%s would be %s mg/L, over %g", b.id, water.Round(v.Value, 3), b.most), help, sourceBrewing)
		case b.legal > 0 && v.Value > b.legal:
			c.add(Warning, "dose/ion-max", fmt.Sprintf("%s would be %s mg/L, over the %g of drinking water", b.id, water.Round(v.Value, 3), b.legal), "a brewing liquor may pass it by decision; follow the local code", b.law)
		}
	}
}

// bounds reports a dose over its own upper bound where no rule above has said so.
func (c *checker) bounds() {
	for i := range c.p.Doses {
		d := &c.p.Doses[i]
		s, ok := substance.ByKey(d.Substance)
		if !ok || !d.Over() || s.Kind == substance.Sulfite || d.Why == alkalinityGone {
			continue
		}
		c.add(Warning, "dose/ion-max", fmt.Sprintf("%s %s %s is over its upper bound of %s %s for %g L: %s", d.AmountText(), d.Unit, d.Name, floorText(math.Max(0, d.Most)), d.Unit, d.Volume, d.Why), "use less", commonPractice)
	}
}
