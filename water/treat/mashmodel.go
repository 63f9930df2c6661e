package treat

import (
	"fmt"
	"math"

	"wj/water/equilibrium"
)

// Mash is a grist with the liquor that it is mashed with: what makes a mash pH a value that doses can be found for.
type Mash struct {
	Grist  []Malt
	Liquor float64 // L in the mash
	// Offset is how much higher this brewery's own mashes came out than the model says, pH, with its standard uncertainty;
	// Scatter is that of one mash from the next.
	Offset, UOffset, Scatter float64
	// Batches is how many own mashes the offset depends on.
	Batches int
	Assumed []string // what was taken for granted
}

// What a grist is taken for where its lot says nothing. Sources: the pH of the wort of a malt's laboratory mash is between
// 5.6 and 6.0 (e-malt.com/specifications/en_ph.htm, read; 5.70 and its spread within that are opinion); the form of the balance and that one figure of buffering serves near the pH of
// distilled water are deLange, MBAA Technical Quarterly 52(1) (2015), abstract read; the 40 meq/(kg pH) with 15 % are opinion.
// That calcium and magnesium count for less in a mash than in cast wort, and differently for each malt: Influence of Strike
// Water Alkalinity and Hardness on Mash pH, J. Am. Soc. Brew. Chem. (2015) ASBCJ-2015-0621-01, abstract read; the range of a
// half to all is opinion. The scatter and the spread of offsets are opinion.
const (
	BaseMaltPH     = 5.70
	UBaseMaltPH    = 0.08
	UCertificatePH = 0.05
	BaseMaltBuffer = 40.0
	UBuffer        = 0.15 // part of the buffering
	hardnessMiddle = 0.75
	hardnessHalf   = 0.25
	MashScatter    = 0.05
	PriorOffset    = 0.09
)

// mashSource is a source of error of the mash alone.
type mashSource int

const (
	mashMaltPH mashSource = iota
	mashBuffer
	mashHardness
	mashOffset
	mashScatter
	mashSources
)

var mashSourceNames = [mashSources]string{"pH of the malt", "buffering of the malt", "calcium's part in the mash", "own mashes", "scatter of mashes"}

// check refuses what no mash is.
func (m *Mash) check() error {
	if len(m.Grist) == 0 {
		return fmt.Errorf("estimate mash pH: no malt is given")
	}
	if !(m.Liquor > 0) || math.IsInf(m.Liquor, 0) {
		return fmt.Errorf("estimate mash pH: %g L of liquor is not above zero", m.Liquor)
	}
	for _, x := range m.Grist {
		if !(x.Kilograms > 0) || !(x.Buffer > 0 && x.Buffer < 500) || !(x.DistilledPH > 2.5 && x.DistilledPH < 7.5) {
			return fmt.Errorf("estimate mash pH: %s: %g kg, pH %g in distilled water, buffer %g meq/(kg pH) is out of range; a pale malt has about 5.7 and 40", x.Name, x.Kilograms, x.DistilledPH, x.Buffer)
		}
	}
	return nil
}

// at is the mash pH at 20 degC with a treated water, with one source moved by so many standard uncertainties; -1 for none. It
// solves Σ kg × buffer × (pH − pH in distilled water) + litres × [h (Ca/3.5 + Mg/7) − what the water takes down to the pH] = 0,
// all in meq (deLange 2015; Kolbach 1953 for the 3.5 and the 7).
func (m *Mash) at(mix *mixture, water equilibrium.Water, source mashSource, size float64) (float64, error) {
	buffer, middle := 0.0, 0.0
	if source == mashMaltPH || source == mashBuffer || source == mashHardness {
		size /= math.Sqrt(1 + float64(m.Batches)) // what moves all mashes alike is in their offset already
	}
	for _, x := range m.Grist {
		kilo := x.Kilograms * x.Buffer
		if source == mashBuffer {
			kilo *= 1 + UBuffer*size
		}
		u := x.UPH
		if u == 0 {
			u = UBaseMaltPH
		}
		pH := x.DistilledPH
		if source == mashMaltPH {
			pH += u * size // the malts of a maltster and a year move together
		}
		buffer += kilo
		middle += kilo * pH
	}
	h := hardnessMiddle
	if source == mashHardness {
		h += hardnessHalf / math.Sqrt(3) * size
	}
	hardness := h * (mix.calciumHardness()/3.5 + mix.magnesiumHardness()/7) / equivalentCalcite
	water.Temperature = mashTemperature
	excess := func(pH float64) (float64, error) {
		left, err := equilibrium.AlkalinityAt(water, pH)
		return buffer*pH - middle + m.Liquor*(hardness-1000*(water.Alkalinity-left)), err
	}
	x := middle / buffer
	fx, err := excess(x)
	slope := buffer + 2*m.Liquor // about, for the first step
	for range 30 {
		if err != nil {
			return 0, fmt.Errorf("estimate mash pH: %w", err)
		}
		next := x - fx/slope
		if !(next > 3 && next < 9) {
			return 0, fmt.Errorf("estimate mash pH: no pH between 3 and 9 balances; check masses, volumes and buffering")
		}
		if math.Abs(next-x) < 1e-6 {
			x = next
			break
		}
		var fn float64
		fn, err = excess(next)
		if d := (fn - fx) / (next - x); d > 0 {
			slope = d
		}
		x, fx = next, fn
	}
	x += m.Offset
	switch source {
	case mashOffset:
		x += m.UOffset * size
	case mashScatter:
		x += m.Scatter * size
	}
	return x, nil
}

// takes is the alkalinity, mg/L CaCO3 of the mash's liquor, that the malt stands for down to a mash half a pH below its own:
// what acid may go in beyond the alkalinity of the water.
func (m *Mash) takes() float64 {
	sum := 0.0
	for _, x := range m.Grist {
		sum += 0.5 * x.Kilograms * x.Buffer
	}
	return sum / m.Liquor * equivalentCalcite
}

// leastMashPH is where no mash is led on purpose; common practice, no source.
const leastMashPH = 5.0

// MashPoint is the mash pH that a grist gives with the treated water, without its uncertainty.
func (p *Prediction) MashPoint(m *Mash) (float64, error) {
	if err := m.check(); err != nil {
		return 0, err
	}
	ends := p.ends()
	if p.cause != nil {
		return 0, p.cause
	}
	return m.at(&ends[0].mix, ends[0].closed.Water, -1, 0)
}

// MashValue estimates a prediction's mash pH, with its interval of 95 %.
func (p *Prediction) MashValue() (Range, error) {
	if p.Plan.Mash == nil {
		return Range{}, fmt.Errorf("estimate mash pH: no grist is given")
	}
	c, err := p.Chance([]Target{{Mash: true, ID: mashID, Min: math.NaN(), Max: math.NaN(), Aim: math.NaN()}})
	if err != nil {
		return Range{}, err
	}
	return c.Ranges[0], nil
}

// Learn sharpens a mash by own mashes: residuals are how much higher each came out than the model says. Mean and scatter are
// those of a normal prior of the offset and the scatter that is held.
func (m *Mash) Learn(residuals []float64) {
	n := float64(len(residuals))
	m.Scatter, m.Batches = MashScatter, len(residuals)
	sum := 0.0
	for _, r := range residuals {
		sum += r
	}
	// Two degrees of freedom and more: the scatter that the mashes show joins the one that is held, which counts as four.
	if n > 1 {
		mean, squares := sum/n, 0.0
		for _, r := range residuals {
			squares += (r - mean) * (r - mean)
		}
		m.Scatter = math.Sqrt((4*MashScatter*MashScatter + squares) / (4 + n - 1))
	}
	weight := n + m.Scatter*m.Scatter/(PriorOffset*PriorOffset)
	m.Offset = sum / weight
	m.UOffset = m.Scatter / math.Sqrt(weight)
	if n == 0 {
		m.Offset, m.UOffset = 0, 0 // the malt's own uncertainty is all there is
	}
}
