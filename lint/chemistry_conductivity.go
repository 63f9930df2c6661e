package lint

import (
	"math"

	"wj/journal/judge"
	"wj/water"
)

var chemistryConductivity = &Rule{
	Name: "chemistry/conductivity", Severity: Warning, Scope: Session, Reach: OfRecord, Check: checkConductivity,
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
	if !q.Has(water.ElectricalConductivity) {
		return
	}
	measured := q.Number(water.ElectricalConductivity)
	if measured < 50 {
		return
	}
	limit := p.Setting("bench")
	if !judge.Bench(p.Session) {
		limit = p.Setting("lab")
	}
	if ratio := measured / roughConductivity(q); math.IsNaN(ratio) || ratio > 1.12/(1+limit/100) && ratio < 1/(1-limit/100) {
		return
	}
	a := p.Analysis()
	m, _ := a.Measured(water.ElectricalConductivity)
	c, err := a.Derive(water.ElectricalConductivity)
	if err != nil || math.Abs(c.Value-m.Value) <= math.Max(limit/100*m.Value, 2*math.Hypot(c.U, m.U)) {
		return
	}
	r, _ := p.Session.Reading(water.ElectricalConductivity)
	f := p.ReportReading(p.Session, r, "value", "the ions make %s, measured is %s: %s times, allowed is %s to %s (SM 2510 A, 1030 E)", spread(water.ElectricalConductivity, c.Value, c.U), r.First,
		water.Round(c.Value/m.Value, 3), water.Round(1-limit/100, 3), water.Round(1+limit/100, 3))
	if c.Value > m.Value {
		f.Help("one of the larger ions is too high, or the pen reads low: check it in a conductivity standard, and its temperature compensation to 25 degC")
		return
	}
	f.Help("an ion is missing or too low, or the pen reads high: check it in a conductivity standard; sodium, potassium and nitrate that were not measured enter only by difference")
}

// roughConductivity spares most sessions the full calculation: the sum of
// limiting conductances with the correction of SM 2510 A.3 for ionic strength,
// sodium by difference. It comes out up to 12 % below the full one.
func roughConductivity(a *water.Analysis) float64 {
	const perHardness = 1 / 50.043
	hardness, alkalinity := a.Number(water.TotalHardness)*perHardness, a.Number(water.Alkalinity)*perHardness
	chloride, sulfate := a.Number(water.Chloride)/35.45, a.Number(water.Sulfate)/48.028
	sodium := math.Max(0, alkalinity+chloride+sulfate-hardness)
	k := 57*hardness + 44.5*alkalinity + 76.35*chloride + 80*sulfate + 50.11*sodium
	root := math.Sqrt((2*hardness + alkalinity + chloride + 2*sulfate + sodium) / 2000)
	y := math.Pow(10, -0.5*(root/(1+root)-0.3*root*root))
	return k * y * y
}
