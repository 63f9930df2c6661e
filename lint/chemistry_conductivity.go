package lint

import (
	"math"

	"wj/water"
)

var chemistryConductivity = &Rule{
	Name: "chemistry/conductivity", Severity: Warning, Scope: Session, Check: checkConductivity,
	Title: "the ions do not explain the measured conductivity",
	Settings: []Threshold{
		{"lab", "10 %", "%", "allowed difference of a laboratory's analysis"},
		{"bench", "15 %", "%", "allowed difference of bench tests"},
	},
}

// checkConductivity compares calculated with measured conductivity at 25 degC
// (SM 2510 A.3; SM 1030 E asks for a ratio of 0.9 to 1.1, from memory). Below
// 50 uS/cm the calculation and the pen say too little.
func checkConductivity(p *Pass) {
	q := p.Values()
	measured := q.Number(water.ElectricalConductivity)
	if !q.Has(water.ElectricalConductivity) || measured < 50 {
		return
	}
	limit := p.Setting("bench")
	if !bench(p.Session) {
		limit = p.Setting("lab")
	}
	quick := *q // a copy without the reading, so that the value is derived
	quick.Set(water.ElectricalConductivity, water.Measured{Bound: water.Below})
	computed := quick.Number(water.ElectricalConductivity)
	if math.IsNaN(computed) || math.Abs(computed-measured) <= limit/100*measured {
		return
	}
	a := p.Analysis()
	m, _ := a.Measured(water.ElectricalConductivity)
	c, err := a.Derive(water.ElectricalConductivity)
	if err != nil || math.Abs(c.Value-m.Value) <= 2*math.Hypot(c.U, m.U) {
		return
	}
	r, _ := p.Session.Reading(water.ElectricalConductivity)
	f := p.ReportReading(p.Session, r, "value", "the ions make %s, measured is %s: %s times, allowed is %s to %s", spread(water.ElectricalConductivity, c.Value, c.U), r.First,
		water.Round(c.Value/m.Value, 3), water.Round(1-limit/100, 3), water.Round(1+limit/100, 3))
	if c.Value > m.Value {
		f.Help("one of the larger ions is too high, or the pen reads low: check it in a conductivity standard, and its temperature compensation to 25 degC")
		return
	}
	f.Help("an ion is missing or too low, or the pen reads high: check it in a conductivity standard; sodium, potassium and nitrate that were not measured enter only by difference")
}
