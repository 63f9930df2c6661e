package plan

import (
	"fmt"
	"math"
	"strings"
	"time"

	"wj/journal"
	"wj/journal/judge"
	"wj/water"
)

// waterPrice is the price of 1000 L of a site's water; 0 where it has none that
// can be read.
func (b *Book) waterPrice(site string) float64 {
	if price, said := b.prices[site]; said {
		return price
	}
	s, ok := b.j.Sites.Get(site)
	if !ok {
		return 0
	}
	price, _, err := priceOf(s.Price, "site "+site, water.Litre)
	if err != nil {
		return 0
	}
	return price
}

// priced takes what waters cost from words such as "ro-permeate=2.40 EUR/m3".
func (b *Book) priced(texts []string) error {
	for _, text := range texts {
		id, price, _ := strings.Cut(text, "=")
		id, err := b.j.ID(id, journal.KindSite)
		if err != nil {
			return err
		}
		v, _, err := priceOf(price, "site "+id, water.Litre)
		if err != nil {
			return advise("--price \""+id+"=2.40 EUR/m3\"", "%w", err)
		}
		if b.prices == nil {
			b.prices = map[string]float64{}
		}
		b.prices[id] = v
	}
	return nil
}

// waterOf is one water of a work: its litres, and what is known of its supply.
func (b *Book) waterOf(w *Work, s *Source) AnswerWater {
	litres := s.Share * w.Prediction.Plan.Volume
	out := AnswerWater{Site: s.Site, Session: s.Session().ID, Share: plainFigure(s.Share), Litres: plainFigure(litres)}
	site, ok := b.j.Sites.Get(s.Site)
	if !ok {
		return out
	}
	if capacity, err := site.Capacity.In(water.Litre); err == nil && capacity > 0 {
		out.Capacity = figure(capacity)
	}
	if part, err := site.Reject.In(water.Percent); err == nil && part > 0 && part < 100 {
		out.Reject = figure(litres * part / (100 - part))
	}
	if price := b.waterPrice(site.ID); price > 0 {
		out.Cost = figure(math.Round(price*litres/10) / 100)
	}
	if p, ok := b.passage(site.ID, w.At); ok {
		out.Passage = figure(p.Part)
	}
	return out
}

// passage is the newest salt passage of a membrane by a moment; the zero moment
// is now.
func (b *Book) passage(id string, by time.Time) (judge.Passage, bool) {
	site, ok := b.j.Sites.Get(id)
	if !ok {
		return judge.Passage{}, false
	}
	if by.IsZero() {
		by = time.Date(9999, 1, 1, 0, 0, 0, 0, time.UTC)
	}
	all := judge.PassagesAt(b.j, site, by)
	if len(all) == 0 {
		return judge.Passage{}, false
	}
	return all[len(all)-1], true
}

// worn is how much more salt a membrane may let through now than when its basis
// was sampled before the basis is in doubt; common practice, no source.
const worn = 1.5

// passageDoubt compares a membrane's passage with that at its basis.
func (b *Book) passageDoubt(id string, sampled, now time.Time) string {
	then, ok := b.passage(id, sampled.Add(24*time.Hour))
	if !ok {
		return ""
	}
	last, _ := b.passage(id, now)
	if last.Part <= worn*then.Part || last.Part-then.Part < 2*math.Hypot(last.U, then.U) {
		return ""
	}
	return fmt.Sprintf("%s lets through %s %% of its feed's salt now (%s), and %s %% when its basis was sampled: test the permeate again", id, water.Round(100*last.Part, 2), last.Session.ID, water.Round(100*then.Part, 2))
}

// SupplyLines tell of each water what there is of it and what it costs; only what
// the site's record says.
func (a *Answer) SupplyLines() []string {
	var out []string
	for _, w := range a.Waters {
		text := fmt.Sprintf("%s: %s L", w.Site, water.Round(w.Litres, 3))
		plain := text
		if w.Capacity != nil {
			text += fmt.Sprintf(" of %s L a day", water.Round(*w.Capacity, 3))
		}
		if w.Reject != nil {
			text += fmt.Sprintf(", for which %s L are rejected", water.Round(*w.Reject, 3))
		}
		if w.Passage != nil {
			text += fmt.Sprintf(", lets through %s %% of its feed's salt", water.Round(100**w.Passage, 2))
		}
		if w.Cost != nil {
			text += fmt.Sprintf(", costs %.2f", *w.Cost)
		}
		if text != plain {
			out = append(out, text)
		}
	}
	return out
}
