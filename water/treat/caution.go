package treat

import (
	"fmt"
	"math"
	"slices"
	"strings"

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
	Of       []string // the keys of the substances that it is about; nil: of the whole
}

// Sources.
const (
	commonPractice       = "common practice, no source"
	sourceGypsum         = "solubility of gypsum: Nordstrom et al. 1990, 2.4 g per kg water at 10 degC; the warning is common practice, no source"
	sourceAlkalinity     = "common practice, no source: without alkalinity a small error of dose moves the pH far"
	sourceLactate        = "opinion: lactate can be tasted from 250 to 400 mg/L, no source"
	sourceIncompat       = "safety data sheets of metabisulfites: contact with acids liberates toxic gas"
	sourceDechlorination = "AWWA, Disinfection of Pipelines and Storage Facilities Field Guide, table 7-2: 1.47 mg per mg chlorine, 1.10 times theory"
	sourceBrewing        = "opinion: ranges of brewing handbooks, no source"
	sourceSulfite        = "declaration of sulfites over 10 mg/kg as SO2: Regulation (EU) No 1169/2011, Annex II"
)

// Hazard ranks goods by what they can do to the person who handles them, 0 to 5. The ranking is this project's own: salts 0;
// salts that heat, and mild bases 1; weak or diluted acids and strong bases 2; diluted mineral acid 3; strong phosphoric acid
// and sulfites 4; concentrated mineral acids 5.
func Hazard(g Product) int {
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
	case DefaultLimits().concentrated(g):
		if g.Substance == "phosphoric_acid" {
			return 4
		}
		return 5
	case g.Substance == "hydrochloric_acid":
		return 3
	}
	return 2
}

// Check looks for everything that should stop a person or make one think. balance may be nil: what needs the pH is then not
// checked. The rules are pure: a linter and a command show the same cautions.
func (l Limits) Check(p *Prediction, balance *Equilibrium) []Caution {
	c := checker{limits: l, p: p, balance: balance, doses: p.Doses, trained: p.Plan.Trained}
	c.together()
	c.gypsum()
	c.acid()
	c.base()
	c.sulfite()
	c.ions()
	c.bounds()
	return c.list
}

// Together looks at additions alone, of which neither the water nor the volume is known: what is dangerous to handle, and
// what must not meet.
func (l Limits) Together(list []Addition) []Caution {
	c := checker{limits: l}
	for _, a := range list {
		if s, err := a.Entry(); err == nil {
			c.doses = append(c.doses, Dose{Addition: a, Name: s.Name})
		}
	}
	c.together()
	return c.list
}

type checker struct {
	limits  Limits
	p       *Prediction // nil where only the doses are known
	balance *Equilibrium
	doses   []Dose
	trained string
	over    []water.ID // the ions that are over a limit
	list    []Caution
}

// add appends a caution about some of the doses; nil: about the whole.
func (c *checker) add(severity Severity, rule string, of []*Dose, message, help, source string) {
	caution := Caution{Severity: severity, Rule: rule, Message: message, Help: help, Source: source}
	for _, d := range of {
		caution.Of = append(caution.Of, d.Substance)
	}
	c.list = append(c.list, caution)
}

// those are the doses whose substances answer a question.
func (c *checker) those(is func(s substance.Substance) bool) []*Dose {
	var out []*Dose
	for i := range c.doses {
		if s, err := c.doses[i].Entry(); err == nil && c.doses[i].Amount > 0 && is(s) {
			out = append(out, &c.doses[i])
		}
	}
	return out
}

func (c *checker) kind(k substance.Kind) []*Dose {
	return c.those(func(s substance.Substance) bool { return s.Kind == k })
}

func names(doses []*Dose) string {
	list := make([]string, len(doses))
	for i, d := range doses {
		list[i] = d.Name
	}
	return strings.Join(list, " and ")
}

// together is what needs no water.
func (c *checker) together() {
	for i := range c.doses {
		d := &c.doses[i]
		if d.Assumed != "" {
			c.add(Warning, "additive/form", []*Dose{d}, fmt.Sprintf("%s: nothing declared, taken as %s", d.Substance, d.Assumed), "read form and assay from the label or certificate of the lot", commonPractice)
		}
		if !c.limits.concentrated(d.Product) || d.Amount == 0 {
			continue
		}
		severity, by := Error, "no trained person is named"
		for _, name := range []string{d.Trained, c.trained} {
			if name != "" {
				severity, by = Warning, "to be handled by "+name
				break
			}
		}
		c.add(severity, "dose/acid-strength", []*Dose{d}, fmt.Sprintf("%s %s is a concentrated mineral acid; %s", d.Name, d.StrengthText(), by),
			"buy it diluted and food grade, or name a trained person with goggles, gloves and apron, a second one beside; acid into water, never water into acid; follow the safety data sheet and the local code", commonPractice)
	}
	acids := c.kind(substance.Acid)
	for _, sulfite := range c.kind(substance.Sulfite) {
		if met := meets(sulfite, acids); len(met) > 0 {
			c.add(Error, "dose/incompatible", append([]*Dose{sulfite}, met...), fmt.Sprintf("%s and %s in one step give sulfur dioxide, a gas that hurts the lungs", names(met), sulfite.Name),
				"take the chlorine away first, alone, in cold water, with fresh air and nobody with asthma; rinse what it was measured in; dose acid in a later step, and give each its stage", sourceIncompat)
		}
	}
	for _, base := range c.kind(substance.Base) {
		if met := meets(base, acids); len(met) > 0 {
			c.add(Error, "dose/lime-base", append([]*Dose{base}, met...), fmt.Sprintf("%s and %s in one change undo each other, and together they spit", names(met), base.Name),
				"choose one of the two; for softening in two steps give each its stage", commonPractice)
		}
	}
}

// meets lists the doses that are given in the same step as another one.
func meets(a *Dose, list []*Dose) []*Dose {
	var out []*Dose
	for _, b := range list {
		if a.Stage == "" || b.Stage == "" || a.Stage == b.Stage {
			out = append(out, b)
		}
	}
	return out
}

func (c *checker) gypsum() {
	doses := c.those(func(s substance.Substance) bool { return s.MolesOf("calcium") > 0 && s.MolesOf("sulfate") > 0 })
	grams := 0.0 // as the dihydrate, g/L
	for _, d := range doses {
		if moles, err := d.molesPerUnit(d.Percent); err == nil {
			grams += moles * d.PerLitre() * 172.164 // g/mol of CaSO4.2H2O, IUPAC weights
		}
	}
	switch {
	case grams > c.limits.GypsumMost:
		c.add(Error, "dose/gypsum", doses, fmt.Sprintf("%s g/L gypsum is more than water takes up (%g g/L)", water.Round(grams, 3), c.limits.GypsumMost), "use less, or calcium chloride for the calcium: the rest lies on the bottom and in the next batch", sourceGypsum)
		return
	case grams >= c.limits.GypsumSlow:
		c.add(Warning, "dose/gypsum", doses, fmt.Sprintf("%s g/L gypsum dissolves slowly in cold water (from %g g/L on)", water.Round(grams, 3), c.limits.GypsumSlow), "stir long, split the dose, or use calcium chloride for part of the calcium", sourceGypsum)
	}
	if c.balance == nil {
		return
	}
	for _, u := range c.balance.Undissolved {
		s, ok := substance.ByKey(u.Substance)
		if !ok {
			continue
		}
		of := c.those(func(x substance.Substance) bool { return x.Key == s.Key })
		if s.MolesOf("sulfate") > 0 {
			c.add(Error, "dose/gypsum", of, fmt.Sprintf("%s g of the %s stay undissolved beside the calcium and sulfate of the water", water.Round(u.Grams, 2), s.Name), "use less", sourceGypsum)
		} else {
			c.add(Warning, "dose/lime-base", of, fmt.Sprintf("%s g of the %s (%s %%) stay undissolved", water.Round(u.Grams, 2), s.Name, water.Round(100*u.Part, 2)),
				"chalk dissolves only with acid or carbon dioxide; baking soda dissolves at once", "equilibrium with calcite, Plummer & Busenberg 1982")
		}
	}
}

func (c *checker) acid() {
	acids := c.kind(substance.Acid)
	if len(acids) == 0 {
		return
	}
	// What the anion of a weak acid gives back to a titration is no buffer: the water's own alkalinity counts.
	const help = "halve the dose, mix, measure pH and alkalinity, continue; check strength and volume: is it % w/w, and litres or hectolitres?"
	if c.p.Plan.IntoMash && c.p.Plan.Mash != nil {
		c.intoMash(acids)
	} else if own, ok := c.p.ownAlkalinity(); ok {
		text := water.Round(own, 3)
		if before, err := c.p.Blend(water.Alkalinity); err == nil {
			text += " instead of " + water.Round(before.Value, 3)
		}
		low := ""
		if c.balance != nil && c.balance.PH.Value < c.limits.LowestPH {
			low = fmt.Sprintf("pH of the liquor would be %.2f, under %g", c.balance.PH.Value, c.limits.LowestPH)
		}
		switch { // one dose is reported once, by the graver of the two
		case own < 0:
			message := fmt.Sprintf("the water's own alkalinity would be %s mg/L CaCO3: the acid is more than the water holds, and the pH falls without a stop", text)
			if low != "" {
				message += "; " + low
			}
			c.add(Error, "dose/over-acid", acids, message, help, sourceAlkalinity)
		case low != "":
			c.add(Error, "dose/over-acid", acids, low, help, sourceAlkalinity)
		case own < c.limits.LeastAlkalinity:
			c.add(Warning, "dose/over-acid", acids, fmt.Sprintf("the water's own alkalinity would be %s mg/L CaCO3, under %g", text, c.limits.LeastAlkalinity), help, sourceAlkalinity)
		}
	}
	if lactate, _ := c.p.Acid("lactate"); lactate > c.limits.Lactate {
		c.add(Warning, "dose/anion-from-acid", c.those(func(s substance.Substance) bool { return s.MolesOf("lactate") > 0 }),
			fmt.Sprintf("the liquor would hold %s mg/L lactate, over %g: it can be tasted", water.Round(lactate, 3), c.limits.Lactate), "dilute the water, or use another food-grade acid for a part; a sour beer may want it", sourceLactate)
	}
	if phosphate, _ := c.p.Acid("phosphate"); phosphate > 0 {
		if v, err := c.p.Value(water.Calcium); err == nil && v.Value > 50 {
			c.add(Warning, "dose/anion-from-acid", c.those(func(s substance.Substance) bool { return s.MolesOf("phosphate") > 0 }),
				fmt.Sprintf("%s mg/L phosphate beside %s mg/L calcium can precipitate calcium phosphate", water.Round(phosphate, 2), water.Round(v.Value, 3)),
				"expect less calcium than computed, or use lactic acid", "calcium phosphates are sparingly soluble; the 50 mg/L are common practice, no source")
		}
	}
}

// intoMash looks at acid that goes into a mash: there the malt takes what the water does not hold, so that an alkalinity below none
// is no fault. That the acid meets the malt and not the liquor alone is part of its handling.
func (c *checker) intoMash(acids []*Dose) {
	const help = "halve the dose, mix, measure the mash at 20 degC after 15 min, continue"
	pH, err := c.p.MashPoint(c.p.Plan.Mash)
	if err == nil && pH < leastMashPH {
		c.add(Error, "dose/over-acid", acids, fmt.Sprintf("the mash would come to pH %.2f, under %g", pH, leastMashPH), help, sourceAlkalinity)
	}
}

func (c *checker) base() {
	bases := c.kind(substance.Base)
	if len(bases) > 0 && c.balance != nil && c.balance.PH.Value > c.limits.HighestPH {
		c.add(Error, "dose/lime-base", bases, fmt.Sprintf("pH of the liquor would be %s, over %g", water.Round(c.balance.PH.Value, 3), c.limits.HighestPH),
			"use less, in steps, and measure; softening with lime is another procedure; lime is caustic: goggles and gloves, no dust, follow the data sheet", commonPractice)
	}
}

func (c *checker) sulfite() {
	const help = "dose on total chlorine as measured today, and measure that it is gone; sulfites are an allergen that must be declared from 10 mg/kg on in many countries; follow the local code"
	left, _ := c.p.Acid("sulfite")
	as := left / massSulfite * massSulfurDioxide
	for _, d := range c.kind(substance.Sulfite) {
		of := []*Dose{d}
		if _, unknown, _ := ChlorineIn(c.p.Plan.Waters); len(unknown) > 0 {
			c.add(Warning, "dose/sulfite", of, fmt.Sprintf("%s is dosed, and the chlorine of %s was not measured within the range of a test", d.Name, strings.Join(unknown, ", ")),
				"measure total chlorine of each water: without it the dose is a guess, and sulfite left over harms yeast and people", sourceSulfite)
			continue
		}
		if fine := d.step(); fine < d.Step {
			stock := d.Amount * 100 // mL of a solution of 10 g in 1 L, where the goods are weighed
			help := "weigh it on a scale that reads " + fmt.Sprintf("%.3g %s", fine, d.Unit)
			if d.Unit == water.Gram {
				help += fmt.Sprintf(", or dissolve 10 g in 1 L of cold water, fresh and labelled, and measure out %s mL of that", water.Round(stock, 3))
			}
			c.add(Warning, "dose/sulfite", of, fmt.Sprintf("%s %s of %s is finer than the step of %g %s that scale or cylinder has", d.AmountText(), d.Unit, d.Name, d.Step, d.Unit), help, commonPractice)
		}
		r := c.p.Removal()
		if r == nil {
			continue
		}
		if r.ChlorineLeft > LeastChlorine/10 {
			c.add(Warning, "dose/sulfite", of, fmt.Sprintf("%s %s %s is less than the chlorine of the blend takes up (%s %s): %s mg/L would be left", d.AmountText(), d.Unit, d.Name, water.Round(r.Theory, 3), d.Unit, water.Round(r.ChlorineLeft, 2)),
				"dose on total chlorine as measured today, and measure that it is gone", sourceDechlorination)
		}
		switch {
		case d.Amount > c.limits.Sulfite*r.Theory*(1+1e-9):
			c.add(Warning, "dose/sulfite", of, fmt.Sprintf("%s %s %s is more than %g times what the %s mg/L chlorine of the blend take up (%s %s): %s mg/L SO2 would be left", d.AmountText(), d.Unit, d.Name, c.limits.Sulfite,
				water.Round(r.Chlorine.Total, 2), water.Round(r.Theory, 3), d.Unit, water.Round(as, 3)), help, sourceDechlorination)
		case as > 10:
			c.add(Warning, "dose/sulfite", of, fmt.Sprintf("%s mg/L SO2 would be left, over 10", water.Round(as, 3)), help, sourceSulfite)
		}
	}
}

func (c *checker) ions() {
	for id := water.ID(0); id < water.NumAnalytes; id++ {
		most, bounded := c.limits.Most[id]
		law := c.limits.Legal[id]
		if !bounded && law.Most == 0 {
			continue
		}
		v, err := c.p.Value(id)
		if err != nil {
			continue
		}
		text := fmt.Sprintf("%s would be %s mg/L", id, water.Round(v.Value, 3))
		if before, err := c.p.Blend(id); err == nil {
			text += fmt.Sprintf(", of which the blend brings %s", water.Round(before.Value, 3))
		}
		if bounded && v.Value > most || law.Most > 0 && v.Value > law.Most {
			c.over = append(c.over, id)
		}
		switch {
		case bounded && v.Value > most:
			help := "use less, or more of a softer water, unless the style asks for it"
			if law.Most > 0 && v.Value > law.Most {
				help += "; drinking water: " + law.Law
			}
			c.add(Warning, "dose/ion-max", nil, fmt.Sprintf("%s; over %g", text, most), help, sourceBrewing)
		case law.Most > 0 && v.Value > law.Most:
			c.add(Warning, "dose/ion-max", nil, fmt.Sprintf("%s; over the %g of drinking water", text, law.Most), "a brewing liquor may pass it by decision; follow the local code", law.Law)
		}
	}
}

// bounds reports a dose over its own upper bound where no rule above has said so.
func (c *checker) bounds() {
	for i := range c.doses {
		d := &c.doses[i]
		s, ok := substance.ByKey(d.Substance)
		if !ok || !d.Over() || s.Kind == substance.Sulfite || d.Why == alkalinityGone || c.told(d, s) {
			continue
		}
		c.add(Warning, "dose/ion-max", []*Dose{d}, fmt.Sprintf("%s is over its upper bound of %s %s for %.6g L: %s", d.Name, floorText(math.Max(0, d.Most)), d.Unit, d.Volume, d.Why), "use less", commonPractice)
	}
}

// told reports whether a caution says already that there is too much of a substance: an ion that it brings is over its
// limit, or it does not dissolve.
func (c *checker) told(d *Dose, s substance.Substance) bool {
	for _, id := range c.over {
		if s.MolesOf(id.String()) > 0 {
			return true
		}
	}
	return slices.ContainsFunc(c.list, func(k Caution) bool {
		return (k.Rule == "dose/gypsum" || k.Rule == "dose/lime-base") && slices.Contains(k.Of, d.Substance)
	})
}
