package plan

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"wj/journal"
	"wj/water"
	"wj/water/treat"
)

// mash is one mash with its batch.
type mash struct {
	treat.MashBatch
	batch *journal.Batch
	work  *Work
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
			out = append(out, mash{treat.MashBatch{ResidualAlkalinity: v.Value, PH: batch.MashPH}, batch, w})
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

// MashPH estimates the mash pH of a work, by the best that there is: its grist,
// sharpened by own mashes, else the line of own mashes of the beer, else residual
// alkalinity alone. It is indicative always.
func (b *Book) MashPH(w *Work, at time.Time) (treat.MashPH, error) {
	residual, err := w.Value(water.ResidualAlkalinity)
	if err != nil {
		return treat.MashPH{}, err
	}
	if t, ok := b.j.Targets.Get(w.Change.For); ok {
		if r, m, err := b.mashRange(w, t, at); err == nil {
			from := strings.Join(m.Assumed, "; ")
			if m.Batches > 0 {
				from += fmt.Sprintf("; %d own mashes, %+.2f", m.Batches, m.Offset)
			}
			return treat.MashPH{PH: r.Value.Value, HalfWidth: (r.High - r.Low) / 2, Method: "balance of protons", From: strings.TrimPrefix(from, "; ")}, nil
		}
	}
	if line, err := b.MashLine(w.Change.For, at); err == nil {
		return line.At(residual.Value, residual.U)
	}
	return treat.MashFromResidualAlkalinity(residual.Value, residual.U, treat.PaleMashPH)
}

// mashRange is the mash pH of a work by the target's grist.
func (b *Book) mashRange(w *Work, t *journal.Target, at time.Time) (treat.Range, *treat.Mash, error) {
	m, err := b.Mash(t, at)
	if err != nil {
		return treat.Range{}, nil, err
	}
	m = mashOf(m, w.Change)
	if err := w.mashedWith(m); err != nil {
		return treat.Range{}, nil, err
	}
	r, err := w.Prediction.MashValue()
	return r, m, err
}

// baseMalts are words in the names of malts that the figures of a base malt stand
// for where a record gives none. Of darker malts nothing is guessed.
var baseMalts = []string{"pale", "pils", "lager", "wheat", "barley malt", "base"}

// liquorToGrist in L/kg of a mash whose liquor is not said; common practice, no
// source.
const liquorToGrist = 3.0

// Mash is a target's grist as a model of mash pH, sharpened by the brewery's own
// mashes of it. The error says what is not known.
func (b *Book) Mash(t *journal.Target, at time.Time) (*treat.Mash, error) {
	m, err := gristOf(t)
	if err != nil {
		return nil, err
	}
	var residuals []float64
	for _, own := range b.mashesOf(t.ID) {
		if own.batch.Brewed.After(at) {
			continue
		}
		if said, err := own.work.Prediction.MashPoint(m); err == nil {
			residuals = append(residuals, own.PH-said)
		}
	}
	m.Learn(residuals)
	return m, nil
}

// gristOf is a target's grist, with what is taken for granted.
func gristOf(t *journal.Target) (*treat.Mash, error) {
	if len(t.Grist) == 0 {
		return nil, fmt.Errorf("the target %s has no grist: write its malts with their mass", t.ID)
	}
	m := &treat.Mash{}
	kilograms := 0.0
	usual, assumed := false, false
	for _, x := range t.Grist {
		grams, err := x.Mass.In(water.Gram)
		if err != nil || !(grams > 0) {
			return nil, fmt.Errorf("the target %s: %s has no mass", t.ID, x.Malt)
		}
		malt := treat.Malt{Name: x.Malt, Kilograms: grams / 1000, DistilledPH: x.DistilledPH, Buffer: x.Buffer, UPH: treat.UCertificatePH}
		if malt.DistilledPH == 0 {
			if !slices.ContainsFunc(baseMalts, func(word string) bool { return strings.Contains(strings.ToLower(x.Malt), word) }) {
				return nil, fmt.Errorf("the target %s: %s needs its distilled_pH, from the certificate or a small mash in distilled water; of such malts nothing is guessed", t.ID, x.Malt)
			}
			malt.DistilledPH, malt.UPH, usual = treat.BaseMaltPH, treat.UBaseMaltPH, true
		}
		if malt.Buffer == 0 {
			malt.Buffer, assumed = treat.BaseMaltBuffer, true
		}
		kilograms += malt.Kilograms
		m.Grist = append(m.Grist, malt)
	}
	if usual {
		m.Assumed = append(m.Assumed, fmt.Sprintf("typical base malt, pH %.2f in distilled water; the pH on the certificate makes it surer", treat.BaseMaltPH))
	}
	if assumed {
		m.Assumed = append(m.Assumed, fmt.Sprintf("malt takes %.0f ± %.0f meq of acid a kg and pH, our opinion; a titration of the malt or own mashes make it surer", treat.BaseMaltBuffer, 200*treat.UBuffer*treat.BaseMaltBuffer/100))
	}
	litres, err := t.MashLiquor.In(water.Litre)
	if t.MashLiquor.Unit.IsNone() || err != nil || !(litres > 0) {
		litres = liquorToGrist * kilograms
		m.Assumed = append(m.Assumed, fmt.Sprintf("mashed with %.0f L, 3 L a kg, since no mash_liquor is said", litres))
	}
	m.Liquor = litres
	return m, nil
}
