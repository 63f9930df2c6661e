package lint

import (
	"math"
	"slices"
	"strings"

	"wj/journal"
	"wj/journal/judge"
	"wj/water"
	"wj/water/substance"
	"wj/water/treat"
)

var batchWeighed = &Rule{
	Name: "batch/weighed", Severity: Warning, Scope: Whole, Reach: OfRecord, Check: checkBatchWeighed,
	Title: "what was weighed is not what the change, scaled to the batch, asks for",
	Settings: []Threshold{
		{"salt", "5 %", "%", "allowed difference of salts and bases"},
		{"acid", "3 %", "%", "allowed difference of acids"},
	},
}

// dose is one addition of a batch beside what was planned for its volume.
type dose struct {
	batch           *journal.Batch
	change          *journal.Change
	weighed, wanted *journal.Addition
	sub             substance.Substance
	ratio           float64 // weighed over planned and scaled; 0 where it cannot be known
	scaled          float64 // planned for the batch's volume, in the unit of the plan
	is, asks        float64 // strength of what was weighed and of what was planned, percent on one basis; 0 where they cannot be compared
}

// eachDose calls do for each addition that a batch weighed or should have.
func (p *Pass) eachDose(do func(d dose)) {
	for _, b := range p.Journal.Batches.List {
		c, ok := p.Journal.Changes.Get(b.Change)
		if b.Void != nil || !ok || len(b.Weighed) == 0 {
			continue
		}
		scale := 1.0
		if planned, err := c.Volume.In(water.Litre); err == nil && planned > 0 {
			if brewed, err := b.Volume.In(water.Litre); err == nil && brewed > 0 {
				scale = brewed / planned
			}
		}
		for i := range c.Add {
			want := &c.Add[i]
			sub, known := substance.ByKey(want.Substance)
			if !known {
				continue
			}
			d := dose{batch: b, change: c, wanted: want, sub: sub, scaled: want.Amount.Value * scale}
			for k := range b.Weighed {
				if b.Weighed[k].Substance == want.Substance {
					d.weighed = &b.Weighed[k]
				}
			}
			if d.weighed != nil && want.Amount.Value > 0 {
				if v, err := p.inUnitOf(d.weighed, want); err == nil {
					d.ratio = v / d.scaled
					d.is, d.asks = p.strengthOf(d.weighed), p.strengthOf(want)
					if d.is > 0 && d.asks > 0 {
						d.ratio *= d.is / d.asks // a volume of a weaker acid is less acid
					}
				}
			}
			do(d)
		}
		unasked := judge.Unasked(c, b)
		for k := range b.Weighed {
			sub, known := substance.ByKey(b.Weighed[k].Substance)
			if known && slices.Contains(unasked, sub.Key) {
				do(dose{batch: b, change: c, weighed: &b.Weighed[k], sub: sub})
			}
		}
	}
}

// inUnitOf is an amount in the unit of another: of an acid that was weighed and planned by volume,
// by the density of its strength.
func (p *Pass) inUnitOf(weighed, want *journal.Addition) (float64, error) {
	v, err := weighed.Amount.In(want.Amount.Unit)
	if err == nil {
		return v, nil
	}
	sub, known := substance.ByKey(want.Substance)
	percent := p.strengthOf(weighed)
	if percent == 0 {
		percent = p.strengthOf(want)
	}
	if !known || percent == 0 {
		return 0, err
	}
	density, err2 := sub.Density(percent) // g/mL
	if err2 != nil {
		return 0, err
	}
	if g, err := weighed.Amount.In(water.Gram); err == nil {
		return water.Quantity{Value: g / density, Unit: water.Millilitre}.In(want.Amount.Unit)
	}
	if ml, err := weighed.Amount.In(water.Millilitre); err == nil {
		return water.Quantity{Value: ml * density, Unit: water.Gram}.In(want.Amount.Unit)
	}
	return 0, err
}

func checkBatchWeighed(p *Pass) {
	p.eachDose(func(d dose) {
		allowed := p.Setting("salt")
		if d.sub.Kind == substance.Acid {
			allowed = p.Setting("acid")
		}
		keys := []string{"weighed", d.sub.Key}
		switch {
		case d.weighed == nil && p.unread(d.batch.Path): // what cannot be read may be it
		case d.weighed == nil:
			p.Report(d.batch.Path, []string{"weighed"}, "%s asks for %s of %s for this volume, and none was weighed", d.change.ID, inUnit(d.scaled, d.wanted), d.sub.Key).
				See(d.change.Path, []string{"add"}, "what was asked for").
				Help("was it left out? measure the liquor before it is used, and say in the body what was done")
		case d.wanted == nil:
			f := p.Report(d.batch.Path, keys, "%s of %s was weighed, and %s does not ask for it", amount(d.weighed), d.sub.Key, d.change.ID).
				See(d.change.Path, []string{"add"}, "what was asked for").
				Help("what is not in the change was not reviewed: say why in the batch (ignore: {batch/weighed: …}), or write a new change")
			if slices.Contains(p.run.facts.changes()[d.change.ID].Unapproved, d.batch) {
				p.as(f, Error)
			}
		case p.unscaled(d.batch): // change/scale doubts the volume
		case d.ratio == 0 || doubled(d.ratio) || math.Abs(100*(d.ratio-1)) <= allowed:
		case d.is > 0 && d.asks > 0 && math.Abs(d.is/d.asks-1) > 0.02:
			p.Report(d.batch.Path, keys, "%s of %s at %g %% was poured, and %s asks for %s at %g %%: %+.0f %% of acid, allowed is %s %% (common practice, no source)", amount(d.weighed), d.sub.Key, d.is, d.change.ID, inUnit(d.scaled, d.wanted), d.asks, 100*(d.ratio-1), plain(allowed)).
				See(d.change.Path, []string{"add"}, "what was asked for").
				Blame(p.lotPath(d.weighed), []string{"strength"}, "doses from lot %s are off, at its strength of %g %%", d.weighed.Lot, d.is).
				Help("which bottle was it? At %g %% the same acid is %s. Test the liquor, and say in the body what follows", d.is, inUnit(d.scaled*d.asks/d.is, d.wanted))
		default:
			f := p.Report(d.batch.Path, keys, "%s of %s was weighed, and %s asks for %s: %+.0f %%, allowed is %s %% (common practice, no source)", amount(d.weighed), d.sub.Key, d.change.ID, inUnit(d.scaled, d.wanted), 100*(d.ratio-1), plain(allowed)).
				See(d.change.Path, []string{"add"}, "what was asked for").
				Help("if the number was typed wrong, amend it; if it was weighed so, test the liquor and say in the body what follows")
			if slices.Contains(p.run.facts.changes()[d.change.ID].Unapproved, d.batch) {
				p.as(f, Error)
			}
		}
	})
}

// doubled reports a dose that looks as if it was given twice.
func doubled(ratio float64) bool { return ratio > 1.9 && ratio < 2.1 }

func inUnit(v float64, like *journal.Addition) string {
	return water.Round(v, 3) + " " + like.Amount.Unit.String()
}

// strengthOf is how strong an addition is, in percent of mass (w/w), by itself or by
// its lot; 0 where that is not known or on another basis.
func (p *Pass) strengthOf(a *journal.Addition) float64 {
	text := a.Strength
	if lot, ok := p.Journal.Lots.Get(a.Lot); ok && text == "" {
		text = lot.Strength
	}
	s, err := treat.ParseStrength(text)
	if err != nil || !strings.Contains(text, "w/w") {
		return 0
	}
	return s.Percent
}

// unread reports whether a file holds something that could not be read.
func (p *Pass) unread(path string) bool {
	return slices.ContainsFunc(p.Journal.Problems, func(q journal.Problem) bool { return q.Path == path && !q.Warning })
}

func (p *Pass) lotPath(a *journal.Addition) string {
	lot, ok := p.Journal.Lots.Get(a.Lot)
	if !ok {
		return ""
	}
	return lot.Path
}

// unscaled reports a batch of another volume that weighed the whole dose as it is in the change:
// its volume may be mistyped.
func (p *Pass) unscaled(b *journal.Batch) bool {
	c, ok := p.Journal.Changes.Get(b.Change)
	if !ok || len(c.Add) == 0 {
		return false
	}
	brewed, err := b.Volume.In(water.Litre)
	written, err2 := c.Volume.In(water.Litre)
	if err != nil || err2 != nil || written <= 0 || math.Abs(brewed/written-1) <= 0.2 {
		return false
	}
	for i := range c.Add {
		want := &c.Add[i]
		k := slices.IndexFunc(b.Weighed, func(a journal.Addition) bool { return a.Substance == want.Substance })
		if k < 0 {
			return false
		}
		if v, err := p.inUnitOf(&b.Weighed[k], want); err != nil || math.Abs(v/want.Amount.Value-1) > 0.05 {
			return false
		}
	}
	return true
}
