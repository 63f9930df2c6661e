package lint

import (
	"strings"

	"wj/journal"
	"wj/water/substance"
)

var doseAcidStrength = &Rule{
	Name: "dose/acid-strength", Severity: Error, Scope: Whole, Check: checkDoseAcidStrength,
	Title: "a concentrated mineral acid without a named person, a witness and a word on protection",
	Settings: []Threshold{
		{"hydrochloric", "30 %", "%", "from this strength on, w/w"},
		{"phosphoric", "75 %", "%", "from this strength on, w/w"},
		{"sulfuric", "0 %", "%", "from this strength on, w/w: any"},
	},
}

// checkDoseAcidStrength: the strengths are common practice, no source; safety
// data sheets and the local code come first.
func checkDoseAcidStrength(p *Pass) {
	p.eachAddition(func(path string, keys []string, a *journal.Addition, sub substance.Substance) {
		name, mineral := strings.CutSuffix(sub.Key, "_acid")
		if !mineral || name != "hydrochloric" && name != "phosphoric" && name != "sulfuric" {
			return
		}
		text := a.Strength
		if lot, ok := p.Journal.Lots.Get(a.Lot); ok && text == "" {
			text = lot.Strength
		}
		st, ok := parseStrength(text)
		if !ok {
			return // additive/form says so
		}
		percent, err := sub.WeightPercent(st)
		if err != nil || percent < p.Setting(name) || a.Note != "" {
			return
		}
		missing := []string{"a note on the addition that names goggles, gloves and apron"}
		if f, ok := journal.FileOf(path); ok && f.Kind == journal.KindBatch {
			b, _ := p.Journal.Batches.Get(f.ID)
			if b != nil && b.DosedBy == "" {
				missing = append(missing, "dosed_by")
			}
			if b != nil && b.WitnessedBy == "" {
				missing = append(missing, "witnessed_by")
			}
		}
		p.Report(path, keys, "%s of %s at %s is a concentrated mineral acid; missing: %s", amount(a), sub.Name, text, strings.Join(missing, ", ")).
			Help("better: buy food-grade acid already diluted. Acid into water, never water into acid; a trained person with goggles, gloves and apron, a second one beside; follow the data sheet and the local code")
	})
}
