// Package equilibrium computes what is dissolved in a water and how: species, ion pairs, pH, saturation, and what
// acids, bases, salts, blending, aeration and precipitation make of it.
//
// It is pure: numbers in, numbers out. A Water is held as conservative totals (amounts per litre, alkalinity, inorganic
// carbon), which add up under mixing and reaction; pH and the species follow from them. Inside the range 0 to 80 degC,
// pH 4 to 11 and ionic strength to 0.1 mol/L the results agree with a geochemistry reference program to the tolerances in
// testdata/published/equilibrium.tsv; beyond it they are still computed up to the limits named at Speciate, and
// Solution.InRange says so. Kinetics are not modelled: a supersaturated water need not precipitate, nor chalk dissolve.
//
//	w := equilibrium.Water{Temperature: 20, Calcium: 1e-3, Alkalinity: 2e-3}
//	s, err := equilibrium.SpeciateAt(w, 7.8) // finds the inorganic carbon that fits the pH
//	fmt.Println(s.CalciteSaturation, s.Water.InorganicCarbon)
//	w, err = equilibrium.Add(s.Water, equilibrium.ReagentLacticAcid, 5e-4) // mol/L of acid
package equilibrium

import (
	"errors"
	"fmt"
	"math"
)

// Water is a water by its totals: mol per litre of each constituent in all its forms, alkalinity in equivalents per
// litre, temperature in degC. The zero value is pure water at 0 degC.
type Water struct {
	Temperature float64

	Calcium, Magnesium, Sodium, Potassium, Ammonium float64
	Chloride, Sulfate, Nitrate, Fluoride            float64
	Phosphate, Lactate, Citrate, Silica             float64

	// Alkalinity is total alkalinity to the CO2 end point: the sum over the species of protons that they would take up
	// to become CO2, H2PO4-, NH4+, H4SiO4, lactate-, H2 citrate-, less those that H+, HSO4-, HF, H3PO4, lactic and citric
	// acid would give off (Standard Methods 2320; Dickson 1981; Stumm & Morgan, Aquatic Chemistry, ch. 4). It is negative in a
	// water with mineral acidity.
	Alkalinity float64
	// InorganicCarbon is CO2 + HCO3- + CO3 2- with their ion pairs.
	InorganicCarbon float64
}

// Limits of what is computed at all. The activity formulas mean nothing beyond 1 mol/L; pH electrodes and the constants
// little beyond 2 to 12.5.
const (
	lowestTemperature  = 0
	highestTemperature = 95
	lowestPH           = 2.0
	highestPH          = 12.5
	highestStrength    = 1.0
	highestTotal       = 2.0
)

// ErrNoSolution is wrapped by every error that says that a well-formed water has no answer within the limits.
var ErrNoSolution = errors.New("no equilibrium within the limits of the model")

// totalNames gives every total by the name that a journal uses.
var totalNames = []string{
	"calcium", "magnesium", "sodium", "potassium", "ammonium", "chloride", "sulfate", "nitrate", "fluoride", "phosphate",
	"lactate", "citrate", "silica",
}

// Total returns a pointer to the total with the name of a constituent ("calcium", "lactate" …), or nil. It lets a caller
// that holds data by name fill a Water.
func (w *Water) Total(name string) *float64 {
	switch name {
	case "calcium":
		return &w.Calcium
	case "magnesium":
		return &w.Magnesium
	case "sodium":
		return &w.Sodium
	case "potassium":
		return &w.Potassium
	case "ammonium":
		return &w.Ammonium
	case "chloride":
		return &w.Chloride
	case "sulfate":
		return &w.Sulfate
	case "nitrate":
		return &w.Nitrate
	case "fluoride":
		return &w.Fluoride
	case "phosphate":
		return &w.Phosphate
	case "lactate":
		return &w.Lactate
	case "citrate":
		return &w.Citrate
	case "silica":
		return &w.Silica
	}
	return nil
}

// check refuses what no chemistry can answer: a total that is negative, not a number or beyond the model.
func (w *Water) check() error {
	if math.IsNaN(w.Temperature) || w.Temperature < lowestTemperature || w.Temperature > highestTemperature {
		return fmt.Errorf("solve water: temperature %g degC is outside %d to %d degC", w.Temperature, lowestTemperature, highestTemperature)
	}
	for _, name := range totalNames {
		v := *w.Total(name)
		if math.IsNaN(v) || v < 0 {
			return fmt.Errorf("solve water: total %s is %g mol/L; it must be zero or more", name, v)
		}
		if v > highestTotal {
			return fmt.Errorf("solve water: total %s is %g mol/L; the model ends at %g (check the unit)", name, v, highestTotal)
		}
	}
	if math.IsNaN(w.InorganicCarbon) || w.InorganicCarbon < 0 || w.InorganicCarbon > highestTotal {
		return fmt.Errorf("solve water: inorganic carbon is %g mol/L; it must be between 0 and %g", w.InorganicCarbon, highestTotal)
	}
	if math.IsNaN(w.Alkalinity) || math.Abs(w.Alkalinity) > highestTotal {
		return fmt.Errorf("solve water: alkalinity is %g eq/L; it must be between -%g and %g (check the unit)", w.Alkalinity, highestTotal, highestTotal)
	}
	return nil
}

// Plus adds a change, times a factor, to every total, to alkalinity and to inorganic carbon. Temperature stays. A small
// negative remainder of a subtraction (below 1e-12 mol/L) is set to zero.
func (w Water) Plus(change Water, times float64) Water {
	for _, name := range totalNames {
		p := w.Total(name)
		*p = tidy(*p + times**change.Total(name))
	}
	w.Alkalinity += times * change.Alkalinity
	w.InorganicCarbon = tidy(w.InorganicCarbon + times*change.InorganicCarbon)
	return w
}

func tidy(v float64) float64 {
	if v < 0 && v > -1e-12 {
		return 0
	}
	return v
}

// Part is a water and how much of it goes into a blend, in any unit of volume.
type Part struct {
	Water  Water
	Volume float64
}

// Blend mixes waters without gas exchange: totals, alkalinity, inorganic carbon and temperature are the means by volume
// (heat capacity and density taken as equal). pH is not: solve the blend.
func Blend(parts ...Part) (Water, error) {
	volume := 0.0
	for i, p := range parts {
		if math.IsNaN(p.Volume) || math.IsInf(p.Volume, 0) || p.Volume < 0 {
			return Water{}, fmt.Errorf("blend waters: part %d has volume %g; it must be zero or more", i+1, p.Volume)
		}
		volume += p.Volume
	}
	if volume == 0 || math.IsInf(volume, 0) {
		return Water{}, fmt.Errorf("blend waters: the volumes add up to %g", volume)
	}
	var mixed Water
	for _, p := range parts {
		share := p.Volume / volume
		mixed = mixed.Plus(p.Water, share)
		mixed.Temperature += share * p.Water.Temperature
	}
	return mixed, nil
}

// Charges returns the sums of the analysis in equivalents per litre: cations without H+, and anions with alkalinity. Their
// difference is the charge that the analysis leaves unexplained; reactions and blending conserve it. A negative alkalinity
// counts as cations.
func (w Water) Charges() (cations, anions float64) {
	cations = 2*w.Calcium + 2*w.Magnesium + w.Sodium + w.Potassium + w.Ammonium
	anions = w.Chloride + 2*w.Sulfate + w.Nitrate + w.Fluoride + w.Phosphate + w.Lactate + w.Citrate
	if w.Alkalinity >= 0 {
		return cations, anions + w.Alkalinity
	}
	return cations - w.Alkalinity, anions
}

// ChargeError returns 100 (cations - anions)/(cations + anions) of the analysis, in per cent: the form of Standard Methods
// 1030 E, whose denominator is the sum and not the mean. It is 0 for a water without ions.
func (w Water) ChargeError() float64 {
	cations, anions := w.Charges()
	if cations+anions == 0 {
		return 0
	}
	return 100 * (cations - anions) / (cations + anions)
}
