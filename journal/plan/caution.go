package plan

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"wj/journal"
	"wj/journal/judge"
	"wj/water"
	"wj/water/limits"
	"wj/water/treat"
)

// Cautions is what limits say of a change on the sessions that it names. A
// change that cannot be worked out as written is still looked at, as far as it
// can be read: a basis that does not exist is a water of which nothing is known,
// shares are taken in proportion, an addition without its strength is left out.
// What is dangerous to handle or to bring together needs no water at all.
func (b *Book) Cautions(c *journal.Change, limits treat.Limits) []treat.Caution {
	p, ok := b.roughly(c)
	if w, err := b.OnBasis(c); err == nil {
		p, ok = w.Prediction, true
	}
	if !ok {
		return b.Together(c.Add, limits)
	}
	balance, err := p.Equilibrate()
	if err != nil {
		balance = nil // what needs the pH is not checked then
	}
	return limits.Check(p, balance)
}

// unfit warns of what the treated water holds over a limit of health or the
// trade's advice for brewing liquor, and forbids what is surely over one of
// health, of whatever was measured and of which no caution speaks yet. Chlorine
// is spoken of where it is dosed for.
func (b *Book) unfit(w *Work, said []AnswerCaution) []AnswerCaution {
	said = slices.Clip(said)
	var out []AnswerCaution
	at := w.At
	if at.IsZero() {
		at = time.Now()
	}
	for _, l := range judge.NewLimits(b.j).Liquor(at) {
		r, err := w.Prediction.Range(l.ID)
		if err != nil || l.Max == nil || l.ID == water.FreeChlorine || l.ID == water.TotalChlorine || l.ID == water.PHValue || r.High <= *l.Max {
			continue
		}
		name := strings.ReplaceAll(l.ID.String(), "_", " ")
		if slices.ContainsFunc(append(said, out...), func(c AnswerCaution) bool { return strings.HasPrefix(c.Message, name+" would be") }) {
			continue
		}
		unit := l.ID.Info().Unit
		message := fmt.Sprintf("%s would be %s %s, over %s", name, water.Round(r.Value.Value, 2), unit, l.Written)
		if r.Value.Value <= *l.Max {
			message = fmt.Sprintf("%s would be %s %s, and may be over %s", name, water.Round(r.Value.Value, 2), unit, l.Written)
		}
		rule := "limit/site"
		switch l.Kind {
		case limits.Health:
			rule = "limit/health"
		case limits.Brewing:
			rule = "limit/brewing"
		}
		help := "treat the water for it before it is brewed with, or take another water"
		if l.Health() {
			help += "; whether the water may be drunk, an accredited laboratory and the local code say"
		}
		severity := treat.Warning
		if l.Health() && r.Low > *l.Max { // no dose makes it fit to brew with
			severity = treat.Error
		}
		out = append(out, AnswerCaution{string(severity), rule, message, help, l.Source})
	}
	return out
}

// Together is what limits say of additions of which neither water nor volume
// is known, such as those that a batch without a change weighed.
func (b *Book) Together(list []journal.Addition, limits treat.Limits) []treat.Caution {
	return limits.Together(b.readable(list))
}

// readable are the additions that can be counted.
func (b *Book) readable(list []journal.Addition) []treat.Addition {
	var out []treat.Addition
	for i := range list {
		if a, _, err := b.addition(&list[i]); err == nil {
			out = append(out, a)
		}
	}
	return out
}

// roughly works out what of a change can be read; ok is false without a volume.
func (b *Book) roughly(c *journal.Change) (p *treat.Prediction, ok bool) {
	litres, err := c.Volume.In(litre)
	if err != nil {
		return nil, false
	}
	rough := treat.Plan{Volume: litres, Temperature: temperatureOf(c), Open: c.Open, Additions: b.readable(c.Add)}
	b.intoMash(c, &rough)
	sum := 0.0
	for _, basis := range c.Basis {
		portion := treat.Portion{Name: basis.Session, Analysis: &water.Analysis{}}
		if s, known := b.j.Sessions.Get(basis.Session); known {
			src := b.basis(s)
			portion.Name, portion.Analysis = s.Site, &src.Analysis
		}
		if share, err := basis.Share.In(percent); err == nil && share > 0 {
			portion.Share = share
		}
		sum += portion.Share
		rough.Waters = append(rough.Waters, portion)
	}
	for i := range rough.Waters {
		rough.Waters[i].Share /= sum
	}
	if !(sum > 0) {
		rough.Waters = []treat.Portion{{Name: "the blend", Analysis: &water.Analysis{}, Share: 1}}
	}
	p, err = predict(rough)
	return p, err == nil
}
