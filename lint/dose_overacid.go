package lint

import (
	"strings"

	"wj/journal"
)

var doseOverAcid = &Rule{
	Name: "dose/over-acid", Severity: Error, Scope: Whole, Check: checkDoseOverAcid,
	Title: "the acid takes more alkalinity than the water has, or nearly all of it",
	Settings: []Threshold{
		{"least", "20", "", "alkalinity that should be left, mg/L CaCO3"},
		{"pH", "4.5", "", "lowest pH of a liquor"},
	},
}

// checkDoseOverAcid is arithmetic: one equivalent of acid takes one of
// alkalinity (Standard Methods 2320); phosphoric and lactic acid count one, sulfuric two.
func checkDoseOverAcid(p *Pass) {
	p.eachMix(func(c *journal.Change, m mixture) {
		before, ok := m.blend["alkalinity"]
		after := m.after["alkalinity"]
		if !ok || !m.acid || after >= p.Setting("least") || before < p.Setting("least") {
			return
		}
		keys := []string{"add", m.acidOf[0]}
		names := strings.Join(m.acidOf, " and ")
		if pH, ok := p.pHAfter(c, m); after < 0 || ok && pH < p.Setting("pH") {
			p.Report(c.Path, keys, "%s takes the alkalinity from %s to %s mg/L CaCO3: below zero the pH falls without a stop", names, plain(round1(before)), plain(round1(after))).
				Help("at most half the dose, mix, measure pH and alkalinity, then decide; check strength and volume: is it %% w/w, and litres or hectolitres?")
			return
		}
		f := p.Report(c.Path, keys, "%s takes the alkalinity from %s to %s mg/L CaCO3; under %s a small error in strength or volume overshoots", names, plain(round1(before)), plain(round1(after)), plain(p.Setting("least"))).
			Help("give half, mix, measure, then the rest; leave some alkalinity unless the liquor is for sparging alone")
		p.as(f, Warning)
	})
}

func round1(v float64) float64 { return float64(int(v*10+sign(v)*0.5)) / 10 }

func sign(v float64) float64 {
	if v < 0 {
		return -1
	}
	return 1
}
