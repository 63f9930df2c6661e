package treat

import (
	"errors"
	"fmt"
	"math"

	"wj/water"
)

// Softening is what lime does to a water as a procedure: a part is limed, stirred, settled and drawn off; then raw water is
// mixed in, by what was read and not by what was predicted; then acid takes the rest. Every figure has both ends of how far it
// settles. It is never a dose to trust without a reading.
type Softening struct {
	Volume    float64 // L in all
	Share     float64 // part that is limed, of 1
	PerLitre  float64 // g of the lime as it is, in a litre of the limed part
	Grams     float64 // in all
	Most      float64 // g in all that takes alkalinity to its least; more raises it again
	Magnesium bool    // limed high enough that magnesium falls out too
	Raw       LimeEnd // before
	Limed     [2]LimeEnd
	Mixed     [2]LimeEnd // with the raw water at the planned share; the same as Limed where all is limed
	Settled   float64    // g of calcium carbonate and magnesium hydroxide at the bottom, at equilibrium
}

// LimeEnd is a water at one end of how far it settles: at equilibrium first, then at leastSettled of the way.
type LimeEnd struct{ Alkalinity, Calcium, Magnesium, PH float64 }

// Aims of softening. pH for magnesium: Davis, Water and Wastewater Engineering (year from memory: 2010), p. 7-13; the part of
// the best dose: excess lime is the dangerous side (opinion); split treatment pays where magnesium carries alkalinity: Cleasby &
// Dillingham, J. Sanit. Eng. Div. ASCE 92(2) (1966) 1, abstract read.
const (
	magnesiumPH   = 11.3
	partOfBest    = 0.875
	mostMixedPH   = 8.5 // of a water that is ready; higher wants more raw water
	mostLimePerL  = 1.5 // g of pure calcium hydroxide in a litre, near its solubility
	CalciumFloor  = 30  // mg/L CaCO3 that softening leaves at best; Davis as above (0.60 meq/L)
	MostBatchedPH = 9.5 // water above it is not brewed with; opinion
)

// limer follows one water through lime.
type limer struct {
	c   *composition
	k   *course
	one mixture // of a gram of the lime in a litre
}

// ErrNothingToSoften is of a water from which lime takes no alkalinity.
var ErrNothingToSoften = errors.New("soften with lime: lime takes no alkalinity out of this water")

// Soften works out how to lime a water. Its pH, alkalinity, calcium, magnesium, chloride and sulfate must be known.
func Soften(name string, a *water.Analysis, lime Product, volume float64) (*Softening, error) {
	plan := Plan{Waters: []Portion{{Name: name, Analysis: a, Share: 1}}, Volume: volume, Temperature: math.NaN()}
	c, err := compose(&plan, false)
	if err != nil {
		return nil, err
	}
	l := &limer{c: c}
	if l.k, err = c.course(); err != nil {
		return nil, fmt.Errorf("soften with lime: %w", err)
	}
	if l.one, err = contribution(lime, lime.Percent); err != nil {
		return nil, err
	}
	if !(l.one[sLime] > 0) {
		return nil, fmt.Errorf("soften with lime: %s is no slaked lime", lime.Substance)
	}
	raw, err := l.lime(0, 1)
	if err != nil {
		return nil, err
	}
	out := &Softening{Volume: volume, Share: 1, Raw: l.told(&raw)}
	best, err := l.least()
	if err != nil {
		return nil, err
	}
	out.PerLitre, out.Most = partOfBest*best, best*volume
	// A single dose stays where the settled water is ready without another step.
	if e, err := l.lime(out.PerLitre, 1); err == nil && e.closed.PH > mostMixedPH {
		low, high := 0.0, out.PerLitre
		for range 40 {
			middle := (low + high) / 2
			if e, err := l.lime(middle, 1); err != nil || e.closed.PH > mostMixedPH {
				high = middle
			} else {
				low = middle
			}
		}
		out.PerLitre = low
	}
	// Magnesium carries alkalinity where calcium is not enough for all of it.
	if carried := out.Raw.Alkalinity - out.Raw.Calcium*massCalcite/massCalcium; carried > CalciumFloor {
		if err := l.split(out); err != nil {
			return nil, err
		}
	}
	for i, forms := range []float64{1, leastSettled} {
		limed, err := l.lime(out.PerLitre, forms)
		if err != nil {
			return nil, err
		}
		mixed, err := l.mix(&limed, out.Share, forms)
		if err != nil {
			return nil, err
		}
		out.Limed[i], out.Mixed[i] = l.told(&limed), l.told(&mixed)
		if i == 0 {
			out.Settled = (limed.left.calcite*massCalcite + limed.left.brucite*massBrucite) / 1000 * volume * out.Share
		}
	}
	out.Grams = out.PerLitre * volume * out.Share
	return out, nil
}

// lime is the water with g of lime in a litre, settled so far.
func (l *limer) lime(grams, forms float64) (end, error) {
	m := l.c.treated
	m.add(&l.one, grams)
	at := corner{}
	if grams > 0 {
		at.forms = forms
	}
	return follow(&m, l.k.celsius, l.k.carbon, 0, at)
}

func (l *limer) told(e *end) LimeEnd {
	return LimeEnd{Alkalinity: e.mix[sAlkalinity], Calcium: e.mix[sCalcium], Magnesium: e.mix[sMagnesium], PH: e.closed.PH}
}

// least is the dose of least alkalinity at equilibrium: a scan, then golden section.
func (l *limer) least() (float64, error) {
	most := mostLimePerL / 74.092 * 1000 / l.one[sLime] // g/mol of Ca(OH)2, IUPAC weights
	alkalinity := func(grams float64) (float64, error) {
		e, err := l.lime(grams, 1)
		return e.mix[sAlkalinity], err
	}
	const points = 40
	best, at := math.Inf(1), 0
	for i := range points + 1 {
		v, err := alkalinity(most * float64(i) / points)
		if err != nil {
			break // beyond what the model answers
		}
		if v < best {
			best, at = v, i
		}
	}
	if at == 0 {
		return 0, ErrNothingToSoften
	}
	low, high := most*float64(at-1)/points, most*float64(at+1)/points
	golden := (math.Sqrt(5) - 1) / 2
	for range 30 {
		a, b := high-golden*(high-low), low+golden*(high-low)
		va, err1 := alkalinity(a)
		vb, err2 := alkalinity(b)
		if err1 != nil || err2 == nil && va < vb || err2 != nil {
			high = b
		} else {
			low = a
		}
	}
	return (low + high) / 2, nil
}

// split finds the part to be limed to the pH where magnesium falls out, so that with raw water the alkalinity is least.
func (l *limer) split(out *Softening) error {
	low, high := 0.0, mostLimePerL/74.092*1000/l.one[sLime]
	for range 40 {
		middle := (low + high) / 2
		e, err := l.lime(middle, 1)
		if err != nil || e.closed.PH > magnesiumPH {
			high = middle
		} else {
			low = middle
		}
	}
	dose := (low + high) / 2
	limed, err := l.lime(dose, 1)
	if err != nil {
		return fmt.Errorf("soften with lime: %w", err)
	}
	best, share := math.Inf(1), 0.0
	for part := 0.40; part < 0.985; part += 0.01 {
		e, err := l.mix(&limed, part, 1)
		if err == nil && e.closed.PH <= mostMixedPH && e.mix[sAlkalinity] < best {
			best, share = e.mix[sAlkalinity], part
		}
	}
	single, err := l.lime(out.PerLitre, 1)
	if err != nil {
		return err
	}
	if share > 0 && best < single.mix[sAlkalinity]-5 {
		out.Share, out.PerLitre, out.Magnesium = share, dose, true
		out.Most = dose * out.Volume * share
	}
	return nil
}

// mix is limed and settled water with raw water, settled again.
func (l *limer) mix(limed *end, share, forms float64) (end, error) {
	if share >= 1 {
		return *limed, nil
	}
	var m mixture
	m.add(&limed.mix, share)
	m.add(&l.c.treated, 1-share)
	// What was settled took its carbon along; the slot of dosed carbon carries that as a lack.
	return follow(&m, l.k.celsius, l.k.carbon, 0, corner{forms: forms})
}
