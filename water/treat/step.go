package treat

import (
	"fmt"
	"sort"

	"wj/water"
	"wj/water/substance"
)

// Step is one line of the order of work. Dose and Amount are set where something is weighed or measured out; Tick lines
// wait for a measurement.
type Step struct {
	Do      string
	Dose    *Dose
	Amount  float64 // in Dose.Unit; half of the dose in the half steps of an acid
	Tick    bool    // a value or initials are written down here
	Caution string
}

// order of kinds: chlorine first and alone, then salts, then bases or acids, so that a late pH reading sees the whole water.
var order = map[substance.Kind]int{substance.Sulfite: 0, substance.Salt: 1, substance.Base: 2, substance.Acid: 3}

// mixing is how long a tank recirculates before a sample is taken; common practice, no source.
const mixing = "15 min"

// KettleStage is the stage of what goes into the kettle and not into the tank.
const KettleStage = "kettle"

// Steps gives the order of work for a prediction: metabisulfite first, alone; then salts, the slow ones first; then a base in
// steps, or an acid as half, mix, measure, rest; then a sample. It is data for a sheet and does not ask whether the plan is
// allowed: Check does.
func Steps(p *Prediction) []Step {
	var steps []Step
	if len(p.Plan.Waters) > 1 {
		for _, w := range p.Plan.Waters {
			steps = append(steps, Step{Do: fmt.Sprintf("run in %s of %s (%.4g %%)", litres(w.Share*p.Plan.Volume), w.Name, 100*w.Share), Tick: true})
		}
	} else if len(p.Plan.Waters) == 1 {
		steps = append(steps, Step{Do: fmt.Sprintf("run in %s of %s", litres(p.Plan.Volume), p.Plan.Waters[0].Name), Tick: true})
	}
	doses := make([]*Dose, 0, len(p.Doses))
	for i := range p.Doses {
		if p.Doses[i].Amount > 0 {
			doses = append(doses, &p.Doses[i])
		}
	}
	sort.SliceStable(doses, func(a, b int) bool { return rank(p, doses[a]) < rank(p, doses[b]) })
	sampled := false
	sample := func() {
		if len(doses) > 0 && !sampled {
			steps = append(steps, Step{Do: fmt.Sprintf("recirculate %s, take a sample, and record what was weighed and by whom; a second person has read every label", mixing), Tick: true})
		}
		sampled = true
	}
	for _, d := range doses {
		s, _ := substance.ByKey(d.Substance)
		if late(p, d, s) {
			sample() // of what a verification reads
		}
		steps = append(steps, stepsOf(p, d, s)...)
	}
	sample()
	return steps
}

// late reports whether a dose comes after the sample of the tank: into the mash with the grist, or into the kettle.
func late(p *Prediction, d *Dose, s substance.Substance) bool {
	return d.Stage == KettleStage || p.Plan.IntoMash && s.Kind == substance.Acid
}

// stepsOf are the steps of one dose.
func stepsOf(p *Prediction, d *Dose, s substance.Substance) []Step {
	var steps []Step
	if d.Stage == KettleStage {
		steps = append(steps, Step{Do: fmt.Sprintf("weigh %s into a cup of its own: it goes into the kettle, not into this tank", d), Dose: d, Amount: d.Amount, Tick: true, Caution: s.Caution})
		return steps
	}
	weigh := "weigh"
	if d.Unit == water.Millilitre {
		weigh = "measure out"
	}
	switch s.Kind {
	case substance.Sulfite:
		steps = append(steps,
			Step{Do: fmt.Sprintf("%s %s, dissolve it in a little cold water, stir it in; nothing else goes in now", weigh, d), Dose: d, Amount: d.Amount, Tick: true, Caution: s.Caution},
			Step{Do: "mix, wait 5 min, measure total chlorine: it must be gone before anything else is added; rinse what the metabisulfite was in", Tick: true})
	case substance.Acid:
		into := "pour it slowly into the moving water; acid into water, never water into acid"
		measure := "measure pH and alkalinity; stop if either is already at its aim"
		if p.Plan.IntoMash {
			into = "pour it slowly into the mash while it is stirred, with the grist in it, never into the liquor alone"
			measure = "cool a sample to 20 °C and measure the mash pH; stop if it is already at its aim"
		}
		half := Dose{Addition: d.Addition}
		half.Amount = RoundTo(d.Amount/2, d.Step)
		rest := d.Amount - half.Amount
		steps = append(steps,
			Step{Do: fmt.Sprintf("%s half of %s: %s %s, and %s", weigh, d, half.AmountText(), d.Unit, into), Dose: d, Amount: half.Amount, Tick: true, Caution: s.Caution},
			Step{Do: fmt.Sprintf("mix %s, %s", mixing, measure), Tick: true},
			Step{Do: fmt.Sprintf("add the rest, %s %s, or less after what was measured", Dose{Addition: Addition{Product: d.Product, Amount: rest}}.AmountText(), d.Unit), Dose: d, Amount: rest, Tick: true, Caution: s.Caution})
	case substance.Base:
		steps = append(steps,
			Step{Do: fmt.Sprintf("%s %s and stir it in, half at first", weigh, d), Dose: d, Amount: d.Amount, Tick: true, Caution: s.Caution},
			Step{Do: fmt.Sprintf("mix %s, measure pH, then stir in the rest", mixing), Tick: true})
	default:
		steps = append(steps, Step{Do: fmt.Sprintf("%s %s and stir until none is seen at the bottom", weigh, d), Dose: d, Amount: d.Amount, Tick: true, Caution: s.Caution})
	}
	return steps
}

// rank sorts doses: what comes after the sample last; by kind, and among salts those that dissolve slowly first.
func rank(p *Prediction, d *Dose) int {
	s, ok := substance.ByKey(d.Substance)
	if !ok {
		return 99
	}
	slow := 1
	if s.Solubility > 0 && s.Solubility < 10 {
		slow = 0
	}
	if late(p, d, s) {
		slow += 100
	}
	return 2*order[s.Kind] + slow
}

func litres(v float64) string {
	if v >= 100 {
		return fmt.Sprintf("%.0f L", v)
	}
	return water.Round(v, 3) + " L"
}
