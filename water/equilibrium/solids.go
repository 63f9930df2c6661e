package equilibrium

// molarMassCalcite in g/mol: Ca, C and 3 O of the abridged IUPAC weights (Prohaska et al. 2022).
const molarMassCalcite = 100.086

// SolidsConvention names a way to add up dissolved solids. The three differ by up to 40 %: always show the name.
type SolidsConvention string

// The conventions.
const (
	// SolidsStandardMethods is Standard Methods 1030 E: 0.6 x alkalinity (as CaCO3) + Na + K + Ca + Mg + Cl + SO4 + SiO3 +
	// NO3-N + F. The 0.6 turns alkalinity into the carbonate that is left on drying.
	SolidsStandardMethods SolidsConvention = "Standard Methods 1030 E"
	// SolidsConstituents is the USGS sum of constituents: bicarbonate counted at 0.4917 of its mass, nitrate as NO3, silica
	// as SiO2, the rest in full (USGS WRI 02-4045, 2002, after Fishman & Friedman 1989).
	SolidsConstituents SolidsConvention = "USGS sum of constituents"
	// SolidsIons is the sum of all ions as analysed, bicarbonate in full, silica as SiO2.
	SolidsIons SolidsConvention = "sum of ions"
)

// Masses in g/mol, from the abridged IUPAC weights (Prohaska et al. 2022).
const (
	massCa, massMg, massNa, massK, massNH4             = 40.078, 24.305, 22.990, 39.098, 18.039
	massCl, massSO4, massNO3, massN, massF             = 35.45, 96.056, 62.004, 14.007, 18.998
	massPO4, massLactate, massCitrate                  = 94.970, 89.070, 189.099
	massSiO2, massSiO3, massBicarbonate, massCarbonate = 60.083, 76.082, 61.016, 60.008
)

// DissolvedSolids returns mg/L by a convention, from the totals. Carbonate is counted as bicarbonate equal to the
// alkalinity in the first two; the sum of ions distinguishes bicarbonate and carbonate. An unknown convention gives the sum
// of ions.
func (s *Solution) DissolvedSolids(by SolidsConvention) float64 {
	w := &s.Water
	base := 1000 * (massCa*w.Calcium + massMg*w.Magnesium + massNa*w.Sodium + massK*w.Potassium + massCl*w.Chloride +
		massSO4*w.Sulfate + massF*w.Fluoride)
	organic := 1000 * (massPO4*w.Phosphate + massLactate*w.Lactate + massCitrate*w.Citrate)
	ammonium := 1000 * massNH4 * w.Ammonium
	alkalinity := max(0, w.Alkalinity)
	switch by {
	case SolidsStandardMethods:
		return base + 0.6*alkalinity*molarMassCalcite/2*1000 + 1000*(massSiO3*w.Silica+massN*w.Nitrate)
	case SolidsConstituents:
		return base + 0.4917*massBicarbonate*alkalinity*1000 + 1000*(massSiO2*w.Silica+massNO3*w.Nitrate) + ammonium + organic
	}
	bicarbonate := s.amount[Bicarbonate] + s.amount[CalciumBicarbonate] + s.amount[MagnesiumBicarbonate] + s.amount[SodiumBicarbonate]
	carbonate := s.amount[Carbonate] + s.amount[CalciumCarbonate] + s.amount[MagnesiumCarbonate]
	return base + 1000*(massBicarbonate*bicarbonate+massCarbonate*carbonate+massSiO2*w.Silica+massNO3*w.Nitrate) + ammonium + organic
}
