package lint

import (
	"math"

	"wj/water"
)

var changeScale = &Rule{
	Name: "change/scale", Severity: Warning, Scope: Whole, Reach: OfRecord, Check: checkChangeScale,
	Title:    "a batch treated far more or less liquor than the change was written for",
	Settings: []Threshold{{"difference", "20 %", "%", "of the proposed volume"}},
}

func checkChangeScale(p *Pass) {
	for _, b := range p.Journal.Batches.List {
		c, ok := p.Journal.Changes.Get(b.Change)
		if b.Void != nil || !ok {
			continue
		}
		brewed, err := b.Volume.In(water.Litre)
		planned, err2 := c.Volume.In(water.Litre)
		if err != nil || err2 != nil || planned <= 0 || brewed <= 0 {
			continue
		}
		if off := 100 * (brewed/planned - 1); math.Abs(off) > p.Setting("difference") {
			help := "have the program scale the dose to the volume; check what was weighed against it"
			if p.unscaled(b) {
				help = "what was weighed is the dose for " + c.Volume.String() + ": is the volume mistyped? If not, test the liquor before it is used"
			}
			p.Report(b.Path, []string{"volume"}, "%s of liquor, and %s was proposed for %s: %+.0f %%", b.Volume, c.ID, c.Volume, off).
				See(c.Path, []string{"volume"}, "the volume of the change").
				Help("%s", help)
		}
	}
}
