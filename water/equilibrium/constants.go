package equilibrium

import "math"

// Constants at zero ionic strength. Molality and molarity are taken as equal: the density of brewing water differs from
// 1 kg/L by at most 0.3 % where samples are measured, and heating a water does not change its amounts per kilogram.
//
// The coefficients of the analytic forms marked WATEQ4F were compared in 2026 with the public data file of that
// compilation as distributed with PHREEQC 3 (Parkhurst & Appelo 2013, USGS TM 6-A43); the primary source is beside
// each. WATEQ4F is Ball & Nordstrom 1991 (USGS OFR 91-183); its major-ion data are reviewed in Nordstrom, Plummer,
// Langmuir, Busenberg, May, Jones & Parkhurst 1990 ("Revised chemical equilibrium data for major water-mineral reactions
// and their limitations", ACS Symposium Series 416, ch. 31), Table I; here "Nordstrom 1990".

const (
	zeroCelsius = 273.15
	// gasConstant in kJ/(mol K): CODATA 2018.
	gasConstant = 8.314462618e-3
	// calorie in joules, thermochemical: the enthalpies of Nordstrom 1990 are in kcal/mol.
	calorie = 4.184
)

// thermal carries the powers of the temperature that every analytic form uses.
type thermal struct {
	kelvin, inverse, log, inverseSquare float64
}

func atCelsius(celsius float64) thermal {
	k := celsius + zeroCelsius
	return thermal{kelvin: k, inverse: 1 / k, log: math.Log10(k), inverseSquare: 1 / (k * k)}
}

// analytic is a + bT + c/T + d log T + e/T^2, the form of Plummer & Busenberg (1982) and of WATEQ4F.
func (t thermal) analytic(a, b, c, d, e float64) float64 {
	return a + b*t.kelvin + c*t.inverse + d*t.log + e*t.inverseSquare
}

// vantHoff moves log K from 25 degC with a constant reaction enthalpy in kJ/mol.
func (t thermal) vantHoff(logK25, enthalpy float64) float64 {
	return logK25 - enthalpy/(math.Ln10*gasConstant)*(t.inverse-1/298.15)
}

// heatCapacity is vantHoff with a constant change of heat capacity besides, in kJ/(mol K): the Clarke & Glew equation
// (Trans. Faraday Soc. 62 (1966) 539) to its second term.
func (t thermal) heatCapacity(logK25, enthalpy, capacity float64) float64 {
	ratio := 298.15 * t.inverse
	return t.vantHoff(logK25, enthalpy) + capacity/(math.Ln10*gasConstant)*(ratio-1-math.Log(ratio))
}

func (t thermal) carbonicFirst() float64 {
	return t.analytic(-356.3094, -0.06091964, 21834.37, 126.8339, -1684915)
}

func (t thermal) carbonicSecond() float64 {
	return t.analytic(-107.8871, -0.03252849, 5151.79, 38.92561, -563713.9)
}

func (t thermal) henry() float64 {
	return t.analytic(108.3865, 0.01985076, -6919.53, -40.45154, 669365)
}

func (t thermal) calcite() float64 {
	return t.analytic(-171.9065, -0.077993, 2839.319, 71.595, 0)
}

func (t thermal) aragonite() float64 {
	return t.analytic(-171.9773, -0.077993, 2903.293, 71.595, 0)
}

func (t thermal) gypsum() float64 {
	return t.analytic(68.2401, 0, -3221.51, -25.0627, 0)
}

// brucite is log K of Mg(OH)2 + 2 H+ = Mg2+ + 2 H2O: 16.84 at 25 degC and -27.1 kcal/mol, WATEQ4F; with Kw it stands for a
// solubility product of 7e-12.
func (t thermal) brucite() float64 { return t.vantHoff(16.84, -27.1*calorie) }

func (t thermal) water() float64 {
	return 6.0875 - 4470.99*t.inverse - 0.01706*t.kelvin
}

// debyeHuckel returns A in (kg/mol)^1/2 and B in (kg/mol)^1/2 per angstrom.
// Sources: A = 1.82e6 (E T)^-1.5 and E = 60954/(T+116) - 68.937, Standard Methods 2330 B; B = 50.3 (E T)^-0.5, Truesdell
// & Jones, J. Res. USGS 2 (1974) 233.
func (t thermal) debyeHuckel() (a, b float64) {
	dielectric := 60954/(t.kelvin+116) - 68.937
	et := dielectric * t.kelvin
	root := math.Sqrt(et)
	return 1.82e6 / (et * root), 50.3 / root
}

// constants holds all that depends on temperature alone, as natural logarithms for the solver.
type constants struct {
	a, b                                       float64
	lnK                                        [speciesCount]float64
	henry, calcite, aragonite, gypsum, brucite float64 // log10
}

func constantsAt(celsius float64) constants {
	t := atCelsius(celsius)
	var c constants
	c.a, c.b = t.debyeHuckel()
	c.henry, c.calcite, c.aragonite, c.gypsum, c.brucite = t.henry(), t.calcite(), t.aragonite(), t.gypsum(), t.brucite()
	c.fill(t)
	for i := range c.lnK {
		c.lnK[i] *= math.Ln10
	}
	return c
}

// fill writes log10 K of each species from the components of species.go (zero for the components themselves).
func (c *constants) fill(t thermal) {
	k := &c.lnK
	k[Hydroxide] = t.water()

	k1 := t.carbonicFirst()
	k2 := k1 + t.carbonicSecond()
	k[Bicarbonate], k[Carbonate] = k1, k2
	// Calcium pairs: Plummer & Busenberg 1982, Table 1 (1.106 and 3.224 at 25 degC).
	k[CalciumBicarbonate] = k1 + t.analytic(1209.12, 0.31294, -34765.05, -478.782, 0)
	k[CalciumCarbonate] = k2 + t.analytic(-1228.732, -0.299444, 35512.75, 485.818, 0)
	// Magnesium and sodium pairs: Nordstrom 1990 (1.07, 2.98, -0.25 at 25 degC), analytic forms of WATEQ4F. The pair NaCO3-
	// of that table (log K 1.27) is left out: with it the carbonate reference buffer of Buck et al. (IUPAC 2002) comes out 0.15
	// too low at 25 degC, without it within 0.02 from 10 to 40 degC; see the rows BF of the published values.
	k[MagnesiumBicarbonate] = k1 + t.analytic(-59.215, 0, 2537.455, 20.92298, 0)
	k[MagnesiumCarbonate] = k2 + t.analytic(0.9910, 0.00667, 0, 0, 0)
	k[SodiumBicarbonate] = k1 - 0.25

	// Sulfate: Nordstrom 1990.
	k[CalciumSulfate] = t.vantHoff(2.30, 1.65*calorie)
	k[MagnesiumSulfate] = t.vantHoff(2.37, 4.55*calorie)
	k[SodiumSulfate] = t.vantHoff(0.70, 1.12*calorie)
	k[PotassiumSulfate] = t.analytic(3.106, 0, -673.6, 0, 0)
	k[Bisulfate] = t.analytic(-56.889, 0.006473, 2307.9, 19.8858, 0) // 1.988 at 25 degC
	k[AmmoniumSulfate] = 1.11                                        // WATEQ4F

	// Hydrolysis: Nordstrom 1990. No enthalpy is given there for CaOH+.
	k[CalciumHydroxide] = -12.78
	k[MagnesiumHydroxide] = t.vantHoff(-11.44, 15.952*calorie)

	// Ammonia and silicic acid: WATEQ4F.
	k[Ammonia] = t.analytic(0.6322, -0.001225, -2835.76, 0, 0) // -9.244 at 25 degC
	k[SilicateOne] = t.analytic(-302.3724, -0.050698, 15669.69, 108.18466, -1119669)
	k[SilicateTwo] = t.analytic(-294.0184, -0.07265, 11204.49, 108.18466, -1119669)

	// Fluoride: Nordstrom 1990.
	k[HydrogenFluoride] = t.analytic(-2.033, 0.012645, 429.01, 0, 0) // 3.18 at 25 degC
	k[CalciumFluoride] = t.vantHoff(0.94, 4.12*calorie)
	k[MagnesiumFluoride] = t.vantHoff(1.82, 3.20*calorie)

	// Phosphoric acid: Goldberg, Kishore & Lennen, J. Phys. Chem. Ref. Data 31 (2002) 231; the heat capacities from memory,
	// borne out by the phosphate buffers of the published values. Pairs: WATEQ4F.
	p2 := t.heatCapacity(-7.198, 3.6, -0.230)
	p3 := p2 + t.heatCapacity(-12.35, 16.0, -0.242)
	k[PhosphoricAcid] = t.heatCapacity(2.148, 8.0, 0.141)
	k[PhosphateOne], k[PhosphateTwo] = p2, p3
	k[CalciumDihydrogenPhosphate] = t.vantHoff(1.408, 3.4*calorie)
	k[CalciumHydrogenPhosphate] = p2 + t.vantHoff(2.739, 3.3*calorie)
	k[CalciumPhosphate] = p3 + t.vantHoff(6.459, 3.1*calorie)
	k[MagnesiumDihydrogenPhosphate] = t.vantHoff(1.513, 3.4*calorie)
	k[MagnesiumHydrogenPhosphate] = p2 + t.vantHoff(2.87, 3.3*calorie)
	k[MagnesiumPhosphate] = p3 + t.vantHoff(6.589, 3.1*calorie)
	k[SodiumHydrogenPhosphate] = p2 + 0.29
	k[PotassiumHydrogenPhosphate] = p2 + 0.29

	// Lactic acid: pKa CRC Handbook, enthalpy Goldberg et al. 2002; both from memory. Pairs: Martell & Smith, Critical
	// Stability Constants 3 (1977), from memory.
	k[LacticAcid] = t.vantHoff(3.86, 0.33)
	k[CalciumLactate] = 1.48
	k[MagnesiumLactate] = 1.37

	// Citric acid: Goldberg et al. 2002, heat capacities from memory. Pairs: NIST Critically Selected Stability Constants (SRD 46, 2001) as in the
	// MINTEQA2 version 4 compilation, from memory; the constants there are from Cit3- and H+.
	c2 := t.heatCapacity(-4.761, 2.23, -0.178)
	c3 := c2 + t.heatCapacity(-6.396, -3.38, -0.254)
	k[CitricAcid] = t.heatCapacity(3.128, -4.07, 0.131)
	k[CitrateOne], k[CitrateTwo] = c2, c3
	k[CalciumCitrate] = c3 + t.vantHoff(4.87, -8)
	k[CalciumHydrogenCitrate] = c3 + 9.26
	k[CalciumDihydrogenCitrate] = c3 + 12.257
	k[MagnesiumCitrate] = c3 + t.vantHoff(4.89, 8)
	k[MagnesiumHydrogenCitrate] = c3 + 8.91
	k[MagnesiumDihydrogenCitrate] = c3 + 12.20
	k[SodiumCitrate] = c3 + t.vantHoff(1.03, -2.8)
	k[PotassiumCitrate] = c3 + t.vantHoff(1.10, 5.4)
}
