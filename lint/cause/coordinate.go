package cause

import (
	"math"

	"wj/water"
)

// The core coordinates: pH, logarithms of five ions and of the conductivity.
const (
	alk = iota
	cah
	tot
	chl
	sul
	acid
	cond
	core
	ions = 5
)

// coreOf is the coordinate of an analyte, and what turns its standard unit into
// the coordinate's.
func coreOf(id water.ID) (at int, factor float64, ok bool) {
	switch id {
	case water.Alkalinity:
		return alk, 1, true
	case water.Bicarbonate:
		return alk, 50.043 / 61.016, true // mg/L HCO3 to mg/L CaCO3, as one charge each
	case water.CalciumHardness:
		return cah, 1, true
	case water.Calcium:
		return cah, 100.086 / 40.078, true
	case water.TotalHardness:
		return tot, 1, true
	case water.Chloride:
		return chl, 1, true
	case water.Sulfate:
		return sul, 1, true
	case water.PHValue:
		return acid, 1, true
	case water.ElectricalConductivity:
		return cond, 1, true
	}
	return 0, 1, false
}

// swinging are analytes that go up and down from day to day for good reason, and
// tell nothing of which water it is.
var swinging = water.SetOf(water.SampleTemperature, water.FreeChlorine, water.TotalChlorine, water.TurbidityValue)

// offset is c1 of log(c + c1): half the lower limit of common tests, so that small
// numbers do not weigh more than they are worth.
func offset(id water.ID) float64 {
	switch id {
	case water.Alkalinity, water.Bicarbonate, water.CalciumHardness, water.TotalHardness, water.MagnesiumHardness:
		return 5
	case water.Calcium, water.Sulfate, water.Magnesium, water.DissolvedSolids:
		return 2
	case water.Iron, water.Manganese, water.Copper, water.Zinc, water.Nitrite, water.Ammonium, water.Fluoride, water.Phosphate:
		return 0.05
	}
	return 1
}

// lift is the coordinate of a value, and the slope there.
func lift(id water.ID, c float64) (x, slope float64) {
	if id == water.PHValue {
		return c, 1
	}
	c1 := offset(id)
	c = math.Max(c, 0)
	return math.Log(c + c1), 1 / (c + c1)
}

// lower is the value of a coordinate.
func lower(id water.ID, x float64) float64 {
	if id == water.PHValue {
		return x
	}
	return math.Max(0, math.Exp(x)-offset(id))
}

var coreID = [core]water.ID{water.Alkalinity, water.CalciumHardness, water.TotalHardness, water.Chloride, water.Sulfate, water.PHValue, water.ElectricalConductivity}

// sodium is the charge that is left for sodium and its like, meq/L, from the ions
// in mg/L (alkalinity and hardness as CaCO3). Equivalent masses: IUPAC 2021.
func sodium(c *[ions]float64) float64 {
	return c[alk]/50.043 + c[chl]/35.45 + c[sul]/48.028 - c[tot]/50.043
}

// conductivity is the logarithm of the conductivity that the ions make, plus one
// uS/cm, and its slopes by the coordinates: limiting conductances with the
// correction of SM 2510 A.3 for ionic strength (from memory), sodium by difference.
func conductivity(x *[core]float64) (at float64, slope [ions]float64) {
	at = logConductivity(x)
	const h = 1e-4
	for i := range slope {
		y := *x
		y[i] += h
		slope[i] = (logConductivity(&y) - at) / h
	}
	return at, slope
}

func logConductivity(x *[core]float64) float64 {
	var c [ions]float64
	for i := range c {
		c[i] = lower(coreID[i], x[i])
	}
	na := sodium(&c)
	na = 0.05 * math.Log1p(math.Exp(math.Min(na/0.05, 500))) // never below nothing, and smooth there
	hard, base := c[tot]/50.043, c[alk]/50.043
	cl, so := c[chl]/35.45, c[sul]/48.028
	k := 57*hard + 44.5*base + 76.35*cl + 80*so + 50.11*na
	root := math.Sqrt((2*hard + base + cl + 2*so + na) / 2000)
	y := math.Pow(10, -0.5*(root/(1+root)-0.3*root*root))
	return math.Log(k*y*y + 1)
}
