package treat

import (
	"errors"
	"fmt"
	"math"

	"wj/water"
	"wj/water/substance"
)

// Portion is one water of a blend.
type Portion struct {
	Name     string // as the record calls it
	Analysis *water.Analysis
	Share    float64 // part of 1
	UShare   float64 // standard uncertainty of Share
}

// TypicalShareUncertainty is the standard uncertainty of a share that is set by a meter or a dip stick: ± 1 % of the whole,
// rectangular. Common practice, no source.
const TypicalShareUncertainty = 0.01 / 1.7320508075688772

// TypicalVolumeUncertainty is the standard uncertainty of a volume that is read from a meter, a sight glass or a dip stick, as part
// of it: ± 1 %, rectangular. Common practice, no source.
const TypicalVolumeUncertainty = 0.01 / 1.7320508075688772

// Plan is a treatment: waters, their shares, the volume and what is added to it.
type Plan struct {
	Waters []Portion
	Volume float64 // L of blended water that the additions go into
	// UVolume is the standard uncertainty of Volume, L; 0 leaves it out.
	UVolume   float64
	Additions []Addition
	// Temperature of the treated water, degC; 0 or NaN means the mean of the samples'.
	Temperature float64
	// Open says that the water stands open until its CO2 is that of the air, as after heating; else none is lost.
	Open bool
	// EndPoint is the pH at which the method that reads the alkalinity ends its titration; 0 for TitrationEnd.
	EndPoint float64
	// Mash is what the liquor is mashed with; nil where that is not known.
	Mash *Mash
	// IntoMash says that acid goes into the mash with the grist in it: the malt takes what the water does not hold.
	IntoMash bool
	// Settled is how far calcite goes in this brewery's tanks; the zero value where it has not been read.
	Settled Settled
	// Trained names the person who handles a concentrated mineral acid.
	Trained string
}

// Settled is the part of the way to equilibrium that calcite goes, 0 to 1, as a brewery's own batches had it.
type Settled struct {
	Low, High float64
	Batches   int // it depends on; 0: not known
}

// sharesSlack is how far the shares may be from 1: a tenth of the rounding of whole per cents.
const sharesSlack = 1e-6

// TitratedTo is the pH at which the titration of the alkalinity ends.
func (p *Plan) TitratedTo() float64 {
	if p.EndPoint == 0 {
		return TitrationEnd
	}
	return p.EndPoint
}

func (p *Plan) check() error {
	if end := p.TitratedTo(); !(end >= lowestEnd && end <= highestEnd) {
		return fmt.Errorf("predict water: pH %g is no end point of an alkalinity titration; it lies between %g and %g", end, lowestEnd, highestEnd)
	}
	if len(p.Waters) == 0 {
		return fmt.Errorf("predict water: no water to start from; name at least one session as basis")
	}
	if len(p.Waters) > 8 || len(p.Additions) > 32 {
		return fmt.Errorf("predict water: %d waters and %d additions are more than the 8 and 32 allowed", len(p.Waters), len(p.Additions))
	}
	if !(p.Volume > 0) || math.IsInf(p.Volume, 0) {
		return fmt.Errorf("predict water: volume %g L is not above zero", p.Volume)
	}
	if !(p.UVolume >= 0) || p.UVolume > p.Volume/2 {
		return fmt.Errorf("predict water: uncertainty %g L does not fit a volume of %g L", p.UVolume, p.Volume)
	}
	sum := 0.0
	for _, w := range p.Waters {
		if w.Analysis == nil {
			return fmt.Errorf("predict water: %s has no analysis", w.Name)
		}
		if !(w.Share >= 0 && w.Share <= 1) || !(w.UShare >= 0 && w.UShare < 1) {
			return fmt.Errorf("predict water: share %g ± %g of %s is not a part of 1", w.Share, w.UShare, w.Name)
		}
		sum += w.Share
	}
	if math.Abs(sum-1) > sharesSlack {
		return fmt.Errorf("predict water: the shares add up to %.4g %%, not 100 %%", 100*sum)
	}
	for _, a := range p.Additions {
		if !(a.Amount >= 0) || math.IsInf(a.Amount, 0) {
			return fmt.Errorf("predict water: amount %g of %s is not zero or more", a.Amount, a.Substance)
		}
		if !(a.HalfWidth >= 0) || a.HalfWidth >= a.Percent {
			return fmt.Errorf("predict water: strength %g ± %g %% of %s does not make sense", a.Percent, a.HalfWidth, a.Substance)
		}
		if err := a.check(); err != nil {
			return fmt.Errorf("predict water: %w", err)
		}
	}
	return nil
}

// ScaleTo returns the plan for another volume, with amounts in proportion, rounded to the step of the scale where one is
// known. Shares stay.
func (p Plan) ScaleTo(volume float64) (Plan, error) {
	if !(volume > 0) || math.IsInf(volume, 0) {
		return Plan{}, fmt.Errorf("scale plan: volume %g L is not above zero", volume)
	}
	if !(p.Volume > 0) {
		return Plan{}, fmt.Errorf("scale plan: it has no volume of its own")
	}
	factor := volume / p.Volume
	out := p
	out.Volume, out.UVolume = volume, p.UVolume*factor
	out.Additions = make([]Addition, len(p.Additions))
	for i, a := range p.Additions {
		a.Amount *= factor
		a.Amount = a.rounded()
		out.Additions[i] = a
	}
	return out, nil
}

// AsSampled is the plan of what a sample of the tank holds: without what goes into the kettle, and without the acid that goes into the
// mash when the grist is in it.
func (p Plan) AsSampled() Plan {
	out := p
	out.Additions = nil
	for _, a := range p.Additions {
		s, err := a.Entry()
		if a.Stage == KettleStage || p.IntoMash && err == nil && s.Kind == substance.Acid {
			continue
		}
		out.Additions = append(out.Additions, a)
	}
	return out
}

// RoundTo rounds an amount to the step of a scale; a step of 0 leaves it. An amount below half a step is left as it is: the
// scale is too coarse for it, and neither nothing nor a whole step would be right.
func RoundTo(amount, step float64) float64 {
	if !(step > 0) || !(amount > 0) {
		return amount
	}
	// Dividing by the reciprocal of 0.1 g and the like keeps 0.3 from becoming 0.30000000000000004.
	rounded := math.Round(amount/step) * step
	if inverse := math.Round(1 / step); step < 1 && math.Abs(inverse*step-1) < 1e-12 {
		rounded = math.Round(amount*inverse) / inverse
	}
	if rounded == 0 {
		return amount
	}
	return rounded
}

// reading points at one measured value of one water.
type reading struct {
	water int
	id    water.ID
}

// source is one independent cause of error: what it touches, and by how much it moves the mixture.
type source struct {
	name     string
	readings []reading // moved together by their U; empty for shares, strengths, scales and volume
	share    int       // water whose share is moved, or -1
	flat     bool      // rectangular: nothing lies beyond 1.73 standard uncertainties
	delta    mixture
}

// composition is a plan worked out: the blend and the treated mixture with every source of error.
type composition struct {
	plan    *Plan
	known   []water.Analysis // copies with bounds replaced
	parts   []mixture
	fill    int // the water that fills up to the mark
	blend   mixture
	treated mixture
	taken   taken
	sources []source
	absent  [measuredSlots]string // why a value is not available, "" where it can
	notes   []string
	by      [measuredSlots]string // note of a derived part, such as sodium by difference
}

// compose works a plan out. withSources leaves the errors out for the solver.
func compose(p *Plan, withSources bool) (*composition, error) {
	if err := p.check(); err != nil {
		return nil, err
	}
	c := &composition{plan: p, taken: inPureWater(p.TitratedTo()), known: make([]water.Analysis, len(p.Waters)), parts: make([]mixture, len(p.Waters))}
	for i := range p.Waters {
		w := &p.Waters[i]
		c.known[i] = *w.Analysis
		c.replaceBounds(w.Name, &c.known[i])
		c.parts[i] = c.read(i, &c.known[i], true)
		c.blend.add(&c.parts[i], w.Share)
		if w.Share > p.Waters[c.fill].Share {
			c.fill = i
		}
	}
	c.treated = c.blend
	for _, a := range p.Additions {
		one, err := contribution(a.Product, a.Percent)
		if err != nil {
			return nil, err
		}
		c.treated.add(&one, a.Amount/p.Volume)
	}
	c.addedAlone(sPotassium)
	if withSources {
		if err := c.findSources(); err != nil {
			return nil, err
		}
	}
	return c, nil
}

// addedAlone counts what doses bring of an ion that no water was tested for: it is at least that.
func (c *composition) addedAlone(s slot) {
	if c.absent[s] == "" || !(c.treated[s] > c.blend[s]) {
		return
	}
	c.by[s] = "what the doses bring alone; " + c.absent[s]
	c.absent[s] = ""
}

// replaceBounds gives a result below its range the middle of what it can be, rectangular from none to the limit (GUM
// 4.3.7): in a blend that is an honest statement, while a series of such results over time must not be treated so.
func (c *composition) replaceBounds(name string, a *water.Analysis) {
	for id := water.ID(0); id < water.NumAnalytes; id++ {
		m, ok := a.Measured(id)
		if !ok || m.Bound != water.Below || !(m.Value > 0) || id == water.PHValue || id == water.SampleTemperature {
			continue
		}
		a.Set(id, water.Measured{Value: m.Value / 2, U: m.Value / math.Sqrt(12)})
		c.notes = append(c.notes, fmt.Sprintf("%s: %s below %s %s taken as anything from none to that", name, id, water.Round(m.Value, 3), id.Info().Unit))
	}
}

// read is the mixture of one litre of a water; what is not known counts as none and is noted as absent.
func (c *composition) read(i int, a *water.Analysis, first bool) mixture {
	var m mixture
	for s, id := range baseIDs {
		v := number(a, id)
		if math.IsNaN(v) {
			if first && c.plan.Waters[i].Share > 0 && c.absent[s] == "" {
				c.absent[s] = fmt.Sprintf("not known of %s", c.plan.Waters[i].Name)
				if id != water.Alkalinity {
					switch v, err := a.Value(id); {
					case err != nil:
						reason := err.Error()
						var absent *water.Absent
						if errors.As(err, &absent) {
							reason = absent.Reason
						}
						c.absent[s] = c.plan.Waters[i].Name + " " + reason
					case v.Bound != water.Exact:
						c.absent[s] = fmt.Sprintf("%s: %s is only known to be %s%s %s", c.plan.Waters[i].Name, id, v.Bound, water.Round(v.Value, 3), id.Info().Unit)
					}
				}
			}
			continue
		}
		m[s] = v
		if first && !a.Has(id) && id == water.Sodium && c.plan.Waters[i].Share > 0 {
			if v, err := a.Derive(id); err == nil {
				c.by[s] = c.plan.Waters[i].Name + ": " + v.Note
			}
		}
	}
	// One test of chlorine stands for both: all total chlorine as free, which uses more alkalinity, and all free as the total.
	switch total, free := a.Has(water.TotalChlorine), a.Has(water.FreeChlorine); {
	case total && !free:
		m[sFreeChlorine] = m[sTotalChlorine]
	case free && !total:
		m[sTotalChlorine] = m[sFreeChlorine]
	}
	return m
}

// number is a value of a water, measured or derived, NaN where it is not available.
func number(a *water.Analysis, id water.ID) float64 {
	if id == water.Alkalinity && !a.Has(id) && a.Has(water.Bicarbonate) {
		// A laboratory that reports bicarbonate and carbonate: one and two equivalents.
		carbonate := 0.0
		if a.Has(water.Carbonate) {
			carbonate = a.Number(water.Carbonate)
		}
		return (a.Number(water.Bicarbonate)/water.Bicarbonate.Info().MolarMass + 2*carbonate/water.Carbonate.Info().MolarMass) * equivalentCalcite
	}
	return a.Number(id)
}

// shifted is a water with one reading moved by its standard uncertainty, times a sign.
func shifted(a water.Analysis, id water.ID, sign float64) water.Analysis {
	m, _ := a.Measured(id)
	m.Value += sign * m.U
	a.Set(id, m)
	return a
}

// findSources lists the errors (GUM 5.1.2; the finite differences of Kragten 1994, Analyst 119, 2161): each reading, those
// of one name together; each share but the largest, which fills up to the mark; each strength; each scale; the volume.
func (c *composition) findSources() error {
	shared := map[string]int{}
	for i := range c.known {
		share := c.plan.Waters[i].Share
		if share == 0 {
			continue
		}
		for id := water.ID(0); id < water.NumAnalytes; id++ {
			m, _ := c.known[i].Measured(id)
			if !c.known[i].Has(id) || !(m.U > 0) {
				continue
			}
			moved := shifted(c.known[i], id, 1)
			after := c.read(i, &moved, false)
			var delta mixture
			delta.add(&after, share)
			delta.add(&c.parts[i], -share)
			if delta == (mixture{}) && id != water.PHValue {
				continue
			}
			at, ok := shared[m.Shared]
			if m.Shared == "" || !ok {
				at = len(c.sources)
				c.sources = append(c.sources, source{name: c.plan.Waters[i].Name + " " + id.String(), share: -1})
				if m.Shared != "" {
					shared[m.Shared] = at
					c.sources[at].name = m.Shared
				}
			}
			c.sources[at].readings = append(c.sources[at].readings, reading{i, id})
			c.sources[at].delta.add(&delta, 1)
		}
	}
	for i := range c.known {
		// What closes a balance of charge holds what was not measured too.
		share := c.plan.Waters[i].Share
		if u := c.known[i].UnmeasuredCharge(); share > 0 && u > 0 {
			s := source{name: c.plan.Waters[i].Name + " ions not measured", share: -1}
			s.delta[sSodium] = share * u * water.Sodium.Info().MolarMass
			c.sources = append(c.sources, s)
		}
	}
	for i, w := range c.plan.Waters {
		if i == c.fill || w.UShare == 0 {
			continue
		}
		s := source{name: "share of " + w.Name, share: i, flat: true}
		s.delta.add(&c.parts[i], w.UShare)
		s.delta.add(&c.parts[c.fill], -w.UShare)
		c.sources = append(c.sources, s)
	}
	for _, a := range c.plan.Additions {
		perLitre := a.Amount / c.plan.Volume
		if perLitre == 0 {
			continue
		}
		one, err := contribution(a.Product, a.Percent)
		if err != nil {
			return err
		}
		if u := a.HalfWidth / math.Sqrt(3); u > 0 {
			// Weaker rather than stronger: a strength near 100 % w/w has no table above it.
			weaker, err := contribution(a.Product, a.Percent-u)
			if err != nil {
				return err
			}
			s := source{name: "strength of " + a.Substance, share: -1, flat: true}
			s.delta.add(&weaker, perLitre)
			s.delta.add(&one, -perLitre)
			c.sources = append(c.sources, s)
		}
		if step := a.step(); step > 0 {
			s := source{name: "scale for " + a.Substance, share: -1, flat: true}
			s.delta.add(&one, step/math.Sqrt(12)/c.plan.Volume)
			c.sources = append(c.sources, s)
		}
	}
	if c.plan.UVolume > 0 && len(c.plan.Additions) > 0 {
		s := source{name: "volume", share: -1, flat: true}
		factor := 1/(1+c.plan.UVolume/c.plan.Volume) - 1
		s.delta.add(&c.treated, factor)
		s.delta.add(&c.blend, -factor)
		c.sources = append(c.sources, s)
	}
	return nil
}
