package plan

import (
	"time"

	"wj/journal"
	"wj/water"
	"wj/water/treat"
)

// mash is one mash with its batch.
type mash struct {
	treat.MashBatch
	batch *journal.Batch
}

// mashesOf are the mashes of a target's beer whose liquor can be computed, read
// on a sample cooled to 15 to 25 degC: warmer mash reads up to 0.3 lower
// (common practice, no source).
func (b *Book) mashesOf(target string) []mash {
	b.mashMutex.Lock()
	defer b.mashMutex.Unlock()
	if known, ok := b.mashes[target]; ok {
		return known
	}
	var out []mash
	for _, batch := range b.j.Batches.List {
		c, ok := b.j.Changes.Get(batch.Change)
		if batch.Void != nil || !batch.HasMashPH || !(batch.MashPH > 3 && batch.MashPH < 9) || !ok || c.For != target {
			continue
		}
		if t, err := batch.MashTemperature.In(water.DegreeCelsius); err == nil && !batch.MashTemperature.Unit.IsNone() && (t < 15 || t > 25) {
			continue
		}
		w, err := b.ForBatch(batch)
		if err != nil {
			continue
		}
		if v, err := w.Value(water.ResidualAlkalinity); err == nil {
			out = append(out, mash{treat.MashBatch{ResidualAlkalinity: v.Value, PH: batch.MashPH}, batch})
		}
	}
	b.mashes[target] = out
	return out
}

// MashLine is the line of the brewery's own mashes of a target's beer that were
// brewed by a moment; the error says how many are missing.
func (b *Book) MashLine(target string, at time.Time) (treat.MashLine, error) {
	var list []treat.MashBatch
	for _, m := range b.mashesOf(target) {
		if !m.batch.Brewed.After(at) {
			list = append(list, m.MashBatch)
		}
	}
	return treat.FitMash(list)
}

// MashPH estimates the mash pH of a work, by the best that there is: own mashes
// of the beer, else its grist, else residual alkalinity alone. It is
// indicative always.
func (b *Book) MashPH(w *Work, at time.Time) (treat.MashPH, error) {
	residual, err := w.Value(water.ResidualAlkalinity)
	if err != nil {
		return treat.MashPH{}, err
	}
	if line, err := b.MashLine(w.Change.For, at); err == nil {
		return line.At(residual.Value, residual.U)
	}
	if t, ok := b.j.Targets.Get(w.Change.For); ok {
		if grist, liquor, ok := gristOf(t); ok {
			balance, err := w.Prediction.Equilibrate()
			if err != nil {
				balance = nil
			}
			if m, err := treat.MashFromGrist(w.Prediction, balance, grist, liquor); err == nil {
				return m, nil
			}
		}
	}
	return treat.MashFromResidualAlkalinity(residual.Value, residual.U, treat.PaleMashPH)
}

// gristOf is a target's grist where every malt has its distilled-water pH and
// buffering; both differ too much between malts to be guessed.
func gristOf(t *journal.Target) (grist []treat.Malt, liquor float64, ok bool) {
	liquor, err := t.Liquor.In(water.Litre)
	if err != nil || t.Liquor.Unit.IsNone() || len(t.Grist) == 0 {
		return nil, 0, false
	}
	for _, m := range t.Grist {
		kilograms, err := m.Mass.In(water.Gram)
		if err != nil || m.DistilledPH == 0 || m.Buffer == 0 {
			return nil, 0, false
		}
		grist = append(grist, treat.Malt{Name: m.Malt, Kilograms: kilograms / 1000, DistilledPH: m.DistilledPH, Buffer: m.Buffer})
	}
	return grist, liquor, true
}
