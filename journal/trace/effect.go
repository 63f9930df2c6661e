package trace

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"wj/journal"
	"wj/water"
	"wj/water/substance"
)

// share is a part of a blend as a number from 0 to 1.
func share(b journal.Basis) (float64, error) {
	v, err := b.Share.In(percent)
	if err != nil || b.Share.Bound != water.Exact {
		return 0, fmt.Errorf("the share of %s is not a part of the whole: %s", b.Session, b.Share)
	}
	return v / 100, nil
}

var percent, _ = water.ParseUnit("%")
var gram, _ = water.ParseUnit("g")
var millilitre, _ = water.ParseUnit("mL")
var litre, _ = water.ParseUnit("L")

// Conserved are the constituents that a blend and its salts add up in
// proportion (conservation of mass): no equilibrium moves them.
var Conserved = []water.ID{water.Calcium, water.Magnesium, water.Sodium, water.Potassium, water.Chloride, water.Sulfate, water.Nitrate}

// Linear are the values that move in proportion when one water of a blend
// moves: the conserved ones, and alkalinity and hardness with what is a sum of
// them (Kolbach 1953 for residual alkalinity).
var Linear = append(append([]water.ID{}, Conserved...), water.Alkalinity, water.CalciumHardness, water.TotalHardness, water.MagnesiumHardness, water.ResidualAlkalinity)

// Blend is a value of a blend in its standard unit, before additions: the sum
// of share times value. A result below its method's range counts as half the
// limit (GUM 4.3.7: between 0 and the limit nothing is known), and halved says
// so. It is NaN where a water has no such value.
func Blend(parts []Part, value func(*journal.Session) (float64, water.Bound)) (sum float64, halved bool) {
	for _, p := range parts {
		v, bound := value(p.Session)
		switch bound {
		case water.Below:
			v, halved = v/2, true
		case water.Above:
			return math.NaN(), false
		}
		sum += p.Share * v
	}
	if len(parts) == 0 {
		return math.NaN(), false
	}
	return sum, halved
}

// Reading gives the measured or derived value of a session, with every reading
// first divided by 1+off of it: off is by what part each is in error, so that
// -0.18 takes readings that are 18 % too low for what they should have been.
// A nil off leaves the readings alone.
func Reading(s *journal.Session, id water.ID, off func(*journal.Session, *journal.Reading) float64) (float64, water.Bound) {
	var a water.Analysis
	journal.Values(s, &a)
	if off != nil {
		for i := range s.Readings {
			r := &s.Readings[i]
			m, ok := a.Measured(r.Analyte)
			if e := off(s, r); ok && e != 0 && e > -1 {
				m.Value /= 1 + e
				a.Set(r.Analyte, m)
			}
		}
	}
	v, err := a.Value(id)
	if err != nil {
		return math.NaN(), water.Exact
	}
	return v.Value, v.Bound
}

// Added is what the additions bring of a conserved constituent, in mg/L of
// the liquor. The error names the addition that cannot be turned into an
// amount of substance.
func Added(add []journal.Addition, volume water.Quantity, id water.ID) (float64, error) {
	litres, err := volume.In(litre)
	if err != nil || litres <= 0 {
		return math.NaN(), fmt.Errorf("the volume %s is not one", volume)
	}
	sum := 0.0
	for _, a := range add {
		s, ok := substance.ByKey(a.Substance)
		if !ok {
			return math.NaN(), fmt.Errorf("%s is in no table", a.Substance)
		}
		if s.MolesOf(id.String()) == 0 {
			continue
		}
		moles, err := moles(s, a)
		if err != nil {
			return math.NaN(), err
		}
		mass, _ := substance.IonMass(id.String())
		sum += moles * s.MolesOf(id.String()) * mass * 1000 / litres
	}
	return sum, nil
}

func moles(s substance.Substance, a journal.Addition) (float64, error) {
	if ml, err := a.Amount.In(millilitre); err == nil {
		strength, err := parseStrength(a.Strength)
		if err != nil {
			return 0, fmt.Errorf("%s: %w", a.Substance, err)
		}
		return s.MolesInMillilitres(ml, strength)
	}
	grams, err := a.Amount.In(gram)
	if err != nil {
		return 0, fmt.Errorf("%s: %w", a.Substance, err)
	}
	pure := 100.0
	if !a.Assay.Unit.IsNone() {
		if pure, err = a.Assay.In(percent); err != nil {
			return 0, fmt.Errorf("%s: %w", a.Substance, err)
		}
	} else if a.Strength != "" {
		strength, err := parseStrength(a.Strength)
		if err != nil {
			return 0, fmt.Errorf("%s: %w", a.Substance, err)
		}
		if pure, err = s.WeightPercent(strength); err != nil {
			return 0, err
		}
	}
	return s.MolesInGrams(grams, pure)
}

// parseStrength reads "80 % w/w".
func parseStrength(text string) (substance.Strength, error) {
	number, basis, ok := strings.Cut(text, "%")
	v, err := strconv.ParseFloat(strings.TrimSpace(number), 64)
	if !ok || err != nil {
		return substance.Strength{}, fmt.Errorf("strength %q is not one such as 80 %% w/w", text)
	}
	return substance.Strength{Percent: v, Basis: substance.Basis(strings.TrimSpace(basis))}, nil
}

// parts are the waters of a change as its basis names them.
func parts(j *journal.Journal, c *journal.Change) ([]Part, error) {
	var out []Part
	for _, b := range c.Basis {
		s, ok := j.Sessions.Get(b.Session)
		if !ok {
			return nil, fmt.Errorf("the basis session %q does not exist", b.Session)
		}
		part, err := share(b)
		if err != nil {
			return nil, err
		}
		out = append(out, Part{s, part})
	}
	return out, nil
}

// Effect is what an error in some readings does to one value of a change or of
// a batch's liquor, in the value's standard unit.
type Effect struct {
	ID            water.ID
	Before, After float64
	U             float64 // 95 % half-width of Before, 0 where none is known
	Range         *journal.Range
	Halved        bool   // a result below its range entered as half its limit
	Note          string // where Before comes from
}

// Inside reports whether a value lies in the target's range; known is false
// where the target has none.
func (e Effect) Inside(v float64) (inside, known bool) {
	if e.Range == nil || math.IsNaN(v) {
		return false, false
	}
	info := e.ID.Info()
	if e.Range.Min.Set && v < info.Standard(e.Range.Min.Quantity) || e.Range.Max.Set && v > info.Standard(e.Range.Max.Quantity) {
		return false, true
	}
	return true, e.Range.Min.Set || e.Range.Max.Set
}

// Off says by what part a reading is in error: -0.18 for one that is 18 % too
// low.
type Off func(s *journal.Session, r *journal.Reading) float64

// OnChange recomputes what a change expects, were its basis readings in error
// by off. What the change itself expects is moved by the shift of the blend, so
// that acids and equilibria stay in it; where it expects nothing, the sum of
// blend and salts is shifted. Only values that move are returned.
func OnChange(j *journal.Journal, c *journal.Change, off Off) ([]Effect, error) {
	waters, err := parts(j, c)
	if err != nil {
		return nil, err
	}
	return effects(j, c, func(water.ID) []Part { return waters }, c.Add, c.Volume, true, off), nil
}

// OnBatch recomputes the liquor of a batch from the newest sessions of its
// time, what was weighed in and its volume.
func OnBatch(j *journal.Journal, r *journal.Batch, off Off) ([]Effect, error) {
	c, ok := j.Changes.Get(r.Change)
	if !ok {
		return nil, fmt.Errorf("batch %s names no change that exists", r.ID)
	}
	b := builder{j: j}
	waters := func(id water.ID) []Part { return b.water(r, id) }
	volume := r.Volume
	if volume.Unit.IsNone() {
		volume = c.Volume
	}
	// What was weighed in is written short; strength and assay stand in the change.
	weighed := make([]journal.Addition, len(r.Weighed))
	for i, w := range r.Weighed {
		for _, planned := range c.Add {
			if planned.Substance == w.Substance {
				if w.Strength == "" {
					w.Strength = planned.Strength
				}
				if w.Assay.Unit.IsNone() {
					w.Assay = planned.Assay
				}
			}
		}
		weighed[i] = w
	}
	if len(weighed) == 0 {
		weighed = c.Add
	}
	return effects(j, c, waters, weighed, volume, false, off), nil
}

func effects(j *journal.Journal, c *journal.Change, waters func(water.ID) []Part, add []journal.Addition, volume water.Quantity, expected bool, off Off) []Effect {
	target, _ := j.Targets.Get(c.For)
	var out []Effect
	for _, id := range Linear {
		parts := waters(id)
		was, halved := Blend(parts, func(s *journal.Session) (float64, water.Bound) { return Reading(s, id, nil) })
		is, _ := Blend(parts, func(s *journal.Session) (float64, water.Bound) { return Reading(s, id, off) })
		if math.IsNaN(was) || math.IsNaN(is) || math.Abs(is-was) < 1e-9 {
			continue
		}
		e := Effect{ID: id, Before: math.NaN(), Halved: halved}
		if expected {
			for _, x := range c.Expect {
				if x.Name == id && x.Value.Bound == water.Exact {
					e.Before = id.Info().Standard(x.Value)
					if x.Value.Expanded > 0 {
						high := x.Value
						high.Value += x.Value.Expanded
						e.U = math.Abs(id.Info().Standard(high) - e.Before)
					}
					e.Note = "as the change expects it"
				}
			}
		}
		if math.IsNaN(e.Before) {
			conserved := false
			for _, x := range Conserved {
				conserved = conserved || x == id
			}
			if !conserved {
				continue
			}
			salts, err := Added(add, volume, id)
			if err != nil {
				continue
			}
			e.Before, e.Note = was+salts, "blend and salts added up"
		}
		e.After = e.Before + is - was
		if target != nil {
			for i := range target.Ranges {
				if !target.Ranges[i].Mash && target.Ranges[i].Analyte == id {
					e.Range = &target.Ranges[i]
				}
			}
		}
		out = append(out, e)
	}
	return out
}
