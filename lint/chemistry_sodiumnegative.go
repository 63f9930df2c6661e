package lint

import (
	"math"

	"wj/water"
)

var chemistrySodiumNegative = &Rule{
	Name: "chemistry/sodium-negative", Severity: Warning, Scope: Session, Reach: OfRecord, Check: checkSodiumNegative,
	Title: "the anions cannot pay for the hardness: sodium by difference is surely negative",
}

func checkSodiumNegative(p *Pass) {
	quick := p.Values()
	if quick.Has(water.Sodium) || !(quick.Number(water.Sodium) < 0) {
		return
	}
	a := p.Analysis()
	na, err := a.Derive(water.Sodium)
	if err != nil {
		return
	}
	// The readings are what is asked about: unmeasured potassium makes it less still, and of unmeasured nitrate the help speaks.
	unmeasured := max(0, a.UnmeasuredCharge()) * water.Sodium.Info().MolarMass
	if na.U = math.Sqrt(max(0, na.U*na.U-unmeasured*unmeasured)); na.Value >= -2*na.U {
		return
	}
	p.Report(p.Session.Path, []string{"readings"}, "sodium by difference is %s, and no water has less than none", spread(water.Sodium, na.Value, na.U)).
		Help("hardness is too high, or alkalinity, chloride or sulfate too low: compare each with the site's usual value and repeat the one that is off; unmeasured nitrate of 50 mg/L makes 18 mg/L of it")
}
