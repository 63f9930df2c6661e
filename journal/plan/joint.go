package plan

import (
	"fmt"
	"math"
	"slices"

	"wj/water/substance"
	"wj/water/treat"
)

// Steps of the shares that mash and sparge are tried with together: wide ones
// first, then finer ones about the best.
const (
	wideShare = 0.1
	fineShare = 0.05
)

// blended is how a blend serves a tank: its share of the first water, and what
// comes of it.
type blended struct {
	share     float64 // of the first water
	kept      bool    // all limits, with the chance that was asked
	chance    float64 // of the limits that can be kept
	off       float64 // how far a mash pH lies from the middle of its range
	additions int
	cost      float64
	answer    *treat.Solution
}

// together is a blend of the mash with one of the sparge.
type together struct{ mash, sparge blended }

func (a together) kept() bool      { return a.mash.kept && a.sparge.kept }
func (a together) cost() float64   { return a.mash.cost + a.sparge.cost }
func (a together) chance() float64 { return math.Min(a.mash.chance, a.sparge.chance) }

// offStep is what two answers may differ by in mash pH and still be as good: less
// than a mash is read to.
const offStep = 0.02

func (a together) better(b together) bool {
	if a.kept() != b.kept() {
		return a.kept()
	}
	if x, y := math.Floor(a.mash.off/offStep), math.Floor(b.mash.off/offStep); x != y {
		return x < y
	}
	if x, y := a.mash.additions+a.sparge.additions, b.mash.additions+b.sparge.additions; x != y {
		return x < y
	}
	return a.cost() < b.cost()-1e-9
}

// bounds are between what the share of the first water lies, in one tank.
func bounds(waters []treat.Supply) (low, high float64) {
	return math.Max(waters[0].Least, 1-waters[1].Most), math.Min(waters[0].Most, 1-waters[1].Least)
}

// jointly settles the shares of two waters for mash and sparge at once: the mash
// alone would take the blend that costs it least, whatever acid the sparge then
// needs, and whatever of a day's permeate is left for it. One blend for both is
// less work; where none keeps all limits, or where it is asked for, each tank gets
// shares of its own.
func (t *Treatment) jointly(p *treat.Problem) {
	t.problem = *p
	if len(p.Waters) != 2 {
		return
	}
	low, high := bounds(p.Waters)
	mash := map[int]blended{}
	inMash := func(share float64) (blended, bool) {
		key := int(math.Round(100 * share))
		if one, known := mash[key]; known {
			return one, one.answer != nil
		}
		one, ok := solved(*p, share)
		mash[key] = one
		return one, ok
	}
	var all []together
	best := -1
	try := func(share float64) {
		share = math.Round(100*math.Max(low, math.Min(high, share))) / 100
		if share < low-1e-9 || share > high+1e-9 || slices.ContainsFunc(all, func(x together) bool { return x.mash.share == share }) {
			return
		}
		one, ok := inMash(share)
		if !ok {
			return
		}
		both := together{one, blended{kept: true, chance: 1}}
		if ok = t.acidOnly(*p, &both); !ok {
			return
		}
		if all = append(all, both); best < 0 || both.better(all[best]) {
			best = len(all) - 1
		}
	}
	for share := low; share < high+wideShare/2; share += wideShare {
		try(share)
	}
	if best >= 0 {
		at := all[best].mash.share
		try(at - fineShare)
		try(at + fineShare)
	}
	if own, ok := t.apart(p.Waters, inMash); ok && (best < 0 || t.Question.Apart || own.kept() && !all[best].kept()) {
		t.own = &own
		fix(p, own.mash.share)
		why := "asked for"
		if best >= 0 && !all[best].kept() {
			why = "no one blend keeps the limits of both"
		}
		t.Notes = append(t.Notes, fmt.Sprintf("mash and sparge have shares of their own (%s): %.4g and %.4g %% %s", why, 100*own.mash.share, 100*own.sparge.share, p.Waters[0].Name))
		return
	}
	if best >= 0 && p.Waters[0].Least != p.Waters[0].Most {
		t.cheaper(all, all[best], p.Waters)
		fix(p, all[best].mash.share)
	}
}

// cheaper notes what a blend that costs less would lose in chance, where the
// waters have a price.
func (t *Treatment) cheaper(all []together, best together, waters []treat.Supply) {
	if waters[0].Price == waters[1].Price {
		return
	}
	var found *together
	for i := range all {
		x := &all[i]
		if x.cost() < 0.95*best.cost() && (found == nil || x.chance() > found.chance()+0.005) {
			found = x
		}
	}
	if found != nil {
		t.Notes = append(t.Notes, fmt.Sprintf("cheaper: %.4g %% %s in both tanks costs %.2f and not %.2f, water and doses, with a chance of %s (here %s)", 100*found.mash.share, waters[0].Name,
			found.cost(), best.cost(), ChanceText(found.chance()), ChanceText(best.chance())))
	}
}

// apart looks for the best shares of their own. What is bounded by litres is
// bounded for both tanks together, a share by itself in each.
func (t *Treatment) apart(waters []treat.Supply, inMash func(float64) (blended, bool)) (best together, found bool) {
	free := slices.Clone(waters)
	for i := range free {
		if t.byLitres[free[i].Name] {
			free[i].Least, free[i].Most = 0, 1
		}
	}
	low, high := bounds(free)
	if low == high {
		return best, false
	}
	// The mash has its range; what the sparge does with a share does not depend on it.
	var mash, sparge []blended
	for share := low; share < high+wideShare/2; share += wideShare {
		share := math.Round(100*math.Min(share, high)) / 100
		if one, ok := inMash(share); ok {
			mash = append(mash, one)
		}
		if one, ok := solved(t.spargeProblem(t.problem), share); ok {
			sparge = append(sparge, one)
		}
	}
	part := t.spargeLitres / (t.Litres + t.spargeLitres)
	for _, m := range mash {
		for _, s := range sparge {
			mean := m.share*(1-part) + s.share*part // of the first water in all
			fits := true
			for i, w := range waters {
				share := mean
				if i == 1 {
					share = 1 - mean
				}
				fits = fits && (!t.byLitres[w.Name] || share >= w.Least-0.005 && share <= w.Most+1e-9)
			}
			if pair := (together{m, s}); fits && (!found || pair.better(best)) {
				best, found = pair, true
			}
		}
	}
	return best, found
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

// solved is what a problem with one blend comes to.
func solved(p treat.Problem, share float64) (blended, bool) {
	fix(&p, share)
	answer, err := treat.Solve(p)
	if err != nil {
		return blended{share: share}, false
	}
	out := blended{share: share, kept: answer.Chance.Wide >= p.Chance, chance: answer.Chance.Wide, answer: answer}
	for k, r := range answer.Results {
		out.kept = out.kept && (r.Missed == 0 || answer.Chance.Narrow[k])
		if r.Target.Mash && !math.IsNaN(r.Target.Min) && !math.IsNaN(r.Target.Max) {
			out.off = math.Abs(r.Value.Value - (r.Target.Min+r.Target.Max)/2)
		}
	}
	for _, d := range answer.Doses {
		cost, _ := d.Cost()
		out.cost += cost
		out.additions++
	}
	for _, w := range p.Waters {
		out.cost += w.Price * w.Most * p.Volume / 1000
	}
	return out, true
}

// spargeProblem is that of a sparge with a blend of its own: all that the target
// asks of it, and the pH of sparge liquor.
func (t *Treatment) spargeProblem(p treat.Problem) treat.Problem {
	p.Volume, p.UVolume, p.Mash, p.IntoMash = t.spargeLitres, treat.TypicalVolumeUncertainty*t.spargeLitres, nil, false
	p.Keep = t.book.dosedNow(t.Target.ID, tankSparge)
	p.Targets = t.book.Judgement(t.Target, tankSparge, t.Question.Now).Targets
	return p
}

// acidOnly finds the acid of a sparge that has the blend of the mash and its part
// of the salts.
func (t *Treatment) acidOnly(p treat.Problem, both *together) bool {
	var acid *treat.Product
	for i := range p.Shelf {
		e, err := p.Shelf[i].Entry()
		if err == nil && e.Kind == substance.Acid && (acid == nil || uses(both.mash.answer, e.Key)) {
			acid = &p.Shelf[i]
		}
	}
	if acid == nil {
		return true
	}
	salts := 0.0
	for _, d := range both.mash.answer.Doses {
		if e, err := d.Entry(); err == nil && e.Kind == substance.Salt {
			cost, _ := d.Cost()
			salts += cost * t.spargeLitres / t.Litres
		}
	}
	p = t.spargeProblem(p)
	p.Shelf, p.Only, p.Targets = []treat.Product{*acid}, nil, p.Targets[:1]
	var ok bool
	if both.sparge, ok = solved(p, both.mash.share); ok {
		both.sparge.cost += salts
		both.sparge.kept = both.sparge.kept && both.sparge.answer.Met()
	}
	return ok
}

func uses(s *treat.Solution, key string) bool {
	for _, d := range s.Doses {
		if d.Substance == key {
			return true
		}
	}
	return false
}
