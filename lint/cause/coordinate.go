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
// show nothing of which water it is.
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
	c, _ := lowered(id, x)
	return c
}

// lowered is the value of a coordinate, and the slope of lift there.
func lowered(id water.ID, x float64) (c, slope float64) {
	if id == water.PHValue {
		return x, 1
	}
	c1, e := offset(id), math.Exp(x)
	if e < c1 {
		return 0, 1 / c1
	}
	return e - c1, 1 / e
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
	var c, d [ions]float64 // values, and what they change by their coordinates
	for i := range c {
		var s float64
		c[i], s = lowered(coreID[i], x[i])
		if d[i] = 1 / s; c[i] == 0 {
			d[i] = 0
		}
	}
	// Of the sodium by difference, never below nothing, and smooth there.
	const soft = 0.05
	e := math.Exp(math.Min(sodium(&c)/soft, 500))
	na, ofNa := soft*math.Log1p(e), e/(1+e)
	hard, base := c[tot]/50.043, c[alk]/50.043
	cl, so := c[chl]/35.45, c[sul]/48.028
	k := 57*hard + 44.5*base + 76.35*cl + 80*so + 50.11*na
	root := math.Sqrt((2*hard + base + cl + 2*so + na) / 2000)
	y2 := math.Exp(-math.Ln10 * (root/(1+root) - 0.3*root*root))
	ofRoot := -math.Ln10 * (1/sq(1+root) - 0.6*root) // of the logarithm of y2
	for i, m := range [ions]struct{ equivalent, lambda, strength, sodium float64 }{
		alk: {50.043, 44.5, 1, 1}, cah: {1, 0, 0, 0}, tot: {50.043, 57, 2, -1}, chl: {35.45, 76.35, 1, 1}, sul: {48.028, 80, 2, 1},
	} {
		na := m.sodium * ofNa
		dk := (m.lambda + 50.11*na) / m.equivalent * d[i]
		dRoot := (m.strength + na) / m.equivalent * d[i] / 2000 / (2 * root)
		slope[i] = y2 * (dk + k*ofRoot*dRoot) / (k*y2 + 1)
	}
	return math.Log(k*y2 + 1), slope
}
