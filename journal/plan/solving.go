package plan

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"

	"wj/journal"
	"wj/water"
	"wj/water/substance"
	"wj/water/treat"
)

// endPoint is that of the titration by which the waters were read, the highest
// where they differ.
func (t *Treatment) endPoint() float64 {
	end := 0.0
	for _, s := range t.sessions {
		end = max(end, t.book.endPoint(s))
	}
	return end
}

// inStock is what can be dosed: the additives in stock.
func (t *Treatment) inStock() ([]treat.Product, error) {
	shelf, _, err := t.book.Shelf(t.Question.Now)
	if err != nil {
		return nil, advise("wj lint lots says what to write there; wj amend LOT strength \"80 % w/w\" --reason \"as on the label\"", "%w", err)
	}
	return shelf, nil
}

// solve finds the doses, and other answers beside.
func (t *Treatment) solve() error {
	q, b := &t.Question, t.book
	shelf, err := t.inStock()
	if err != nil {
		return err
	}
	if shelf, err = t.shelf(shelf); err != nil {
		return err
	}
	p := treat.Problem{Waters: t.supplies, Volume: t.Litres, UVolume: treat.TypicalVolumeUncertainty * t.Litres, Temperature: t.temperature, Open: q.Open, EndPoint: t.endPoint(), Settled: b.settled(q.Now), Shelf: shelf, Trained: q.Trained, Slack: treat.PracticalSlack, ShareStep: 0.01, Chance: q.Chance}
	if q.Exact {
		p.Slack = 0
	}
	if p.Only, err = substances(q.Only); err != nil {
		return err
	}
	if p.Without, err = substances(q.Without); err != nil {
		return err
	}
	for _, key := range p.Only {
		if slices.Contains(p.Without, key) {
			return advise("leave it out of one of them", "%s is in --only and in --without", key)
		}
	}
	for _, g := range shelf {
		if r, ok := b.j.Settings.Restricted[g.Substance]; ok && r.Covers(q.Now.In(b.zone())) {
			p.Without = append(p.Without, g.Substance)
			t.Notes = append(t.Notes, fmt.Sprintf("%s is not dosed: the journal's list keeps it out of beer (%s)", g.Substance, r.Source))
		}
		if slow(g) && !slices.Contains(p.Only, g.Substance) {
			p.Without = append(p.Without, g.Substance)
		}
	}
	if p.Sulfite, p.Shelf, err = t.sulfite(shelf); err != nil {
		return err
	}
	switch {
	case q.MaxAdditions == 0:
		p.MaxAdditions = -1
	case q.MaxAdditions > 0:
		p.MaxAdditions = q.MaxAdditions
	}
	p.Keep = b.dosedNow(t.Target.ID, t.tank)
	p.Targets = t.targets()
	p.Mash, p.IntoMash = t.mash, t.tank == tankMash && t.mash != nil
	if t.mashless != nil {
		return advise("wj amend "+t.Target.ID+" grist … or the pH of the liquor: --acid-to pH=5.8", "find doses for a mash pH: %w", t.mashless)
	}
	if len(p.Targets) == 0 {
		return advise("give the target ranges of ions, alkalinity or pH", "the target %s has nothing that a dose could reach", t.Target.ID)
	}
	if t.spargeLitres > 0 {
		t.jointly(&p)
	}
	if t.Answer, err = treat.Solve(p); err != nil {
		var absent *water.Absent
		if errors.As(err, &absent) {
			return advise("take a basis that has it, such as a laboratory's session, or leave it out of the target", "%w", err)
		}
		return err
	}
	if t.tank == "" && slices.ContainsFunc(t.Answer.Results, func(r treat.Result) bool { return r.Target.Mash && r.Missed != 0 }) {
		t.Notes = append(t.Notes, "acid reaches a mash pH when it goes into the mash with the grist, not into all liquor: --mash and --sparge treat the two apart")
	}
	t.alternatives(p)
	return t.record(t.Answer.Plan)
}

// dosedNow are the substances of the newest change of a target and tank that was
// accepted; nil where there is none.
func (b *Book) dosedNow(target, tank string) []string {
	var newest *journal.Change
	for _, s := range b.j.Signoffs.List {
		c, ok := b.j.Changes.Get(s.Of)
		if !ok || s.Void != nil || s.Decision != journal.DecidedAccepted || c.Void != nil || c.For != target || c.Tank != tank || newest != nil && c.Proposed.Before(newest.Proposed) {
			continue
		}
		newest = c
	}
	if newest == nil {
		return nil
	}
	var out []string
	for _, a := range newest.Add {
		out = append(out, a.Substance)
	}
	return out
}

// slow reports goods that no single dose can be found for: lime settles in steps
// that are measured (wj treat --soften), and chalk may or may not dissolve.
func slow(g treat.Product) bool {
	s, err := g.Entry()
	return err == nil && s.Kind == substance.Base && s.MolesOf("calcium") > 0
}

// targets are the ranges that the answer is held against.
func (t *Treatment) targets() []treat.Target {
	if t.Target == nil {
		return nil
	}
	g := t.book.Judgement(t.Target, t.tank, t.Question.Now)
	t.mash, t.NotJudged = g.Mash, g.NotJudged
	if t.Question.AcidTo != "" {
		if led, err := acidTo(t.Question.AcidTo, g.Targets); err == nil {
			g.Targets = led
			t.NotJudged = slices.DeleteFunc(t.NotJudged, func(n NotJudged) bool { return n.Name == led[0].Name() })
			if led[0].Mash && t.mash == nil {
				t.mash, t.mashless = t.book.Mash(t.Target, t.Question.Now)
			}
		}
	}
	if t.mash != nil && t.mashLitres > 0 {
		own := *t.mash
		own.Liquor = t.mashLitres
		t.mash = &own
	}
	return g.Targets
}

// The tanks that a change may be for.
const (
	tankMash   = "mash"
	tankSparge = "sparge"
)

// shelf adds what is asked for by name and is in no lot, as the table has it.
func (t *Treatment) shelf(shelf []treat.Product) ([]treat.Product, error) {
	if t.Question.AcidTo != "" {
		if _, err := acidTo(t.Question.AcidTo, nil); err != nil {
			return nil, err
		}
	}
	only, err := substances(t.Question.Only)
	if err != nil {
		return nil, err
	}
	for _, key := range only {
		if slices.ContainsFunc(shelf, func(g treat.Product) bool { return g.Substance == key }) {
			continue
		}
		g, err := treat.NewProduct(key, water.Quantity{}, "")
		if err != nil {
			return nil, advise("wj new lot … substance="+key+" strength=\"80 % w/w\"", "%s is not in stock: %w", key, err)
		}
		g.Step = t.book.Step(g.Unit)
		t.Notes = append(t.Notes, fmt.Sprintf("%s is not in stock; taken as %s", key, g.StrengthText()))
		shelf = append(shelf, g)
	}
	if len(shelf) == 0 && t.Question.MaxAdditions != 0 {
		t.Notes = append(t.Notes, "no additive is in stock, so this is the blend alone; enter lots with their strength (wj new lot), or name substances with --only")
	}
	return shelf, nil
}

// alternatives are what other sets of additions would reach, with the guard of
// the answer.
func (t *Treatment) alternatives(p treat.Problem) {
	p.Guard, p.Chance = t.Answer.Guard, 0
	try := func(what string, change func(*treat.Problem)) {
		q := p
		change(&q)
		answer, err := treat.Solve(q)
		t.Others = append(t.Others, Alternative{what, answer, err})
	}
	n := 0 // the metabisulfite is a step of its own
	for _, a := range t.Answer.Plan.Additions {
		if s, err := a.Entry(); err == nil && s.Kind != substance.Sulfite {
			n++
		}
	}
	for k := n - 1; k >= 0; k-- {
		what, most := journal.Count(k, "addition"), k
		if k == 0 {
			what, most = "the blend alone", -1
		}
		try(what, func(q *treat.Problem) { q.MaxAdditions = most })
	}
	for _, a := range t.Answer.Plan.Additions {
		if s, err := a.Entry(); err == nil && s.Kind != substance.Salt && s.Kind != substance.Sulfite && n > 1 {
			try("without "+strings.ReplaceAll(a.Substance, "_", " "), func(q *treat.Problem) { q.Without = append(slices.Clone(q.Without), a.Substance) })
		}
	}
	if t.spargeLitres == 0 {
		t.cheaperBlends(p)
	}
	if p.Slack > 0 {
		p.Slack = 0
		if exact, err := treat.Solve(p); err == nil && len(exact.Plan.Additions) != len(t.Answer.Plan.Additions) {
			t.Others = append(t.Others, Alternative{"nearer to the aims", exact, nil})
		}
	}
}

// Steps by which the dearest water of a blend is cut back, to see what a cheaper
// answer costs in chance.
var cutBacks = [...]float64{0.1, 0.2, 0.4}

// cheaperBlends are answers with less of the dearest water, where waters have a
// price and the share is free.
func (t *Treatment) cheaperBlends(p treat.Problem) {
	dearest, cheapest := -1, math.Inf(1)
	for i, w := range p.Waters {
		if cheapest = min(cheapest, w.Price); dearest < 0 || w.Price > p.Waters[dearest].Price {
			dearest = i
		}
	}
	if dearest < 0 || !(p.Waters[dearest].Price > cheapest) {
		return
	}
	share := 0.0
	for _, w := range t.Answer.Plan.Waters {
		if w.Name == p.Waters[dearest].Name {
			share = w.Share
		}
	}
	p.Guard, p.Chance = 0, t.Question.Chance
	for _, by := range cutBacks {
		q := p
		q.Waters = slices.Clone(p.Waters)
		w := &q.Waters[dearest]
		if w.Most = math.Round(100*(share-by)) / 100; w.Most < max(w.Least, 0.01) {
			break
		}
		answer, err := treat.Solve(q)
		t.Others = append(t.Others, Alternative{"less " + w.Name, answer, err})
	}
}

// CostOf is what an answer's water and doses cost; ok is false where a dose has no
// price.
func (t *Treatment) CostOf(s *treat.Solution) (cost float64, ok bool) {
	for _, d := range s.Doses {
		c, priced := d.Cost()
		if !priced {
			return 0, false
		}
		cost += c
	}
	for _, w := range s.Plan.Waters {
		for _, x := range t.supplies {
			if x.Name == w.Name {
				cost += x.Price * w.Share * t.Litres / 1000
			}
		}
	}
	return cost, true
}
