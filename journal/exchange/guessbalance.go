package exchange

import (
	"fmt"
	"math"
	"sort"
	"strconv"
	"strings"

	"wj/water"
)

// The charges of a whole analysis cancel (Standard Methods 1030 E), so that a unit
// or basis that is guessed wrong shows in the charge balance. It proves nothing,
// and nothing is decided by it: the numbers stand beside the question.

// balanceIons are the ions that a whole analysis has; of the last two, one.
var (
	balanceCations = []water.ID{water.Calcium, water.Magnesium, water.Sodium, water.Potassium}
	balanceAnions  = []water.ID{water.Chloride, water.Sulfate, water.Nitrate, water.Alkalinity, water.Bicarbonate}
)

// fewestBalances is how many whole rows are needed before a balance is told.
const fewestBalances = 3

// balance is the charge balance of the row in the middle, without its sign, in %,
// when the columns are read in these units; ok where enough rows are whole.
func (g *guesser) balance(heads map[int]resultHead, units map[int]water.Unit) (percent float64, ok bool) {
	column := map[water.ID]int{}
	for i, h := range heads {
		if h.instead == "" {
			column[h.id] = i
		}
	}
	if _, both := column[water.Alkalinity]; both {
		delete(column, water.Bicarbonate)
	}
	var found []float64
	for i := range g.lines {
		charges := func(ids []water.ID) (sum float64, present int) {
			for _, id := range ids {
				n, known := column[id]
				if !known {
					continue
				}
				v, err := strconv.ParseFloat(strings.Replace(g.lines[i].cell(n).Text, ",", ".", 1), 64)
				if err != nil || v < 0 {
					continue
				}
				meq, err := id.Info().Convert(v, units[n], water.MilliequivLitre)
				if err != nil {
					continue
				}
				sum += meq
				if id != water.Potassium && id != water.Nitrate {
					present++
				}
			}
			return sum, present
		}
		cations, some := charges(balanceCations)
		anions, others := charges(balanceAnions)
		if some == 3 && others == 3 && cations+anions > 0 {
			found = append(found, 100*math.Abs(cations-anions)/(cations+anions))
		}
	}
	if len(found) < fewestBalances {
		return 0, false
	}
	sort.Float64s(found)
	return found[(len(found)-1)/2], true
}

// weigh finds what the charge balances say of the units that are not told: of the
// common one, and by column of the bases.
func (g *guesser) weigh(heads map[int]resultHead) (common string, bases map[int]string) {
	units, open := map[int]water.Unit{}, map[int]bool{}
	for i, h := range heads {
		info := h.id.Info()
		units[i] = h.unit
		if !h.exact {
			units[i], open[i] = water.MilligramLitre, true
		}
		if fits := basesFor(info, units[i]); info.FitUnit(units[i]) != nil && len(fits) > 0 {
			units[i] = fits[0]
		}
	}
	told := func(names []string, set func(k int)) string {
		var out []string
		for k, name := range names {
			set(k)
			if p, ok := g.balance(heads, units); ok {
				out = append(out, fmt.Sprintf("%.1f %% with %s", p, name))
			}
		}
		set(0)
		if len(out) < 2 {
			return ""
		}
		return "; the charge balance in the middle would be " + strings.Join(out, ", ")
	}
	candidates := []water.Unit{water.MilligramLitre, water.MilliequivLitre, water.MillimolLitre}
	if len(open) > 2 {
		common = told([]string{"mg/L", "meq/L", "mmol/L"}, func(k int) {
			for i := range open {
				units[i] = candidates[k]
				if fits := basesFor(heads[i].id.Info(), units[i]); heads[i].id.Info().FitUnit(units[i]) != nil && len(fits) > 0 {
					units[i] = fits[0]
				}
			}
		})
	}
	bases = map[int]string{}
	for i, h := range heads {
		if h.id != water.Alkalinity { // the others weigh too little in most waters to tell
			continue
		}
		if fits := basesFor(h.id.Info(), h.unit); h.exact && h.id.Info().FitUnit(h.unit) != nil && len(fits) > 1 && h.instead == "" {
			names := make([]string, len(fits))
			for k, u := range fits {
				names[k] = u.String()
			}
			bases[i] = told(names, func(k int) { units[i] = fits[k] })
		}
	}
	return common, bases
}
