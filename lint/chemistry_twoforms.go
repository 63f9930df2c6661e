package lint

import (
	"slices"

	"wj/journal"
	"wj/water"
)

var chemistryTwoForms = &Rule{
	Name: "chemistry/two-forms", Severity: Warning, Scope: Session, Reach: OfRecord, Check: checkTwoForms,
	Title: "two forms of one value contradict each other by more than the tests can err",
}

// checkTwoForms adjusts all forms of calcium, magnesium, hardness and alkalinity
// together (water.ReconcileForms) and reports where they cannot agree. Where
// charge balance or conductivity know which is off, it says so.
func checkTwoForms(p *Pass) {
	q := p.Values()
	calcium, magnesium := q.Has(water.Calcium), q.Has(water.Magnesium)
	twice := calcium && q.Has(water.CalciumHardness) || magnesium && q.Has(water.MagnesiumHardness) || q.Has(water.Alkalinity) && q.Has(water.Bicarbonate) ||
		q.Has(water.TotalHardness) && (calcium || q.Has(water.CalciumHardness)) && (magnesium || q.Has(water.MagnesiumHardness))
	if !twice {
		return
	}
	a := p.Analysis()
	r, ok := water.ReconcileForms(a)
	if !ok || r.Fits() {
		return
	}
	odd := r.Misfits
	if all, ok := water.Reconcile(a); ok && len(all.Misfits) == 1 {
		odd = all.Misfits
	}
	at := &p.Session.Readings[slices.IndexFunc(p.Session.Readings, func(r journal.Reading) bool { return slices.Contains(odd, r.Analyte) })]
	f := p.ReportReading(p.Session, at, "value", "readings contradict each other: %s", r.Contradiction())
	if len(odd) == 1 {
		f.Help("%s fits the other readings least: check its unit and basis, then repeat it", odd[0])
		return
	}
	f.Help("check unit and basis of each against the certificate or the display, then repeat the one that is off; charge balance and conductivity cannot say which")
}
