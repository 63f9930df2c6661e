package report

import (
	"math"
	"slices"
	"sort"
	"time"

	"wj/journal"
	"wj/journal/evidence"
	"wj/journal/judge"
	"wj/journal/plan"
	"wj/water"
	"wj/water/treat"
)

// changeWork is a change while it is worked out.
type changeWork struct {
	j      *journal.Journal
	judged *judge.Change
	facts  evidence.Facts
	book   *plan.Book
	now    time.Time

	proposed, today *plan.Work
	before          *judge.Change // what is approved for the same target until now
	beforeToday     *plan.Work
	balance         *treat.Equilibrium
	balanceErr      error
}

// findBefore finds what this change would replace: what it supersedes, else the newest other change for the same target that
// anybody accepted.
func (w *changeWork) findBefore(changes *judge.Changes) {
	c := w.judged.Change
	var best *journal.Change
	if s, ok := w.j.Changes.Get(c.Supersedes); ok && s.ID != c.ID {
		best = s
	} else {
		for _, other := range w.j.Changes.List {
			if other.For != c.For || other.ID == c.ID || other.Void != nil || other.Proposed.After(c.Proposed) || best != nil && !other.Proposed.After(best.Proposed) {
				continue
			}
			for _, v := range changes.Signoffs(other.ID) {
				if v.Accepts() && v.Standing != evidence.NotAllowed {
					best = other
				}
			}
		}
	}
	if best == nil {
		return
	}
	if on, err := w.book.OnDay(best, w.now); err == nil {
		w.before, w.beforeToday = changes.Change(best), on
	}
}

// inputs lists what the decision depends on that is not the same on the base branch: reviewers miss changes of inputs.
func (w *changeWork) inputs(base *journal.Journal) []string {
	out := []string{}
	if base == nil {
		return out
	}
	needed, _ := evidence.Covers(w.j, w.judged.Change)
	paths := []string{journal.SettingsFile}
	for _, n := range needed {
		if n.Kind != journal.KindChange {
			paths = append(paths, n.Path)
		}
	}
	for _, b := range w.judged.Basis {
		if s, ok := w.j.Sessions.Get(b.Session); ok {
			if site, ok := w.j.Sites.Get(s.Site); ok {
				paths = append(paths, site.Path)
			}
		}
	}
	for _, p := range paths {
		here, err := journal.DigestFile(w.j.FS, p)
		there, errThere := journal.DigestFile(base.FS, p)
		switch {
		case err != nil:
		case errThere != nil:
			out = append(out, p+" is new")
		case here != there:
			out = append(out, p+" differs")
		}
	}
	return out
}

// waters names each water: site, day, whose figures, age and share.
func (w *changeWork) waters(work *plan.Work, liters float64) []Water {
	out := []Water{}
	for i := range work.Sources {
		src := &work.Sources[i]
		s := src.Session()
		one := Water{Site: src.Site, Session: s.ID, Sampled: Moment{s.Sampled.In(w.j.Settings.Zone)}, Source: s.Source, AgeDays: int(math.Round(w.now.Sub(s.Sampled).Hours() / 24)), Share: Number(src.Share), Liters: Number(src.Share * liters)}
		if v, err := src.Analysis.Value(water.Sulfate); err == nil {
			one.Sulfate = number(v.Value)
			one.figure = "sulfate " + valueOf(v.Value, v.U, v.Bound, "").String()
		}
		out = append(out, one)
	}
	return out
}

// doses are the additions, beside those of the change before, scaled to the same volume.
func (w *changeWork) doses(p *ChangePart) {
	was := map[string]treat.Dose{}
	if w.beforeToday != nil {
		if scaled, err := w.beforeToday.Scaled(w.proposed.Prediction.Plan.Volume); err == nil {
			for _, d := range scaled.Prediction.Doses {
				was[d.Substance] = d
			}
		}
	}
	for _, d := range w.proposed.Prediction.Doses {
		one := doseOf(d)
		if w.before != nil {
			one.Before = notDosed
			if o, ok := was[d.Substance]; ok {
				one.Before = doseOf(o).Amount
				delete(was, d.Substance)
			}
		}
		p.Doses = append(p.Doses, one)
	}
	left := make([]string, 0, len(was))
	for key := range was {
		left = append(left, key)
	}
	sort.Strings(left)
	for _, key := range left {
		o := doseOf(was[key])
		p.Doses = append(p.Doses, Dose{Substance: o.Substance, Strength: o.Strength, Unit: o.Unit, Amount: notDosed, Before: o.Amount})
	}
	if cost, ok := w.proposed.Cost(); ok && len(p.Doses) > 0 {
		p.Cost = number(cost)
	}
}

// roundedDown writes a bound with three digits: it is never rounded up.
func roundedDown(v float64) string {
	if !(v > 0) {
		return "0"
	}
	step := math.Pow(10, math.Floor(math.Log10(v))-2)
	return water.Round(math.Floor(v/step*(1+1e-12))*step, 3)
}

// values are the values of the liquor against the target, the one nearest to its limit first.
func (w *changeWork) values(p *ChangePart) {
	end := func(v float64) *float64 {
		if math.IsNaN(v) {
			return nil
		}
		return &v
	}
	for _, id := range w.book.Values(w.judged.Change) {
		v := w.book.Verdict(w.proposed, id)
		if !v.Known && !v.Limited() {
			continue
		}
		one := ChangeValue{Analyte: id.String(), Min: number(v.Min), Max: number(v.Max), Margin: number(v.Margin), id: id}
		if v.Known {
			one.Value, one.U = number(v.Value.Value), number(v.Value.U)
			one.conformity = judge.Conform(v.Value, end(v.Min), end(v.Max))
		} else if v.Limited() {
			one.conformity = judge.Inconclusive
		}
		one.Verdict = one.conformity.String()
		if blend, err := w.proposed.Prediction.Blend(id); err == nil {
			one.Blend = number(blend.Value)
		}
		if w.before != nil {
			if b := w.book.Verdict(w.beforeToday, id); b.Known {
				one.Before = number(b.Value.Value)
			}
		}
		if t := w.book.Verdict(w.today, id); t.Known && v.Known {
			one.Today, one.todayU = number(t.Value.Value), t.Value.U
			// Visibly another value: by more than a tenth of a standard uncertainty.
			p.moved = p.moved || math.Abs(t.Value.Value-v.Value.Value) > 0.1*math.Max(t.Value.U, v.Value.U)
		}
		p.Values = append(p.Values, one)
	}
	slices.SortStableFunc(p.Values, func(a, b ChangeValue) int {
		rank := func(v ChangeValue) float64 {
			switch {
			case v.Margin != nil:
				return float64(*v.Margin)
			case v.Min != nil || v.Max != nil:
				return -1e9 // not known, and it is wanted
			}
			return 1e9
		}
		switch x, y := rank(a), rank(b); {
		case x < y:
			return -1
		case x > y:
			return 1
		}
		return 0
	})
}
