package substance

import (
	"fmt"
	"math"
)

// Basis says what a per cent strength is a per cent of. The two differ by the density: 10 % w/v phosphoric acid is 5 %
// weaker than 10 % w/w.
type Basis string

// WeightByWeight is g in 100 g of solution, WeightByVolume g in 100 mL of solution at 20 degC.
const (
	WeightByWeight Basis = "w/w"
	WeightByVolume Basis = "w/v"
)

// Strength is how much pure substance a solution or a powder holds.
type Strength struct {
	Percent float64
	Basis   Basis
}

// Density returns the density in g/mL at 20 degC of a solution of the given w/w per cent, linearly interpolated in the
// table of the substance. It is an error outside the table: nothing is extrapolated.
func (s Substance) Density(percent float64) (float64, error) {
	table := s.Densities
	if len(table) == 0 {
		return 0, fmt.Errorf("find density of %s solution: no density table for it; weigh the dose instead", s.Key)
	}
	last := table[len(table)-1]
	if math.IsNaN(percent) || percent < table[0].Percent || percent > last.Percent {
		return 0, fmt.Errorf("find density of %s solution at %g %% w/w: the table covers %g to %g %%", s.Key, percent, table[0].Percent, last.Percent)
	}
	for i := 1; i < len(table); i++ {
		if percent <= table[i].Percent {
			a, b := table[i-1], table[i]
			return a.Density + (b.Density-a.Density)*(percent-a.Percent)/(b.Percent-a.Percent), nil
		}
	}
	return last.Density, nil
}

// WeightPercent returns the strength as w/w per cent. A w/v strength is turned by the density table: the w/w per cent p
// at which p x density(p) is the w/v figure.
func (s Substance) WeightPercent(strength Strength) (float64, error) {
	p := strength.Percent
	if math.IsNaN(p) || p <= 0 {
		return 0, fmt.Errorf("read strength of %s: %g %% is not above zero", s.Key, p)
	}
	switch strength.Basis {
	case WeightByWeight:
		if p > 100 {
			return 0, fmt.Errorf("read strength of %s: %g %% w/w is more than 100", s.Key, p)
		}
		return p, nil
	case WeightByVolume:
	default:
		return 0, fmt.Errorf("read strength of %s: %q is not a basis; write %s or %s", s.Key, clip(string(strength.Basis)), WeightByWeight, WeightByVolume)
	}
	if len(s.Densities) == 0 {
		return 0, fmt.Errorf("turn %g %% w/v of %s into w/w: no density table for it", p, s.Key)
	}
	table := s.Densities
	low, high := table[0].Percent, table[len(table)-1].Percent
	most := high * table[len(table)-1].Density
	if p < low*table[0].Density || p > most {
		return 0, fmt.Errorf("turn %g %% w/v of %s into w/w: the density table ends at %.4g %% w/v", p, s.Key, most)
	}
	for range 60 {
		mid := (low + high) / 2
		density, err := s.Density(mid)
		if err != nil {
			return 0, err
		}
		if mid*density < p {
			low = mid
		} else {
			high = mid
		}
	}
	return (low + high) / 2, nil
}

// Molarity returns mol of the formula substance per litre of a solution of the strength, at 20 degC:
// 10 x w/w per cent x density / molar mass.
func (s Substance) Molarity(strength Strength) (float64, error) {
	if strength.Basis == WeightByVolume {
		if math.IsNaN(strength.Percent) || strength.Percent <= 0 {
			return 0, fmt.Errorf("read strength of %s: %g %% is not above zero", s.Key, strength.Percent)
		}
		if _, err := s.WeightPercent(strength); err != nil {
			return 0, err
		}
		return 10 * strength.Percent / s.MolarMass(), nil
	}
	percent, err := s.WeightPercent(strength)
	if err != nil {
		return 0, err
	}
	density, err := s.Density(percent)
	if err != nil {
		return 0, err
	}
	return 10 * percent * density / s.MolarMass(), nil
}

// MolesInGrams returns mol of the formula substance in a weighed mass of goods whose assay or strength is given in w/w
// per cent.
func (s Substance) MolesInGrams(grams, percent float64) (float64, error) {
	if math.IsNaN(grams) || math.IsInf(grams, 0) {
		return 0, fmt.Errorf("turn mass of %s into amount: the mass is not a number", s.Key)
	}
	if math.IsNaN(percent) || percent <= 0 || percent > 100 {
		return 0, fmt.Errorf("turn mass of %s into amount: %g %% w/w is not between 0 and 100", s.Key, percent)
	}
	return grams * percent / 100 / s.MolarMass(), nil
}

// MolesInMillilitres returns mol of the formula substance in a measured volume, mL at 20 degC, of a solution of the
// strength.
func (s Substance) MolesInMillilitres(millilitres float64, strength Strength) (float64, error) {
	if math.IsNaN(millilitres) || math.IsInf(millilitres, 0) {
		return 0, fmt.Errorf("turn volume of %s into amount: the volume is not a number", s.Key)
	}
	m, err := s.Molarity(strength)
	if err != nil {
		return 0, err
	}
	return m * millilitres / 1000, nil
}
