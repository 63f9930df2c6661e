package lint

import (
	"math"

	"wj/journal"
	"wj/water"
)

var chemistryPartOfWhole = &Rule{
	Name: "chemistry/part-of-whole", Severity: Error, Scope: Session, Reach: OfRecord, Check: checkPartOfWhole,
	Title: "a part is larger than the whole that it belongs to",
}

// checkPartOfWhole compares parts with wholes; a part may exceed its whole by
// twice the standard uncertainty of their difference (GUM 6.3.3). The idea is
// that of ASTM D596: a whole is at least the sum of its parts.
func checkPartOfWhole(p *Pass) {
	q := p.Values()
	free, total := q.Number(water.FreeChlorine), q.Number(water.TotalChlorine)
	if q.Has(water.FreeChlorine) && q.Has(water.TotalChlorine) && free > total {
		p.part(water.FreeChlorine, water.TotalChlorine, func(a *water.Analysis) float64 {
			return a.Number(water.FreeChlorine) - a.Number(water.TotalChlorine)
		}, "were the two readings swapped? test total chlorine again, a few minutes after free")
	}
	if q.Has(water.MagnesiumHardness) && q.Has(water.TotalHardness) && q.Number(water.MagnesiumHardness) > q.Number(water.TotalHardness) {
		p.part(water.MagnesiumHardness, water.TotalHardness, func(a *water.Analysis) float64 {
			return a.Number(water.MagnesiumHardness) - a.Number(water.TotalHardness)
		}, "check unit and basis of both, then repeat")
	}
	if q.Has(water.Magnesium) && q.Has(water.TotalHardness) && q.Number(water.MagnesiumHardness) > q.Number(water.TotalHardness) {
		p.part(water.Magnesium, water.TotalHardness, func(a *water.Analysis) float64 {
			return a.Number(water.MagnesiumHardness) - a.Number(water.TotalHardness)
		}, "check unit and basis of both, then repeat")
	}
	if q.Has(water.Bicarbonate) && q.Has(water.Alkalinity) && q.Number(water.Bicarbonate)*perBicarbonate > q.Number(water.Alkalinity) {
		p.part(water.Bicarbonate, water.Alkalinity, func(a *water.Analysis) float64 {
			return a.Number(water.Bicarbonate)*perBicarbonate - a.Number(water.Alkalinity)
		}, "bicarbonate in mg/L is 1.22 times the alkalinity in mg/L CaCO3: is one of them in the other's unit?")
	}
}

// perBicarbonate is mg/L CaCO3 per mg/L HCO3: 50.043/61.016 (Hem 1985, USGS
// Water-Supply Paper 2254, p. 57).
const perBicarbonate = 50.043 / 61.016

func (p *Pass) part(part, whole water.ID, over func(*water.Analysis) float64, help string) {
	a := p.Analysis()
	excess, u := over(a), a.Spread([]water.ID{part, whole}, over)
	if math.IsNaN(excess) || excess <= 2*u {
		return
	}
	r, _ := p.Session.Reading(part)
	w, _ := p.Session.Reading(whole)
	p.ReportReading(p.Session, r, "value", "%s of %s is more than %s of %s, which holds it", journal.TypedReading(r), part, journal.TypedReading(w), whole).
		See(p.Session.Path, []string{"readings", whole.String()}, "the whole").Help("%s", help)
}
