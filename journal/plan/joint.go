package plan

import (
	"math"

	"wj/water"
	"wj/water/substance"
	"wj/water/treat"
)

// Steps of the shares that mash and sparge are tried with together: wide ones
// first, then finer ones about the best.
const (
	wideShare = 0.1
	fineShare = 0.05
)

// together is how one blend serves mash and sparge.
type together struct {
	share     float64 // of the first water
	kept      bool    // all limits of both, with the chance that was asked
	off       float64 // how far the mash pH lies from the middle of its range
	additions int
	cost      float64
}

// offStep is what two answers may differ by in mash pH and still be as good: less
// than a mash is read to.
const offStep = 0.02

func (a together) better(b together) bool {
	if a.kept != b.kept {
		return a.kept
	}
	if x, y := math.Floor(a.off/offStep), math.Floor(b.off/offStep); x != y {
		return x < y
	}
	if a.additions != b.additions {
		return a.additions < b.additions
	}
	return a.cost < b.cost-1e-9
}

// jointly settles the shares of two waters for mash and sparge at once: the mash
// alone would take the blend that costs it least, whatever acid the sparge then
// needs, and whatever of a day's permeate is left for it.
func (t *Treatment) jointly(p *treat.Problem) {
	if len(p.Waters) != 2 || p.Waters[0].Least == p.Waters[0].Most {
		return
	}
	low := math.Max(p.Waters[0].Least, 1-p.Waters[1].Most)
	high := math.Min(p.Waters[0].Most, 1-p.Waters[1].Least)
	best, found := together{}, false
	tried := map[int]bool{}
	try := func(share float64) {
		share = math.Round(100*math.Max(low, math.Min(high, share))) / 100
		if key := int(math.Round(100 * share)); share < low-1e-9 || share > high+1e-9 || tried[key] {
			return
		} else {
			tried[key] = true
		}
		one, ok := t.tryTogether(*p, share)
		if ok && (!found || one.better(best)) {
			best, found = one, true
		}
	}
	for share := low; share < high+wideShare/2; share += wideShare {
		try(share)
	}
	if !found {
		return
	}
	at := best.share
	try(at - fineShare)
	try(at + fineShare)
	fix(p, best.share)
}

func fix(p *treat.Problem, share float64) {
	p.Waters = append([]treat.Supply{}, p.Waters...)
	p.Waters[0].Least, p.Waters[0].Most = share, share
	p.Waters[1].Least, p.Waters[1].Most = 1-share, 1-share
	if share == 0 { // a bound of none means any
		p.Waters = p.Waters[1:]
	} else if share == 1 {
		p.Waters = p.Waters[:1]
	}
}

// tryTogether finds the doses of both for one blend.
func (t *Treatment) tryTogether(p treat.Problem, share float64) (together, bool) {
	out := together{share: share}
	fix(&p, share)
	mash, err := treat.Solve(p)
	if err != nil {
		return out, false
	}
	out.kept = mash.Chance.Wide >= p.Chance
	for k, r := range mash.Results {
		out.kept = out.kept && (r.Missed == 0 || mash.Chance.Narrow[k])
		if r.Target.Mash && !math.IsNaN(r.Target.Min) && !math.IsNaN(r.Target.Max) {
			out.off = math.Abs(r.Value.Value - (r.Target.Min+r.Target.Max)/2)
		}
	}
	all := 1 + t.spargeLitres/t.Litres
	var acid *treat.Product
	for i := range p.Shelf {
		e, err := p.Shelf[i].Entry()
		if err == nil && e.Kind == substance.Acid && (acid == nil || uses(mash, e.Key)) {
			acid = &p.Shelf[i]
		}
	}
	for _, d := range mash.Doses {
		out.additions++
		cost, _ := d.Cost()
		if e, err := d.Entry(); err == nil && e.Kind == substance.Salt {
			cost *= all
		}
		out.cost += cost
	}
	for _, w := range p.Waters {
		out.cost += w.Price * w.Most * t.Litres * all / 1000
	}
	if acid == nil {
		return out, true
	}
	p.Volume, p.UVolume, p.Shelf, p.Mash, p.IntoMash, p.Only = t.spargeLitres, treat.TypicalVolumeUncertainty*t.spargeLitres, []treat.Product{*acid}, nil, false, nil
	p.Targets = []treat.Target{{ID: water.PHValue, Min: leastSpargePH, Max: mostSpargePH, Aim: math.NaN()}}
	sparge, err := treat.Solve(p)
	if err != nil {
		return out, false
	}
	out.kept = out.kept && sparge.Met() && sparge.Chance.Wide >= p.Chance
	for _, d := range sparge.Doses {
		cost, _ := d.Cost()
		out.additions++
		out.cost += cost
	}
	return out, true
}

func uses(s *treat.Solution, key string) bool {
	for _, d := range s.Doses {
		if d.Substance == key {
			return true
		}
	}
	return false
}
