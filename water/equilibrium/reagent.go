package equilibrium

import (
	"fmt"
	"math"
)

// Reagent names something pure that is added to water. A reagent adds conservative totals, so additions commute and
// scale; the volume that a solution of it brings is left out (0.1 % at a millilitre per litre).
type Reagent int

// The reagents. Hydrates differ by mass alone and are not distinguished here.
const (
	ReagentHydrochloricAcid Reagent = iota
	ReagentSulfuricAcid
	ReagentLacticAcid
	ReagentPhosphoricAcid
	ReagentCitricAcid
	ReagentSodiumHydroxide
	ReagentCalciumHydroxide
	ReagentSodiumBicarbonate
	ReagentSodiumCarbonate
	ReagentCalciumCarbonate
	ReagentCalciumSulfate
	ReagentCalciumChloride
	ReagentMagnesiumSulfate
	ReagentMagnesiumChloride
	ReagentSodiumChloride
	ReagentPotassiumChloride
	ReagentSodiumSulfate
	ReagentCarbonDioxide
	reagentCount
)

// reagents holds what one mole adds. An acid's alkalinity follows from the zero level of protons at Water.Alkalinity: a
// mole of phosphoric, lactic or citric acid gives one proton down to that level and keeps the rest in its species.
var reagents = [reagentCount]struct {
	name   string
	change Water
}{
	ReagentHydrochloricAcid:  {"hydrochloric acid", Water{Chloride: 1, Alkalinity: -1}},
	ReagentSulfuricAcid:      {"sulfuric acid", Water{Sulfate: 1, Alkalinity: -2}},
	ReagentLacticAcid:        {"lactic acid", Water{Lactate: 1, Alkalinity: -1}},
	ReagentPhosphoricAcid:    {"phosphoric acid", Water{Phosphate: 1, Alkalinity: -1}},
	ReagentCitricAcid:        {"citric acid", Water{Citrate: 1, Alkalinity: -1}},
	ReagentSodiumHydroxide:   {"sodium hydroxide", Water{Sodium: 1, Alkalinity: 1}},
	ReagentCalciumHydroxide:  {"calcium hydroxide", Water{Calcium: 1, Alkalinity: 2}},
	ReagentSodiumBicarbonate: {"sodium bicarbonate", Water{Sodium: 1, Alkalinity: 1, InorganicCarbon: 1}},
	ReagentSodiumCarbonate:   {"sodium carbonate", Water{Sodium: 2, Alkalinity: 2, InorganicCarbon: 1}},
	ReagentCalciumCarbonate:  {"calcium carbonate", Water{Calcium: 1, Alkalinity: 2, InorganicCarbon: 1}},
	ReagentCalciumSulfate:    {"calcium sulfate", Water{Calcium: 1, Sulfate: 1}},
	ReagentCalciumChloride:   {"calcium chloride", Water{Calcium: 1, Chloride: 2}},
	ReagentMagnesiumSulfate:  {"magnesium sulfate", Water{Magnesium: 1, Sulfate: 1}},
	ReagentMagnesiumChloride: {"magnesium chloride", Water{Magnesium: 1, Chloride: 2}},
	ReagentSodiumChloride:    {"sodium chloride", Water{Sodium: 1, Chloride: 1}},
	ReagentPotassiumChloride: {"potassium chloride", Water{Potassium: 1, Chloride: 1}},
	ReagentSodiumSulfate:     {"sodium sulfate", Water{Sodium: 2, Sulfate: 1}},
	ReagentCarbonDioxide:     {"carbon dioxide", Water{InorganicCarbon: 1}},
}

// String returns the name of the reagent.
func (r Reagent) String() string {
	if r < 0 || r >= reagentCount {
		return "unknown reagent"
	}
	return reagents[r].name
}

// PerMole returns what one mole of the reagent adds to a litre, as a Water whose temperature means nothing.
func (r Reagent) PerMole() Water {
	if r < 0 || r >= reagentCount {
		return Water{}
	}
	return reagents[r].change
}

// Add returns the water after mol per litre of a reagent have dissolved and reacted, without gas exchange and without
// precipitation. A negative amount takes back an addition.
func Add(w Water, r Reagent, molPerLitre float64) (Water, error) {
	if r < 0 || r >= reagentCount {
		return Water{}, fmt.Errorf("add reagent to water: reagent %d is not known", int(r))
	}
	if math.IsNaN(molPerLitre) || math.IsInf(molPerLitre, 0) {
		return Water{}, fmt.Errorf("add %v to water: the amount is not a number", r)
	}
	after := w.Plus(reagents[r].change, molPerLitre)
	if err := after.check(); err != nil {
		return Water{}, fmt.Errorf("add %g mol/L of %v: %w", molPerLitre, r, err)
	}
	return after, nil
}

// Titrate returns the strong acid, eq/L, that brings a closed water down to an end-point pH: the alkalinity that a
// titration to that pH finds. Standard Methods 2320 B names the end points 4.9, 4.6 and 4.3 for about 30, 150 and
// 500 mg/L as CaCO3; DIN 38409-7 and EN ISO 9963-1 use 4.3 and 4.5. It is negative for a water below the end point.
func Titrate(w Water, endPoint float64) (float64, error) {
	if math.IsNaN(endPoint) || endPoint < lowestPH || endPoint > highestPH {
		return 0, fmt.Errorf("titrate water: end point pH %g is outside %g to %g", endPoint, lowestPH, highestPH)
	}
	if err := w.check(); err != nil {
		return 0, err
	}
	// The acid of the titration is taken as HCl: its chloride, not the acid's name, enters the ionic strength.
	left, err := alkalinityAt(w, endPoint)
	for range 20 {
		if err != nil {
			return 0, fmt.Errorf("titrate water: %w", err)
		}
		titrated := w
		titrated.Chloride += math.Max(0, w.Alkalinity-left)
		var again float64
		again, err = alkalinityAt(titrated, endPoint)
		if math.Abs(again-left) < 1e-13 {
			break
		}
		left = again
	}
	if err != nil {
		return 0, fmt.Errorf("titrate water: %w", err)
	}
	return w.Alkalinity - left, nil
}

// AlkalinityAt is the alkalinity, eq/L, that a closed water with these totals, inorganic carbon among them, has at a pH: the
// inverse of Speciate for a pH that is asked for, at the cost of one solution. The alkalinity of the argument is not used. The
// protons that it takes or gives bring no ion of their own; Titrate counts those of its acid.
func AlkalinityAt(w Water, pH float64) (float64, error) {
	if math.IsNaN(pH) || pH < lowestPH || pH > highestPH {
		return 0, fmt.Errorf("find alkalinity at pH %g: it is outside %g to %g", pH, lowestPH, highestPH)
	}
	return alkalinityAt(w, pH)
}

func alkalinityAt(w Water, pH float64) (float64, error) {
	var s solver
	if err := s.hold(&w, pH); err != nil {
		return 0, err
	}
	return s.alkalinity(), nil
}

// hold solves a closed water with H+ held at a pH.
func (s *solver) hold(w *Water, pH float64) error {
	if err := w.check(); err != nil {
		return err
	}
	s.fixed[Hydrogen] = true
	s.load(w)
	s.startAt(pH)
	s.arrange()
	if err := s.solve(); err != nil {
		return err
	}
	if s.strength > highestStrength {
		return fmt.Errorf("ionic strength %.3g mol/L is above %g: %w", s.strength, highestStrength, ErrNoSolution)
	}
	return nil
}

// Protons is how many protons a mole of a weak acid's anion has taken up, above the zero level of Water.Alkalinity; NaN
// where the water holds none of it. Carbon is that of a mole of inorganic carbon, above carbonic acid: below zero where some is
// still bicarbonate. Free, mol/L, are those that none of them holds: as H+, and with sulfate and the like.
type Protons struct{ Lactate, Citrate, Phosphate, Carbon, Free float64 }

// ProtonsTaken counts the protons that weak acids hold in a closed water at a pH: what lactate, citrate and phosphate add
// to an alkalinity titration that ends there.
func ProtonsTaken(w Water, pH float64) (Protons, error) {
	if math.IsNaN(pH) || pH < lowestPH || pH > highestPH {
		return Protons{}, fmt.Errorf("count protons at pH %g: it is outside %g to %g", pH, lowestPH, highestPH)
	}
	var s solver
	if err := s.hold(&w, pH); err != nil {
		return Protons{}, err
	}
	held := map[Species]float64{}
	for _, j := range s.present {
		by, protons := Hydrogen, 0.0
		for _, t := range speciesTable[j].terms {
			switch t.component {
			case Lactate, DihydrogenCitrate, DihydrogenPhosphate, CarbonDioxide:
				by = t.component
			case Hydrogen:
				protons = t.number
			}
		}
		held[by] += protons * s.amount[j]
	}
	return Protons{held[Lactate] / w.Lactate, held[DihydrogenCitrate] / w.Citrate, held[DihydrogenPhosphate] / w.Phosphate, held[CarbonDioxide] / w.InorganicCarbon, held[Hydrogen]}, nil
}
