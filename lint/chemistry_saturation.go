package lint

import (
	"math"

	"wj/water"
)

var chemistrySaturation = &Rule{
	Name: "chemistry/saturation", Severity: Info, Scope: Session, Reach: OfRecord, Check: checkSaturation,
	Title: "the water surely precipitates calcite, or dissolves it",
	Settings: []Threshold{
		{"scaling", "0.5", "", "saturation index above which scale is reported"},
		{"dissolving", "2", "", "how far below zero the index must be"},
		{"alkalinity", "20", "", "softer waters dissolve anyway and are passed over, mg/L CaCO3"},
	},
}

// checkSaturation shows an index that is beyond its bound by its own 95 %
// half-width: pH ± 0.15 alone makes anything between -0.3 and 0.3 unknown (SM
// 2330 B; Plummer & Busenberg 1982).
func checkSaturation(p *Pass) {
	q := p.Values()
	if !(q.Number(water.Alkalinity) >= p.Setting("alkalinity")) {
		return
	}
	pH, ok := p.Session.Reading(water.PHValue)
	if !ok {
		return
	}
	u, _ := p.Journal.Uncertainty(p.Session, pH) // the index errs by at least what the pH does
	if si := roughSaturation(q); !(si+0.3-2*u > p.Setting("scaling") || si-0.3+2*u < -p.Setting("dissolving")) {
		return
	}
	v, err := p.Analysis().Derive(water.SaturationIndex)
	if err != nil {
		return
	}
	note := ""
	if v.Note != "" {
		note = " (" + v.Note + ")"
	}
	switch {
	case v.Value-2*v.U > p.Setting("scaling"):
		p.Report(p.Session.Path, []string{"readings"}, "calcite saturation index %s%s: scale is likely, more so where it is heated", spread(water.SaturationIndex, v.Value, v.U), note).
			Help("look into the hot liquor tank and the heater; the index is no warranty against corrosion either way")
	case v.Value+2*v.U < -p.Setting("dissolving"):
		p.Report(p.Session.Path, []string{"readings"}, "calcite saturation index %s%s: the water dissolves calcite", spread(water.SaturationIndex, v.Value, v.U), note).
			Help("watch concrete and mortar linings; this index does not show whether metal corrodes")
	}
}

// roughSaturation spares most sessions the full calculation: pH - pHs with pHs =
// 12.1 + 0.018 (25 - t) - log10(calcium hardness) - log10(alkalinity), both in
// mg/L CaCO3, which is Langelier's (1936) form at an ionic strength of some
// millimoles; good to about 0.3.
func roughSaturation(a *water.Analysis) float64 {
	t := 20.0
	if a.Has(water.SampleTemperature) {
		t = a.Number(water.SampleTemperature)
	}
	return a.Number(water.PHValue) - 12.1 - 0.018*(25-t) + math.Log10(a.Number(water.CalciumHardness)) + math.Log10(a.Number(water.Alkalinity))
}
