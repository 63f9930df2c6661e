package lint

import (
	"math"
	"slices"

	"wj/journal"
	"wj/water"
	"wj/water/substance"
)

var additiveContradicts = &Rule{
	Name: "additive/contradicts", Severity: Error, Scope: Whole, Reach: OfRecord, Check: checkAdditiveContradicts,
	Title:    "an addition says something else of its strength or its form than the lot it was taken from",
	Settings: []Threshold{{"strength", "5 %", "%", "allowed difference of the strengths, as a part of the lot's"}},
}

// checkAdditiveContradicts holds every addition against its lot: the label decides,
// and one of the two records has misread it.
func checkAdditiveContradicts(p *Pass) {
	p.eachAddition(func(path string, keys []string, a *journal.Addition, sub substance.Substance) {
		lot, ok := p.Journal.Lots.Get(a.Lot)
		if !ok {
			return
		}
		if lot.Substance != "" && lot.Substance != sub.Key {
			p.Report(path, keys, "%s names lot %s, which is %s", sub.Key, a.Lot, lot.Substance).
				See(lot.Path, []string{"substance"}, "the lot").
				Help("look at the bag: which of the two was weighed? Forms of one salt differ in what they bring")
			return
		}
		if off, ok := p.otherAssay(a, lot); ok {
			p.Report(path, append(slices.Clone(keys), "assay"), "%s at an assay of %s, and its lot %s is %s: %.2g times the salt", sub.Key, a.Assay, a.Lot, lot.Assay, off).
				See(lot.Path, []string{"assay"}, "the lot").
				Blame(lot.Path, []string{"assay"}, "the additions from lot %s have another assay than %s", lot.ID, lot.Assay).
				Help("read the certificate again, and correct the addition or the lot")
			return
		}
		is, label := p.strengthOf(&journal.Addition{Strength: a.Strength}), p.strengthOf(&journal.Addition{Strength: lot.Strength})
		if is == 0 || label == 0 || math.Abs(is/label-1) <= p.Setting("strength")/100 {
			return
		}
		f := p.Report(path, append(slices.Clone(keys), "strength"), "%s at %s, and its lot %s is %s: %.2g times the acid", sub.Key, a.Strength, a.Lot, lot.Strength, label/is).
			See(lot.Path, []string{"strength"}, "the lot").
			Blame(lot.Path, []string{"strength"}, "the additions from lot %s have another strength than %s", lot.ID, lot.Strength).
			Help("read the label again, and correct the addition or the lot. Until then pour nothing by this volume")
		if file, _ := journal.FileOf(path); file.Kind == journal.KindChange {
			if c, ok := p.Journal.Changes.Get(file.ID); ok { // what was poured is held against it
				f.also = p.brewedWith(c)
			}
		}
	})
}

// otherAssay is by what an addition's assay and its lot's differ, beyond what both leave open.
func (p *Pass) otherAssay(a *journal.Addition, lot *journal.Lot) (factor float64, ok bool) {
	is, label := a.Assay, lot.Assay
	if is.Unit != water.Percent || label.Unit != water.Percent || is.Value <= 0 || label.Value <= 0 {
		return 0, false
	}
	open := max(is.Expanded+label.Expanded, p.Setting("strength")/100*label.Value)
	return label.Value / is.Value, math.Abs(is.Value-label.Value) > open
}
