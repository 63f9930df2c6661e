package plan

import (
	"fmt"
	"sort"
	"strconv"
	"strings"
	"time"

	"wj/journal"
	"wj/water"
	"wj/water/treat"
)

// Price reads a lot's price, such as "2.10 EUR/kg", as the price of a kg, or
// of a litre where the goods are measured in mL.
func Price(lot *journal.Lot, g treat.Product) (price float64, currency string, err error) {
	return priceOf(strings.TrimSpace(lot.Price), "lot "+lot.ID, g.Unit)
}

// priceOf reads a price as that of a thousand of a unit.
func priceOf(text, of string, unitOf water.Unit) (price float64, currency string, err error) {
	if text == "" {
		return 0, "", fmt.Errorf("%s has no price", of)
	}
	amount, per, ok := strings.Cut(text, "/")
	fields := strings.Fields(amount)
	if !ok || len(fields) != 2 {
		return 0, "", fmt.Errorf("read the price of %s: %q; write it as 2.10 EUR/kg", of, text)
	}
	v, err := strconv.ParseFloat(fields[0], 64)
	if err != nil || !(v >= 0) || v > 1e9 {
		return 0, "", fmt.Errorf("read the price of %s: %q is not a number", of, fields[0])
	}
	unit, ok := water.ParseUnit(strings.TrimSpace(per))
	if !ok {
		return 0, "", fmt.Errorf("read the price of %s: %q is no unit", of, strings.TrimSpace(per))
	}
	one, err := water.Quantity{Value: 1, Unit: unit}.In(unitOf)
	if err != nil || one <= 0 {
		return 0, "", fmt.Errorf("read the price of %s: it is per %s, and doses are in %s", of, unit, unitOf)
	}
	return v / one * 1000, fields[1], nil
}

// Left is what is left of an additive's lot, in the unit of its doses: what
// was received less what batches weighed in. ok is false where the lot does not
// say how much was received.
func (b *Book) Left(lot *journal.Lot, unit water.Unit, at time.Time) (left float64, ok bool) {
	left, err := lot.Amount.In(unit)
	if lot.Amount.Unit.IsNone() || err != nil {
		return 0, false
	}
	for _, batch := range b.j.Batches.List {
		if batch.Void != nil || batch.Brewed.After(at) {
			continue
		}
		for _, w := range batch.Weighed {
			name := w.Lot
			if name == "" {
				if c, ok := b.j.Changes.Get(batch.Change); ok {
					for _, planned := range c.Add {
						if planned.Substance == w.Substance {
							name = planned.Lot
						}
					}
				}
			}
			if name == lot.ID {
				if v, err := w.Amount.In(unit); err == nil {
					left -= v
				}
			}
		}
	}
	return max(left, 0), true
}

// Shelf is what may be dosed on a day: the additive lots that are received,
// in date, not recalled, not finished and not used up. Of several lots of one
// substance it is the one that the newest batch took, then an opened one, then
// the one that expires first. currency is
// that of the prices, "" where there are several or none.
func (b *Book) Shelf(at time.Time) (shelf []treat.Product, currency string, err error) {
	var fit []*journal.Lot
	day := journal.Day(at)
	for _, l := range b.j.Lots.List {
		if l.Substance == "" || l.Void != nil || l.Recalled != nil && !l.Recalled.On.After(at) || l.ExpiredOn(at) ||
			!l.Received.IsZero() && l.Received.After(day) || !l.Finished.IsZero() && !l.Finished.After(day) {
			continue
		}
		fit = append(fit, l)
	}
	last := b.lastLots(at)
	sort.SliceStable(fit, func(x, y int) bool {
		a, c := fit[x], fit[y]
		if la, lc := last[a.Substance] == a.ID, last[c.Substance] == c.ID; la != lc {
			return la
		}
		if (a.Opened.IsZero()) != (c.Opened.IsZero()) {
			return !a.Opened.IsZero()
		}
		return !a.Expires.IsZero() && (c.Expires.IsZero() || a.Expires.Before(c.Expires))
	})
	taken, currencies := map[string]bool{}, map[string]bool{}
	for _, l := range fit {
		if taken[l.Substance] {
			continue
		}
		g, err := goods(l.Substance, l.Assay, l.Strength)
		if err != nil {
			return nil, "", fmt.Errorf("read lot %s: %w", l.ID, err)
		}
		g.Lot, g.Step = l.ID, b.Step(g.Unit)
		if left, ok := b.Left(l, g.Unit, at); ok {
			if left <= 0 {
				continue
			}
			g.Stock = left
		}
		if l.Price != "" {
			if g.Price, currency, err = Price(l, g); err != nil {
				return nil, "", err
			}
			currencies[currency] = true
		}
		taken[l.Substance] = true
		shelf = append(shelf, g)
	}
	if len(currencies) != 1 {
		currency = ""
	}
	return shelf, currency, nil
}

// lastLots are the lots that the newest batches before a moment took, by
// substance.
func (b *Book) lastLots(at time.Time) map[string]string {
	lots, newest := map[string]string{}, map[string]time.Time{}
	for _, batch := range b.j.Batches.List {
		if batch.Void != nil || batch.Brewed.After(at) {
			continue
		}
		for _, w := range batch.Weighed {
			if w.Lot != "" && !batch.Brewed.Before(newest[w.Substance]) {
				lots[w.Substance], newest[w.Substance] = w.Lot, batch.Brewed
			}
		}
	}
	return lots
}
