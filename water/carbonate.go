package water

import "math"

// assumedTemperature is taken where the sample's was not measured, degC.
// Common practice, no source: bench tests are done at room temperature.
const assumedTemperature = 20

// carbonate computes the carbonate species from alkalinity, pH and
// temperature, in mg/L; ionic strength in mmol/L; the calcite saturation index.
//
// Constants: Plummer & Busenberg 1982 (Geochimica et Cosmochimica Acta 46,
// 1011), table 9 and equations 3–6; water: Harned & Owen 1958 in the form of
// SM 2330; activity: Davies 1962 with the Debye–Hückel A of SM 2330.
func (r *resolver) carbonate(id ID) float64 {
	strength := r.ionicStrength()
	if id == IonicStrength {
		return 1000 * strength
	}
	alkalinity := r.alkalinity()
	if id == Bicarbonate && !r.a.Has(PHValue) {
		r.lack.ids = append(r.lack.ids, PHValue)
		return math.NaN()
	}
	pH := r.reading(PHValue)
	t := 273.15 + assumedTemperature
	if r.a.Has(SampleTemperature) {
		t = 273.15 + r.reading(SampleTemperature)
	}
	if math.IsNaN(pH+alkalinity) || t < 270 || t > 375 {
		return math.NaN()
	}
	if math.IsNaN(strength) {
		strength = 0
	}
	g1 := math.Pow(10, logActivity(strength, t))
	g2 := g1 * g1 * g1 * g1
	h := math.Pow(10, -pH)
	logT := math.Log10(t)
	k1 := math.Pow(10, -356.3094-0.06091964*t+21834.37/t+126.8339*logT-1684915/(t*t))
	k2 := math.Pow(10, -107.8871-0.03252849*t+5151.79/t+38.92561*logT-563713.9/(t*t))
	kw := math.Pow(10, 6.0875-4470.99/t-0.01706*t)
	ratio := k2 * g1 / (h * g2)
	free := alkalinity/(massCaCO3/2)/1000 - kw/(h*g1) + h/g1
	if free <= 0 {
		return math.NaN()
	}
	bicarbonate := free / (1 + 2*ratio)
	switch id {
	case Bicarbonate:
		return 1000 * massHCO3 * bicarbonate
	case Carbonate:
		return 1000 * massCO3 * ratio * bicarbonate
	case CarbonDioxide:
		return 1000 * massCO2 * h * g1 * bicarbonate / k1
	case SaturationIndex:
		calcium := r.calciumHardness() / massCaCO3 / 1000
		ksp := -171.9065 - 0.077993*t + 2839.319/t + 71.595*logT
		return math.Log10(calcium*g2) + math.Log10(ratio*bicarbonate*g2) - ksp
	}
	return math.NaN()
}

// logActivity is log10 of the activity coefficient of a singly charged ion.
func logActivity(strength, t float64) float64 {
	e := 60954/(t+116) - 68.937
	a := 1.82e6 * math.Pow(e*t, -1.5)
	s := math.Sqrt(strength)
	return -a * (s/(1+s) - 0.3*strength)
}

// ionicStrength is half the sum of concentration times charge squared, mol/L,
// from the ions that are known; sodium by difference where it was not measured.
func (r *resolver) ionicStrength() float64 {
	hardness := r.hardnessMeq() / 2 // mmol/L of doubly charged ions
	sum := 4*hardness + 4*r.reading(Sulfate)/massSO4 + r.reading(Chloride)/massCl + r.alkalinity()/(massCaCO3/2) +
		r.optional(Potassium)/massK + r.optional(Nitrate)/massNO3 + r.optional(Ammonium)/massNH4 + r.optional(Fluoride)/massF
	sodium := r.optionalNaN(Sodium)
	if math.IsNaN(sodium) {
		sodium = atLeast(0, r.sodiumByDifference())
	}
	return (sum + sodium/massNa) / 2 / 1000
}

// conductivity is calculated for 25 degC from the ions (SM 2510 A.3; limiting
// conductances of USGS Water-Supply Paper 2311 (1988), table 5, uS/cm per meq/L).
func (r *resolver) conductivity() float64 {
	sodium := r.optionalNaN(Sodium)
	if math.IsNaN(sodium) {
		sodium = atLeast(0, r.sodiumByDifference())
	}
	calcium := r.calciumHardness() / (massCaCO3 / 2)
	hardness := r.hardnessMeq()
	k := 59.50*calcium + 53.06*(hardness-calcium) + 50.11*sodium/massNa + 73.52*r.optional(Potassium)/massK +
		73.4*r.optional(Ammonium)/massNH4 + 44.5*r.alkalinity()/(massCaCO3/2) + 76.35*r.reading(Chloride)/massCl +
		80.0*2*r.reading(Sulfate)/massSO4 + 71.44*r.optional(Nitrate)/massNO3 + 55.32*r.optional(Fluoride)/massF
	i := r.ionicStrength()
	s := math.Sqrt(i)
	y := math.Pow(10, -0.5*(s/(1+s)-0.3*i))
	return k * y * y
}

// dissolvedSolids is the sum of SM 1030 E.2, mg/L: alkalinity counts 0.6 (the
// carbonate left on drying), silica as SiO3, nitrate as N.
func (r *resolver) dissolvedSolids() float64 {
	sodium := r.optionalNaN(Sodium)
	if math.IsNaN(sodium) {
		sodium = atLeast(0, r.sodiumByDifference())
	}
	calcium := r.calciumHardness() * massCa / massCaCO3
	magnesium := r.magnesiumHardness() * massMg / massCaCO3
	return 0.6*r.alkalinity() + sodium + r.optional(Potassium) + calcium + magnesium + r.reading(Chloride) + r.reading(Sulfate) +
		r.optional(Silica)*(massSi+3*massO)/massSiO2 + r.optional(Nitrate)*massN/massNO3 + r.optional(Fluoride)
}
