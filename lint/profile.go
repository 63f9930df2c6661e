package lint

import (
	"math"

	"wj/journal"
	"wj/query/stats"
	"wj/water"
)

// profile is what a site's water usually is in one supply regime: medians over
// the whole history.
type profile struct {
	site   *journal.Site
	regime string
	n      int
	have   [water.NumAnalytes]bool
	middle [water.NumAnalytes]float64
	scale  [water.NumAnalytes]float64
}

// telling are the analytes that tell one water from another.
var telling = []water.ID{water.Alkalinity, water.CalciumHardness, water.TotalHardness, water.Chloride, water.Sulfate, water.Nitrate, water.ElectricalConductivity, water.Sodium}

// profiles are those of a site, made of at least three readings an analyte.
func (h *SiteHistory) profiles() []profile {
	h.profileOnce.Do(func() {
		at := map[string]int{}
		for i := range h.Own {
			if _, ok := at[h.Regime[i]]; !ok {
				at[h.Regime[i]] = len(h.waters)
				h.waters = append(h.waters, profile{site: h.Site, regime: h.Regime[i]})
			}
			h.waters[at[h.Regime[i]]].n++
		}
		values := make([][water.NumAnalytes][]float64, len(h.waters))
		var a water.Analysis
		for i, s := range h.Own {
			journal.Values(s, &a)
			for _, id := range telling {
				if a.Has(id) {
					w := at[h.Regime[i]]
					values[w][id] = append(values[w][id], a.Number(id))
				}
			}
		}
		for w := range h.waters {
			for _, id := range telling {
				list := values[w][id]
				if len(list) < 3 {
					continue
				}
				p := &h.waters[w]
				p.have[id] = true
				p.middle[id], _ = stats.Median(list)
				mad, _ := stats.MAD(list)
				p.scale[id] = math.Max(1.4826*mad, id.Info().Typical.Uncertainty(p.middle[id], 1))
			}
		}
	})
	return h.waters
}

// far is the root mean square distance of readings from a profile, in units of
// the larger of the water's own spread and what a test errs by, and over how
// many analytes.
func (w *profile) far(a *water.Analysis) (rms float64, n int) {
	sum := 0.0
	for _, id := range telling {
		if !w.have[id] || !a.Has(id) {
			continue
		}
		v := a.Number(id)
		d := (v - w.middle[id]) / math.Max(w.scale[id], id.Info().Typical.Uncertainty(v, 1))
		sum += d * d
		n++
	}
	if n == 0 {
		return math.Inf(1), 0
	}
	return math.Sqrt(sum / float64(n)), n
}
