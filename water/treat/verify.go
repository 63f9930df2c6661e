package treat

import (
	"math"

	"wj/water"
)

// Room is the range of one water's own value within which the treated water stays between min and max (NaN where there is
// none), the rest staying as it is: the current value plus what is left over the water's share. It is for ions, alkalinity and
// total, calcium and magnesium hardness; ok is false for anything else, and for a water without share or value.
func (p *Prediction) Room(waterName string, id water.ID, min, max float64) (lo, hi float64, ok bool) {
	treated, err := p.Value(id)
	if err != nil || !linear(id) || id == water.ResidualAlkalinity || id == water.CationSum || id == water.AnionSum {
		return 0, 0, false
	}
	for i, w := range p.Plan.Waters {
		if w.Name != waterName || w.Share == 0 {
			continue
		}
		own, known := p.c.evaluate(id, &p.c.parts[i])
		if !known || math.IsNaN(own) {
			return 0, 0, false
		}
		return own + (min-treated.Value)/w.Share, own + (max-treated.Value)/w.Share, true
	}
	return 0, 0, false
}
