package lint

import (
	"wj/journal"
	"wj/water/substance"
)

var doseSulfite = &Rule{
	Name: "dose/sulfite", Severity: Warning, Scope: Whole, Check: checkDoseSulfite,
	Title:    "more metabisulfite than the chlorine of the water needs",
	Settings: []Threshold{{"excess", "1.1", "", "times what the total chlorine needs"}},
}

// checkDoseSulfite: one mole of sulfite takes one of chlorine (HSO3- + HOCl),
// so a mole of metabisulfite takes two, 1.34 mg of the sodium salt a mg of Cl2.
func checkDoseSulfite(p *Pass) {
	p.eachMix(func(c *journal.Change, m mixture) {
		if m.sulfite == "" {
			return
		}
		chlorine, ok := m.blend["total_chlorine"]
		if !ok {
			chlorine, ok = m.blend["free_chlorine"]
		}
		if !ok {
			p.Report(c.Path, []string{"add", m.sulfite}, "%s is dosed, and no session of the basis measured chlorine", m.sulfite).
				Help("measure total chlorine of each basis water: without it the dose is a guess, and sulfite left over harms yeast and people")
			return
		}
		sub, _ := substance.ByKey(m.sulfite)
		for i := range c.Add {
			a := &c.Add[i]
			if a.Substance != m.sulfite {
				continue
			}
			moles, err := p.moles(a, sub)
			need := chlorine / 1000 / 70.90 / 2 * m.litres
			if err != nil || moles <= p.Setting("excess")*need {
				continue
			}
			residue := 1000 * (moles - need) * 2 * 64.06 / m.litres
			p.Report(c.Path, []string{"add", m.sulfite}, "%s is more than the %s mg/L of chlorine need by %s times; %s mg/L of sulfur dioxide would be left", amount(a), plain(chlorine), ratioText(moles, need), plain(residue)).
				Help("dose on total chlorine and test that it is gone; sulfites are an allergen, with a duty to declare from 10 mg/kg in many countries: follow the local code")
		}
	})
}

func ratioText(have, need float64) string {
	if need <= 0 {
		return "more than any number of"
	}
	return plain(have / need)
}
