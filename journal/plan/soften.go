package plan

import (
	"errors"
	"fmt"

	"wj/water"
	"wj/water/substance"
	"wj/water/treat"
)

// Softened is lime softening as a procedure, in steps that wait for readings.
// Values are mg/L, alkalinity as CaCO3; each pair is at equilibrium and where as
// little settles as may.
type Softened struct {
	Water      string      `json:"water"`
	Session    string      `json:"session"`
	Volume     float64     `json:"volume"`
	VolumeUnit string      `json:"volume_unit"`
	Split      bool        `json:"split"`
	Share      float64     `json:"limed_share"`
	Lime       AnswerDose  `json:"lime"`
	Before     SoftValue   `json:"before"`
	Limed      []SoftValue `json:"limed"`
	Mixed      []SoftValue `json:"mixed"`
	Sludge     float64     `json:"sludge_g"`
	Steps      []SoftStep  `json:"steps"`
	Cautions   []string    `json:"cautions"`
	Doubts     []string    `json:"basis_doubts,omitempty"`
	Notes      []string    `json:"notes,omitempty"`
}

// SoftValue is a water on its way.
type SoftValue struct {
	Alkalinity float64 `json:"alkalinity"`
	Calcium    float64 `json:"calcium"`
	Magnesium  float64 `json:"magnesium"`
	PH         float64 `json:"pH"`
}

// SoftStep is one step; Hold is what must be read before the next.
type SoftStep struct {
	Do   string `json:"do"`
	Hold string `json:"hold,omitempty"`
}

// Soften works lime softening out for one water and a volume.
func (b *Book) Soften(q Question) (*Softened, error) {
	t := &Treatment{Question: q, book: b}
	q.Add = []string{"lime"} // no target is needed
	t.Question.Add = q.Add
	if err := t.read(); err != nil {
		return nil, err
	}
	if len(t.supplies) != 1 {
		return nil, advise("--water north-well", "lime softening is worked out for one water: blend what comes out")
	}
	lime, err := t.lime()
	if err != nil {
		return nil, err
	}
	w := t.supplies[0]
	s, err := treat.Soften(w.Name, w.Analysis, lime, t.Litres)
	if errors.Is(err, treat.ErrNothingToSoften) {
		return nil, advise("soft water needs none: acid takes the alkalinity that it has (wj treat --acid-to), and salts give it hardness", "%w", err)
	}
	if err != nil {
		return nil, advise("take a session with pH, alkalinity, calcium, magnesium, chloride and sulfate", "%w", err)
	}
	grams := s.Grams
	if lime.Step > 0 {
		grams = treat.RoundTo(grams, lime.Step)
	}
	out := &Softened{Water: w.Name, Session: t.sessions[w.Name].ID, Volume: plainFigure(t.Litres), VolumeUnit: "L", Split: s.Share < 1, Share: plainFigure(s.Share), Sludge: plainFigure(s.Settled), Before: softValue(s.Raw), Notes: t.Notes,
		Lime: AnswerDose{Substance: lime.Substance, Amount: plainFigure(grams), Unit: lime.Unit.String(), Strength: lime.StrengthText(), Volume: plainFigure(t.Litres * s.Share), Litres: "L", Most: plainFigure(s.Most), Why: "more lime raises the alkalinity again", Lot: lime.Lot}}
	for i := range s.Limed {
		out.Limed = append(out.Limed, softValue(s.Limed[i]))
		out.Mixed = append(out.Mixed, softValue(s.Mixed[i]))
	}
	out.steps(s, grams)
	entry, err := lime.Entry()
	if err != nil {
		return nil, err
	}
	out.Cautions = []string{entry.Caution, "never lime and acid together: they spit; wash eyes with much water and see a doctor; follow the safety data sheet and the local code",
		"how far a tank settles is not known before it is read: both ends are shown, and no step is taken on the prediction"}
	return out, nil
}

// lime is the slaked lime in stock, else as the table has it.
func (t *Treatment) lime() (treat.Product, error) {
	shelf, err := t.inStock()
	if err != nil {
		return treat.Product{}, err
	}
	for _, g := range shelf {
		if e, err := g.Entry(); err == nil && e.Kind == substance.Base && e.MolesOf("calcium") > 0 && e.InorganicCarbon == 0 {
			return g, nil
		}
	}
	g, err := treat.NewProduct("slaked_lime", water.Quantity{}, "")
	if err != nil {
		return g, err
	}
	g.Step = t.book.Step(g.Unit)
	t.Notes = append(t.Notes, "slaked_lime is not in stock; taken as "+g.StrengthText())
	return g, nil
}

func softValue(e treat.LimeEnd) SoftValue {
	return SoftValue{plainFigure(e.Alkalinity), plainFigure(e.Calcium), plainFigure(e.Magnesium), plainFigure(e.PH)}
}

func (out *Softened) steps(s *treat.Softening, grams float64) {
	limed := s.Volume * s.Share
	add := func(hold, format string, args ...any) {
		out.Steps = append(out.Steps, SoftStep{fmt.Sprintf(format, args...), hold})
	}
	aim := "pH 10 to 10.5, then falling as it settles"
	if s.Magnesium {
		aim = "pH 11.0 to 11.5, where magnesium falls out too"
	}
	add("", "run %.0f L of %s into a tank with a drain above its bottom", limed, out.Water)
	add("pH: "+aim, "slurry %.4g g of the lime in cold water, pour it in and stir 15 min", grams)
	add("pH and alkalinity of the clear water, entered as a session of its own site", "let it settle 60 to 90 min or more; draw the clear water off, and leave the sludge (about %s g) behind", water.Round(out.Sludge, 2))
	if s.Share < 1 {
		add("", "work the share of raw water out anew from what was read: wj treat --water SOFTENED --water %s --target …; planned are %.0f L (%.0f %%)", out.Water, s.Volume-limed, 100*(1-s.Share))
		add(fmt.Sprintf("pH (under %.1f) and alkalinity, entered as a session", treat.MostBatchedPH), "mix the raw water in, stir, and let it settle again 60 min")
	}
	add("", "let acid take the rest by a dose of its own, found on the last session: wj treat --water SOFTENED --target …; a water above pH %.1f is not brewed with", treat.MostBatchedPH)
}
