package equilibrium

// LogCarbonicFirst is log K1 of CO2(aq) + H2O = H+ + HCO3-, CO2(aq) meaning CO2 + H2CO3, at a temperature in degC.
// Source: Plummer & Busenberg, Geochim. Cosmochim. Acta 46 (1982) 1011, Table 1; 0 to 90 degC.
func LogCarbonicFirst(celsius float64) float64 { return atCelsius(celsius).carbonicFirst() }

// LogCarbonicSecond is log K2 of HCO3- = H+ + CO3 2-. Source: Plummer & Busenberg 1982, Table 1; 0 to 90 degC.
func LogCarbonicSecond(celsius float64) float64 { return atCelsius(celsius).carbonicSecond() }

// LogHenry is log KH of CO2(g) = CO2(aq) in mol/(kg atm). Source: Plummer & Busenberg 1982, Table 1; 0 to 90 degC.
func LogHenry(celsius float64) float64 { return atCelsius(celsius).henry() }

// LogCalcite is log Ksp of calcite. Source: Plummer & Busenberg 1982, Table 1 (-8.48 at 25 degC); 0 to 90 degC. Some
// compilations use -8.45; a saturation index is then lower by 0.03.
func LogCalcite(celsius float64) float64 { return atCelsius(celsius).calcite() }

// LogAragonite is log Ksp of aragonite. Source: Plummer & Busenberg 1982, Table 1 (-8.336 at 25 degC).
func LogAragonite(celsius float64) float64 { return atCelsius(celsius).aragonite() }

// LogGypsum is log Ksp of gypsum. Source: Nordstrom 1990 (-4.58 at 25 degC), analytic form of WATEQ4F.
func LogGypsum(celsius float64) float64 { return atCelsius(celsius).gypsum() }

// LogBrucite is log K of Mg(OH)2 + 2 H+ = Mg2+ + 2 H2O: 16.792 at 25 degC and -25.84 kcal/mol, WATEQ4F, from memory; with Kw
// it stands for a solubility product of 6e-12.
func LogBrucite(celsius float64) float64 { return atCelsius(celsius).brucite() }

// LogWater is log Kw. Source: Harned & Hamer, J. Am. Chem. Soc. 55 (1933) 2194, as in Harned & Owen, The Physical
// Chemistry of Electrolytic Solutions, 3rd ed. (1958), and Standard Methods 2330; measured from 0 to 60 degC. Beyond,
// the form runs 0.02 from Marshall & Franck, J. Phys. Chem. Ref. Data 10 (1981) 295 at 75 degC.
func LogWater(celsius float64) float64 { return atCelsius(celsius).water() }

// AllSpecies lists every species of the model.
func AllSpecies() []Species {
	all := make([]Species, speciesCount)
	for i := range all {
		all[i] = Species(i)
	}
	return all
}

// TotalNames lists the names that Total accepts.
func TotalNames() []string { return append([]string(nil), totalNames...) }

// Saturated is a water after a mineral has precipitated or dissolved to equilibrium.
type Saturated struct {
	Solution Solution
	// Precipitated is mol/L that came out of solution, negative where the mineral would dissolve.
	Precipitated float64
}

// PrecipitationPotential returns the calcium carbonate precipitation potential in mg/L as CaCO3 (Standard Methods 2330 C),
// where the mineral was calcite: positive comes out of solution, negative would dissolve.
func (s Saturated) PrecipitationPotential() float64 { return s.Precipitated * molarMassCalcite * 1000 }

// PrecipitateCalcite brings a closed water to equilibrium with calcite: calcium and inorganic carbon fall by x, alkalinity
// by 2x, until the saturation index is zero (Standard Methods 2330 C).
func PrecipitateCalcite(w Water) (Saturated, error) {
	d, err := HoldSolids(w, Calcite, 0)
	return Saturated{d.Solution, d.Calcite}, err
}

// PrecipitateCalciteOpen brings a water to equilibrium with calcite and with a gas of a CO2 pressure in atm together.
func PrecipitateCalciteOpen(w Water, pressure float64) (Saturated, error) {
	if err := checkPressure(pressure); err != nil {
		return Saturated{}, err
	}
	d, err := HoldSolids(w, Calcite, pressure)
	return Saturated{d.Solution, d.Calcite}, err
}

// SaturateGypsum brings a closed water to equilibrium with gypsum. Minus Precipitated is the mol/L that still dissolve.
func SaturateGypsum(w Water) (Saturated, error) {
	d, err := HoldSolids(w, GypsumSolid, 0)
	return Saturated{d.Solution, d.Gypsum}, err
}
