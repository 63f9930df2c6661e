package lint

import (
	"wj/journal"
	"wj/water"
)

var chemistryCalciumOverTotal = &Rule{
	Name: "chemistry/calcium-over-total", Severity: Error, Scope: Session, Reach: OfRecord, Check: checkCalciumOverTotal,
	Title: "calcium hardness is larger than total hardness, by more than the tests can err",
}

// checkCalciumOverTotal holds derived magnesium against zero: it may fall
// below it by twice its standard uncertainty (GUM 6.3.3), no more.
func checkCalciumOverTotal(p *Pass) {
	quick := p.Values()
	if quick.Has(water.Magnesium) || quick.Has(water.MagnesiumHardness) || !(quick.Number(water.MagnesiumHardness) < 0) {
		return
	}
	a, s := p.Analysis(), p.Session
	mg, err := a.Derive(water.MagnesiumHardness)
	if err != nil || mg.Value >= -2*mg.U {
		return
	}
	total, ok := s.Reading(water.TotalHardness)
	calcium, ok2 := s.Reading(water.CalciumHardness)
	if !ok2 {
		calcium, ok2 = s.Reading(water.Calcium)
	}
	if !ok || !ok2 {
		return
	}
	ca, th := a.Number(water.CalciumHardness), a.Number(water.TotalHardness)
	f := p.ReportReading(s, calcium, "value", "%s of %s is %s, more than the total hardness of %s by %s times; magnesium would be %s",
		journal.TypedReading(calcium), calcium.Analyte, show(water.CalciumHardness, ca), journal.TypedReading(total), water.Round(ca/th, 3), spread(water.MagnesiumHardness, mg.Value, mg.U)).
		See(s.Path, []string{"readings", "total_hardness"}, "the total hardness")
	switch ratio := ca / th; {
	case calcium.First.Unit.Basis() == water.AsCa && ratio > 1.2 && ratio < 2.6:
		f.Help("as mg/L CaCO3 the number would fit: %s of %s; is the unit what the display showed? if so, repeat both tests", water.Round(ca*asCalcium, 3), water.Round(th, 3))
	default:
		f.Help("were the two reagents swapped, or the numbers? repeat both tests with clean cells before either is used")
	}
}

// asCalcium is mg/L Ca per mg/L CaCO3: 40.078/100.086 (IUPAC 2021 weights).
const asCalcium = 40.078 / 100.086
