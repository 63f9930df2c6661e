package lint

import (
	"strings"

	"wj/water/substance"
	"wj/water/treat"
)

var doseAcidStrength = &Rule{
	Name: "dose/acid-strength", Severity: Error, Scope: Whole, Reach: OfRecord, Check: checkDoseAcidStrength,
	Title: "a concentrated mineral acid without a named person, a witness and a word on protection",
	Settings: []Threshold{
		{"hydrochloric", "30 %", "%", "from this strength on, w/w"},
		{"phosphoric", "75 %", "%", "from this strength on, w/w"},
		{"sulfuric", "0 %", "%", "from this strength on, w/w: any"},
	},
}

// checkDoseAcidStrength is content with a note on the addition. The strengths
// are common practice, no source; safety data sheets and the local code come
// first.
func checkDoseAcidStrength(p *Pass) {
	p.eachCaution(func(d *dosed, c *treat.Caution) {
		if c.Severity != treat.Error || len(c.Of) == 0 {
			return
		}
		sub, _ := substance.ByKey(c.Of[0])
		a := d.addition(sub.Key)
		if a == nil {
			return
		}
		text := a.Strength
		if lot, ok := p.Journal.Lots.Get(a.Lot); ok && text == "" {
			text = lot.Strength
		}
		missing := []string{"a note on the addition that names goggles, gloves and apron"}
		if d.batch != nil && d.batch.DosedBy == "" {
			missing = append(missing, "dosed_by")
		}
		if d.batch != nil && d.batch.WitnessedBy == "" {
			missing = append(missing, "witnessed_by")
		}
		p.Report(d.path, []string{d.key, sub.Key}, "%s of %s at %s is a concentrated mineral acid; missing: %s", amount(a), sub.Name, text, strings.Join(missing, ", ")).
			Help("better: buy food-grade acid already diluted. Acid into water, never water into acid; a trained person with goggles, gloves and apron, a second one beside; follow the data sheet and the local code (%s)", c.Source)
	})
}
