package lint

import (
	"math"

	"wj/water"
)

var changeShares = &Rule{
	Name: "change/shares", Severity: Error, Scope: Whole, Reach: OfRecord, Check: checkChangeShares, Bars: true,
	Title:    "the shares of a blend do not add up to 100 %",
	Settings: []Threshold{{"rounding", "0.5 %", "%", "how far rounding may take the sum"}},
}

func checkChangeShares(p *Pass) {
	for _, c := range p.Journal.Changes.List {
		if c.Void != nil || len(c.Basis) == 0 {
			continue
		}
		sum, readable := 0.0, true
		for _, b := range c.Basis {
			readable = readable && b.Share.Unit == water.Percent
			sum += b.Share.Value
		}
		if readable && math.Abs(sum-100) > p.Setting("rounding")+1e-9 {
			keys := []string{"basis"}
			if len(c.Basis) == 1 {
				keys = []string{"basis", "0", "share"}
			}
			p.Report(c.Path, keys, "the shares add up to %s %%, not 100 %%", plain(sum)).Help("which water is missing, or counted twice? the whole dose hangs on the blend")
		}
	}
}
