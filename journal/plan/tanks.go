package plan

import (
	"fmt"
	"math"
	"slices"

	"wj/water/substance"
	"wj/water/treat"
)

// Sparge liquor is acidified to this range so that the last runnings do not leach
// the husks; common practice, no source.
const leastSpargePH, mostSpargePH = 5.6, 6.0

// tanks treats mash and sparge apart: the mash as the target asks, for its own
// volume; the sparge with the same blend, acid to a pH of its own, and its part of
// the salts for the kettle, so that all liquor holds the same ions, or with a blend
// of its own (jointly).
func (b *Book) tanks(q Question) (*Treatment, error) {
	whole, sparge := q, q
	_, litres, err := LitresOf(q.Mash, "--mash \"600 L\"")
	if err != nil {
		return nil, err
	}
	_, rest, err := LitresOf(q.Sparge, "--sparge \"700 L\"")
	if err != nil {
		return nil, err
	}
	if q.Target == "" || len(q.Add) > 0 {
		return nil, advise("--target ID, without --add", "mash and sparge are found for a target")
	}
	if q.Volume != "" {
		return nil, advise("leave --volume out", "the volumes are those of --mash and --sparge")
	}
	whole.Volume, whole.Mash, whole.Sparge = q.Mash, "", ""
	whole.all = litres + rest
	t, err := b.ask(whole, tankMash, litres)
	if err != nil {
		return nil, err
	}
	sparge.Volume, sparge.Mash, sparge.Sparge, sparge.AcidTo = q.Sparge, "", "", ""
	sparge.all = litres + rest
	if t.Sparge, err = b.spargeOf(t, sparge, rest); err != nil {
		return nil, fmt.Errorf("treat the sparge liquor: %w", err)
	}
	return t, nil
}

// spargeOf finds the acid of the sparge liquor beside its mash.
func (b *Book) spargeOf(t *Treatment, q Question, litres float64) (*Treatment, error) {
	s := &Treatment{Question: q, book: b, temperature: math.NaN(), tank: tankSparge}
	if err := s.read(); err != nil {
		return nil, err
	}
	s.Notes = nil // those of the waters are reported with the mash
	if t.own != nil {
		return s, s.apartFrom(t)
	}
	for i := range s.supplies {
		for _, w := range t.Answer.Plan.Waters {
			if w.Name == s.supplies[i].Name {
				s.supplies[i].Least, s.supplies[i].Most = w.Share, w.Share
			}
		}
	}
	s.supplies = slices.DeleteFunc(s.supplies, func(x treat.Supply) bool {
		return !slices.ContainsFunc(t.Answer.Plan.Waters, func(w treat.Portion) bool { return w.Name == x.Name })
	})
	acid, err := s.acid(t)
	if err != nil {
		return nil, err
	}
	shelf, err := s.inStock()
	if err != nil {
		return nil, err
	}
	sulfite, _, err := s.sulfite(shelf)
	if err != nil {
		return nil, err
	}
	s.Notes = nil
	p := treat.Problem{Waters: s.supplies, Volume: litres, UVolume: treat.TypicalVolumeUncertainty * litres, Temperature: s.temperature, Open: q.Open, EndPoint: s.endPoint(), Shelf: []treat.Product{acid}, Sulfite: sulfite, Trained: q.Trained, Chance: q.Chance,
		Targets: []treat.Target{spargeTarget}}
	if s.Answer, err = treat.Solve(p); err != nil {
		return nil, err
	}
	plan := s.Answer.Plan
	for i := range plan.Additions {
		if plan.Additions[i].Stage == "" {
			plan.Additions[i].Stage = "sparge"
		}
	}
	for _, a := range t.Answer.Plan.Additions {
		if e, err := a.Entry(); err != nil || e.Kind != substance.Salt {
			continue
		}
		a.Amount *= litres / t.Litres
		if a.Step > 0 {
			a.Amount = treat.RoundTo(a.Amount, a.Step)
		}
		a.Stage = treat.KettleStage
		plan.Additions = append(plan.Additions, a)
	}
	return s, s.judged(plan)
}

// apartFrom finds a sparge with a blend of its own; its salts go into the kettle
// too, so that the sparge water itself is read as it is made.
func (s *Treatment) apartFrom(t *Treatment) error {
	p := t.spargeProblem(t.problem)
	p.Waters = s.supplies
	fix(&p, t.own.sparge.share)
	var err error
	if s.Answer, err = treat.Solve(p); err != nil {
		return err
	}
	plan := s.Answer.Plan
	for i, a := range plan.Additions {
		stage := "sparge"
		if e, err := a.Entry(); err == nil && e.Kind == substance.Salt {
			stage = treat.KettleStage
		}
		if a.Stage == "" {
			plan.Additions[i].Stage = stage
		}
	}
	return s.judged(plan)
}

// judged records the plan of a sparge and holds it against what is asked of it.
func (s *Treatment) judged(plan treat.Plan) error {
	if err := s.record(plan); err != nil {
		return err
	}
	s.judge()
	return nil
}

// acid is that of the mash, else the first in stock.
func (s *Treatment) acid(t *Treatment) (treat.Product, error) {
	shelf, err := s.inStock()
	if err != nil {
		return treat.Product{}, err
	}
	if shelf, err = s.shelf(shelf); err != nil {
		return treat.Product{}, err
	}
	var found *treat.Product
	for i := range shelf {
		e, err := shelf[i].Entry()
		if err != nil || e.Kind != substance.Acid || slices.Contains(s.Question.Without, e.Key) {
			continue
		}
		used := slices.ContainsFunc(t.Answer.Plan.Additions, func(a treat.Addition) bool { return a.Substance == e.Key })
		if found == nil || used {
			found = &shelf[i]
		}
	}
	if found == nil {
		return treat.Product{}, advise("enter its lot with the strength: wj new lot", "no acid is in stock")
	}
	return *found, nil
}
