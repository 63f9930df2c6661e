package plan

import (
	"fmt"
	"math"
	"time"

	"wj/journal"
	"wj/water"
	"wj/water/substance"
	"wj/water/treat"
)

// Work is a change, or what a batch made of it, worked out in one state of the
// waters.
type Work struct {
	Change     *journal.Change
	Sources    []Source
	Prediction *treat.Prediction
	Currency   string // of the prices; "" where none or several
	At         time.Time
}

// OnBasis works a change out on the sessions that it names.
func (b *Book) OnBasis(c *journal.Change) (*Work, error) {
	return b.work(c, time.Time{}, func(s *journal.Session) Source { return b.basis(s) })
}

// OnDay works a change out on the newest sessions of its basis sites up to a
// moment.
func (b *Book) OnDay(c *journal.Change, at time.Time) (*Work, error) {
	return b.work(c, at, b.ofDay(at))
}

func (b *Book) ofDay(at time.Time) func(*journal.Session) Source {
	return func(s *journal.Session) Source { return b.today(s, at) }
}

// OnSignoff works a change out on the waters that a sign-off covers: of each
// site the newest session covered, or the basis session.
func (b *Book) OnSignoff(c *journal.Change, signed *journal.Signoff) (*Work, error) {
	return b.work(c, signed.On, b.ofSignoff(signed))
}

func (b *Book) ofSignoff(signed *journal.Signoff) func(*journal.Session) Source {
	newest := map[string]*journal.Session{}
	for p := range signed.Covers {
		f, ok := journal.FileOf(p)
		if !ok || f.Kind != journal.KindSession {
			continue
		}
		if s, ok := b.j.Sessions.Get(f.ID); ok && (newest[s.Site] == nil || s.Sampled.After(newest[s.Site].Sampled)) {
			newest[s.Site] = s
		}
	}
	return func(s *journal.Session) Source {
		if n := newest[s.Site]; n != nil && n.Sampled.After(s.Sampled) {
			return b.today(s, n.Sampled)
		}
		return b.basis(s)
	}
}

// ForBatch works out the liquor of a batch as it was brewed: the newest
// waters of that day, the batch's volume, and what was weighed, or else the
// change scaled to the volume.
func (b *Book) ForBatch(batch *journal.Batch) (*Work, error) {
	c, ok := b.j.Changes.Get(batch.Change)
	if !ok {
		return nil, fmt.Errorf("work out the liquor of %s: it names no change that exists", batch.ID)
	}
	made := *c
	if litres, err := batch.Volume.In(water.Litre); err == nil && litres > 0 && len(batch.Weighed) > 0 {
		made.Volume = batch.Volume
		made.Add = make([]journal.Addition, len(batch.Weighed))
		for i, w := range batch.Weighed {
			for _, planned := range c.Add {
				if planned.Substance == w.Substance && w.Strength == "" && w.Assay.Unit.IsNone() {
					w.Strength, w.Assay = planned.Strength, planned.Assay
					if w.Lot == "" {
						w.Lot = planned.Lot
					}
				}
			}
			made.Add[i] = w
		}
	}
	work, err := b.OnDay(&made, b.endOf(batch.Brewed))
	if err != nil {
		return nil, err
	}
	work.Change = c
	return work, nil
}

func (b *Book) work(c *journal.Change, at time.Time, water func(*journal.Session) Source) (*Work, error) {
	by := at
	if by.IsZero() {
		by = c.Proposed
	}
	return b.workSettled(c, at, water, b.settled(by))
}

// watersOf are the waters of a change, with their shares.
func (b *Book) watersOf(c *journal.Change, water func(*journal.Session) Source) (out []Source, err error) {
	for _, basis := range c.Basis {
		s, ok := b.j.Sessions.Get(basis.Session)
		if !ok {
			return nil, fmt.Errorf("work out %s: its basis session %q does not exist", c.ID, basis.Session)
		}
		share, err := basis.Share.In(percent)
		if err != nil {
			return nil, fmt.Errorf("work out %s: the share of %s is not a part of the whole: %s", c.ID, basis.Session, basis.Share)
		}
		src := water(s)
		src.Share = share / 100
		out = append(out, src)
	}
	return out, nil
}

// workSettled is work where it is known how far calcite goes.
func (b *Book) workSettled(c *journal.Change, at time.Time, water func(*journal.Session) Source, settled treat.Settled) (*Work, error) {
	sources, err := b.watersOf(c, water)
	if err != nil {
		return nil, err
	}
	w := &Work{Change: c, At: at, Sources: sources}
	litres, err := c.Volume.In(litre)
	if err != nil {
		return nil, fmt.Errorf("work out %s: its volume %s is not one", c.ID, c.Volume)
	}
	p := treat.Plan{Volume: litres, UVolume: treat.TypicalVolumeUncertainty * litres, Temperature: temperatureOf(c), Open: c.Open, Settled: settled}
	b.intoMash(c, &p)
	for i := range w.Sources {
		p.EndPoint = max(p.EndPoint, b.endPoint(w.Sources[i].Basis))
	}
	for i := range w.Sources {
		src := &w.Sources[i]
		portion := treat.Portion{Name: src.Site, Analysis: &src.Analysis, Share: src.Share}
		if len(w.Sources) > 1 {
			portion.UShare = treat.TypicalShareUncertainty
		}
		p.Waters = append(p.Waters, portion)
	}
	currencies := map[string]bool{}
	for i := range c.Add {
		a := &c.Add[i]
		addition, currency, err := b.addition(a)
		if err != nil {
			return nil, fmt.Errorf("work out %s: %w", c.ID, err)
		}
		if addition.Price > 0 {
			currencies[currency] = true
		}
		p.Additions = append(p.Additions, addition)
	}
	if len(currencies) == 1 {
		for k := range currencies {
			w.Currency = k
		}
	}
	if w.Prediction, err = predict(p); err != nil {
		return nil, fmt.Errorf("work out %s: %w", c.ID, err)
	}
	return w, nil
}

// intoMash sets the grist of a change whose acid goes into the mash.
func (b *Book) intoMash(c *journal.Change, p *treat.Plan) {
	t, ok := b.j.Targets.Get(c.For)
	if c.Tank != tankMash || !ok {
		return
	}
	m, err := gristOf(t)
	if err != nil {
		return
	}
	m.Learn(nil)
	p.Mash, p.IntoMash = mashOf(m, c), true
}

// endPoint is the pH at which the method that read the alkalinity of a session
// ends its titration; 0 where none says so.
func (b *Book) endPoint(s *journal.Session) float64 {
	r, ok := s.Reading(water.Alkalinity)
	if !ok {
		return 0
	}
	id := r.Method
	if m := b.j.Measures(s, r); id == "" && m != nil {
		id = m.Method
	}
	if m, ok := b.j.Methods.Get(id); ok {
		return m.EndPoint
	}
	return 0
}

// temperatureOf is that of a change's liquor in degC; NaN where it names none.
func temperatureOf(c *journal.Change) float64 {
	t, err := c.Temperature.In(water.DegreeCelsius)
	if c.Temperature.Unit.IsNone() || err != nil {
		return math.NaN()
	}
	return t
}

var (
	percent = water.Percent
	litre   = water.Litre
)

// addition is what a record adds: strength and assay are its own, else those
// of its lot.
func (b *Book) addition(a *journal.Addition) (treat.Addition, string, error) {
	strength, assay := a.Strength, a.Assay
	lot, known := b.j.Lots.Get(a.Lot)
	if known && strength == "" && assay.Unit.IsNone() {
		strength, assay = lot.Strength, lot.Assay
	}
	g, err := goods(a.Substance, assay, strength)
	if err != nil {
		return treat.Addition{}, "", err
	}
	out, err := treat.NewAddition(g, a.Amount)
	if err != nil {
		return treat.Addition{}, "", err
	}
	out.Lot, out.Step, out.Stage = a.Lot, b.Step(out.Unit), a.Stage
	out.Trained = a.Note // a concentrated mineral acid is handled by whom its note names; see the rule dose/acid-strength
	currency := ""
	if known {
		out.Price, currency, _ = Price(lot, out.Product)
	}
	return out, currency, nil
}

func goods(key string, assay water.Quantity, strength string) (treat.Product, error) {
	if s, ok := substance.ByKey(key); ok {
		key = s.Key
	}
	if assay.Unit.IsNone() {
		assay = water.Quantity{}
	}
	return treat.NewProduct(key, assay, strength)
}

// Step is the smallest step of the brewery's scale or measuring cylinder for
// a unit; 0 where it is not set.
func (b *Book) Step(unit water.Unit) float64 {
	q := b.j.Settings.Scale.Mass
	if unit == water.Millilitre {
		q = b.j.Settings.Scale.Volume
	}
	if q.Unit.IsNone() {
		return 0
	}
	v, err := q.In(unit)
	if err != nil {
		return 0
	}
	return v
}

// Scaled is the work for another volume, amounts rounded to the scale.
func (w *Work) Scaled(volume float64) (*Work, error) {
	p, err := w.Prediction.Plan.ScaleTo(volume)
	if err != nil {
		return nil, err
	}
	out := *w
	out.Prediction, err = predict(p)
	return &out, err
}

// Cost is the price of all doses; ok is false where one has no price, or they
// are in several currencies.
func (w *Work) Cost() (cost float64, ok bool) {
	for _, d := range w.Prediction.Doses {
		c, priced := d.Cost()
		if !priced {
			return 0, false
		}
		cost += c
	}
	return cost, w.Currency != ""
}
