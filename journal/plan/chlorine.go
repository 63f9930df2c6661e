package plan

import (
	"fmt"
	"time"

	"wj/journal"
	"wj/water"
	"wj/water/substance"
	"wj/water/treat"
)

// Filtered is the newest sample behind a carbon filter that a site feeds, where
// it measured chlorine by a moment and found none; ok is false where there is no
// such filter, or the newest test behind one found some.
func (b *Book) Filtered(site string, at time.Time) (*journal.Session, bool) {
	for _, s := range b.j.Sites.List {
		feeds := false
		for _, from := range s.FedBy {
			feeds = feeds || from == site
		}
		if !feeds || s.Stage != journal.StageCarbon || s.Void != nil || !s.Covers(at) {
			continue
		}
		newest, found, ok := b.NewestWith(s.ID, at, water.TotalChlorine, water.FreeChlorine)
		if ok && (found.Bound == water.Below || found.Bound == water.Exact && found.Value < treat.LeastChlorine) {
			return newest, true
		}
	}
	return nil, false
}

// NewestWith is the newest sample of a site up to a moment that measured one of
// some analytes, with what the first of those found.
func (b *Book) NewestWith(site string, at time.Time, ids ...water.ID) (*journal.Session, water.Measured, bool) {
	list := b.samples(site)
	for i := len(list) - 1; i >= 0; i-- {
		if list[i].Sampled.After(at) {
			continue
		}
		var a water.Analysis
		b.readings(list[i], at, &a)
		for _, id := range ids {
			if m, ok := a.Measured(id); ok {
				return list[i], m, true
			}
		}
	}
	return nil, water.Measured{}, false
}

// SulfiteToday is the work with no more metabisulfite than the chlorine that
// its waters hold takes up: a change is approved with the chlorine of its day,
// and chlorine moves from day to day. The dose is never raised over the one
// that was approved, and a water with more chlorine than its test reads is an
// error; note says what was done, "" where nothing had to be.
func (w *Work) SulfiteToday() (today *Work, note string, err error) {
	p := w.Prediction.Plan
	p.Additions = append([]treat.Addition(nil), p.Additions...)
	for i, a := range p.Additions {
		if s, ok := substance.ByKey(a.Substance); !ok || s.Kind != substance.Sulfite {
			continue
		}
		c, unknown, _ := treat.ChlorineIn(p.Waters)
		for _, portion := range p.Waters {
			if portion.Share > 0 && treat.ChlorineBeyond(portion.Analysis) {
				return nil, "", fmt.Errorf("%s holds more chlorine than its test reads, and no dose of %s can be found for it: measure total chlorine by a method that reads higher", portion.Name, nameOf(a))
			}
		}
		if len(unknown) == len(p.Waters) {
			return w, "", nil // no test says what it is for; its bound is 0
		}
		r, err := treat.Dechlorinate(c, a.Product, p.Volume)
		if err != nil {
			return nil, "", err
		}
		approved := treat.Dose{Addition: a}
		switch {
		case c.Total < treat.LeastChlorine:
			note = fmt.Sprintf("no %s today: the newest samples find no chlorine (%s %s are approved); measure total chlorine before you leave it out", nameOf(a), approved.AmountText(), a.Unit)
			p.Additions = append(p.Additions[:i], p.Additions[i+1:]...)
		case r.Dose.Amount < a.Amount:
			note = fmt.Sprintf("%s %s of %s instead of the %s %s approved: the newest samples hold %s mg/L of total chlorine", r.Dose.AmountText(), a.Unit, nameOf(a), approved.AmountText(), a.Unit, water.Round(c.Total, 2))
			p.Additions[i].Amount = r.Dose.Amount
		default:
			return w, "", nil
		}
		out := *w
		out.Prediction, err = predict(p)
		return &out, note, err
	}
	return w, "", nil
}

// nameOf is the name of what is added.
func nameOf(a treat.Addition) string {
	s, err := a.Entry()
	if err != nil {
		return a.Substance
	}
	return s.Name
}
