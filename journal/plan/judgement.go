package plan

import (
	"fmt"
	"math"
	"slices"
	"time"

	"wj/journal"
	"wj/water"
	"wj/water/treat"
)

// Judgement is what a target asks of the liquor of a tank: the ranges that it is held against, and those that it cannot be held against. Every
// screen and format takes it from here.
type Judgement struct {
	Targets   []treat.Target
	Mash      *treat.Mash // the grist, where there is a range of mash pH and it is known
	NotJudged []NotJudged
}

// NotJudged is a range of the target that nothing was held against, with the reason.
type NotJudged struct {
	Name string   `json:"name"`
	Min  *float64 `json:"min,omitempty"`
	Max  *float64 `json:"max,omitempty"`
	Why  string   `json:"why"`
	// Indication is what is known of it all the same, and Half its half-width.
	Indication *float64 `json:"indication,omitempty"`
	Half       *float64 `json:"indication_half_width,omitempty"`
}

// spargeTarget is what is asked of any sparge liquor.
var spargeTarget = treat.Target{ID: water.PHValue, Min: leastSpargePH, Max: mostSpargePH, Aim: math.NaN()}

// Judgement are the ranges of a target in the terms of the solver, for a tank ("" for all liquor). A range of mash pH needs the grist; without
// one it becomes a range of residual alkalinity where the brewery's own mashes give a line and the target has none of its own; else it is not
// judged. Of sparge liquor nothing is asked that the mash alone needs, but a pH of its own.
func (b *Book) Judgement(t *journal.Target, tank string, at time.Time) Judgement {
	var g Judgement
	read := func(id water.ID, q journal.Bounded) float64 {
		if !q.Set {
			return math.NaN()
		}
		return id.Info().Standard(q.Quantity)
	}
	if tank == tankSparge {
		g.Targets = append(g.Targets, spargeTarget)
	}
	residual := slices.ContainsFunc(t.Ranges, func(r journal.Range) bool { return !r.Mash && r.Analyte == water.ResidualAlkalinity })
	for i := range t.Ranges {
		r := &t.Ranges[i]
		x := treat.Target{ID: r.Analyte, Mash: r.Mash, Min: read(r.Analyte, r.Min), Max: read(r.Analyte, r.Max), Aim: read(r.Analyte, r.Aim), Weight: r.Weight}
		if r.Mash {
			x.ID, x.Min, x.Max, x.Aim = water.PHValue, read(water.PHValue, r.Min), read(water.PHValue, r.Max), read(water.PHValue, r.Aim)
		}
		if tank == tankSparge && ofMash(x) {
			continue
		}
		if !r.Mash {
			g.Targets = append(g.Targets, x)
			continue
		}
		var err error
		if g.Mash, err = b.Mash(t, at); err == nil {
			g.Targets = append(g.Targets, x)
			continue
		}
		if line, lacks := b.MashLine(t.ID, at); lacks == nil && !residual {
			if led, err := line.ResidualAlkalinityFor(x.Min, x.Max, x.Aim); err == nil {
				led.Weight = r.Weight
				g.Targets = append(g.Targets, led)
				continue
			}
		}
		g.leave(x, err)
	}
	return g
}

// ofMash names what the mash alone needs.
func ofMash(t treat.Target) bool {
	return t.Mash || t.ID == water.ResidualAlkalinity || t.ID == water.Alkalinity || t.ID == water.PHValue
}

func (g *Judgement) leave(t treat.Target, why error) {
	g.NotJudged = append(g.NotJudged, NotJudged{Name: t.Name(), Min: figure(t.Min), Max: figure(t.Max), Why: why.Error()})
}

// on leaves out what a work has no value for.
func (g Judgement) on(w *Work) Judgement {
	out := Judgement{Mash: g.Mash, NotJudged: slices.Clone(g.NotJudged)}
	if g.Mash != nil {
		if err := w.mashedWith(g.Mash); err != nil {
			for _, t := range g.Targets {
				out.leave(t, err)
			}
			return out
		}
	}
	for _, t := range g.Targets {
		var err error
		if t.Mash {
			_, err = w.Prediction.MashValue()
		} else {
			_, err = w.Range(t.ID)
		}
		if err != nil {
			out.leave(t, err)
			continue
		}
		out.Targets = append(out.Targets, t)
	}
	return out
}

// judgementOf is what a change's target asks of its liquor, on a state of its waters.
func (b *Book) judgementOf(w *Work, at time.Time) Judgement {
	t, ok := b.j.Targets.Get(w.Change.For)
	if !ok {
		return Judgement{}
	}
	g := b.Judgement(t, w.Change.Tank, at)
	g.Mash = mashOf(g.Mash, w.Change)
	g = g.on(w)
	b.indicate(g.NotJudged, w, at)
	return g
}

// TankPH is a pH that is asked of one tank and not of all liquor: that of the mash, or that of sparge liquor.
type TankPH struct {
	Name             string
	Of               string  // who asks for it
	Value, Low, High float64 // the interval of 95 %
	Min, Max         float64 // NaN where there is none
}

// Limit is the limit that the value is outside of; 0 where it keeps both.
func (t TankPH) Limit() float64 {
	switch {
	case t.Value > t.Max:
		return t.Max
	case t.Value < t.Min:
		return t.Min
	}
	return 0
}

// AskedOfTank is what a change's target asks of its tank beside the values of the liquor that Verdicts has, as far as it can be judged.
func (b *Book) AskedOfTank(w *Work, at time.Time) []TankPH {
	var out []TankPH
	for _, t := range b.judgementOf(w, at).Targets {
		v := TankPH{Name: "mash pH", Of: w.Change.For, Min: t.Min, Max: t.Max}
		var r treat.Range
		var err error
		switch {
		case t.Mash:
			r, err = w.Prediction.MashValue()
		case w.Change.Tank == tankSparge && t.ID == water.PHValue:
			v.Name, v.Of = "pH of the sparge liquor", "any sparge"
			r, err = w.Range(t.ID)
		default:
			continue
		}
		if err == nil {
			v.Value, v.Low, v.High = r.Value.Value, r.Low, r.High
			out = append(out, v)
		}
	}
	return out
}

// mashOf is a mash with the liquor of a change that is of the mash alone.
func mashOf(m *treat.Mash, c *journal.Change) *treat.Mash {
	if litres, err := c.Volume.In(water.Litre); m != nil && c.Tank == tankMash && err == nil && litres > 0 {
		own := *m
		own.Liquor = litres
		return &own
	}
	return m
}

// indicate adds what is known of a mash pH that is not judged.
func (b *Book) indicate(list []NotJudged, w *Work, at time.Time) {
	for i := range list {
		if m, err := b.MashPH(w, at); err == nil && list[i].Name == "mash_pH" && m.HalfWidth <= tooWide {
			list[i].Indication, list[i].Half = figure(m.PH), figure(m.HalfWidth)
		}
	}
}

// tooWide is how wide an estimate of mash pH is of no use, half its width.
const tooWide = 0.5

// Sentence states that a range is not judged, and why.
func (n NotJudged) Sentence() string {
	text := fmt.Sprintf("%s is NOT judged: %s.", journal.Capital(spoken(n.Name)), n.Why)
	if n.Indication == nil {
		return text
	}
	place := "inside the limits"
	if n.Min != nil && *n.Indication < *n.Min || n.Max != nil && *n.Indication > *n.Max {
		place = "OUTSIDE of the limits"
	}
	return text + fmt.Sprintf(" An indication is %.2f ± %.2f, %s.", *n.Indication, *n.Half, place)
}
