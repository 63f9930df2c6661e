package lint

import (
	"wj/water"
)

var batchImpossible = &Rule{
	Name: "batch/impossible", Severity: Error, Scope: Whole, Reach: OfRecord, Check: checkBatchImpossible, Bars: true,
	Title: "a mash that no brew has: its pH or its temperature cannot be",
	Settings: []Threshold{
		{"lowest", "4", "", "the lowest mash pH that is believed"},
		{"highest", "7.5", "", "the highest mash pH that is believed"},
	},
}

// checkBatchImpossible believes a mash pH of 4 to 7.5 and a mash of 20 to 100 degC
// (common practice, no source). What cannot be a pH at all bars the record.
func checkBatchImpossible(p *Pass) {
	for _, b := range p.Journal.Batches.List {
		if b.Void != nil {
			continue
		}
		if b.HasMashPH && (b.MashPH < p.Setting("lowest") || b.MashPH > p.Setting("highest")) {
			help := "read the meter again, then amend the line with a reason"
			if b.MashPH > 14 && b.MashPH < 100 {
				help = "is the decimal point missing? " + water.Round(b.MashPH/10, 3) + " would be a mash pH. Amend the line with a reason"
			}
			f := p.Report(b.Path, []string{"mash_pH", "value"}, "mash pH %s: a mash has %s to %s (common practice, no source)", plain(b.MashPH), plain(p.Setting("lowest")), plain(p.Setting("highest"))).Help("%s", help)
			f.d.Bars = b.MashPH < 0 || b.MashPH > 14
		}
		t, err := b.MashTemperature.In(water.DegreeCelsius)
		if b.MashTemperature.Unit.IsNone() || err != nil || t >= 20 && t <= 100 {
			continue
		}
		help := "read the thermometer again, then amend the line with a reason"
		if t > 100 && t < 212 {
			help = "is that in degF? " + water.Round((t-32)/1.8, 3) + " degC would be a mash. Amend the line with a reason"
		}
		p.Report(b.Path, []string{"mash_pH", "temperature"}, "a mash at %s: no mash is there (common practice, no source)", b.MashTemperature).Help("%s", help)
	}
}
