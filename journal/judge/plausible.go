package judge

import "wj/water"

// most are guard rails for what a reading of brewing water, or of a standard for
// it, can be, in the analyte's standard unit: brine and boiler water are not
// brewed with. Common practice, no source.
var most = map[water.ID]float64{
	water.Alkalinity: 1000, water.TotalHardness: 2000, water.CalciumHardness: 2000, water.MagnesiumHardness: 2000,
	water.Bicarbonate: 1220, water.Carbonate: 600, // 1000 mg/L CaCO3
	water.Calcium: 800, water.Magnesium: 500, // 2000 mg/L CaCO3
	water.Chloride: 1000, water.Sulfate: 2000,
	water.FreeChlorine: 200, water.TotalChlorine: 200, // sanitising, not water
	water.Iron: 100, water.Manganese: 100, water.Copper: 100, water.Zinc: 100, water.Fluoride: 100, water.Nitrite: 100,
	water.DissolvedSolids: 100_000, water.ElectricalConductivity: 200_000, // calibration standards reach 111.8 mS/cm
	water.TurbidityValue: 10_000,
}

// mostOther holds for a concentration that has no row above, mg/L.
const mostOther = 2000

// Plausible is the range in which a reading of an analyte can be at all, in its
// standard unit: pH 0 to 14 and temperatures of liquid water by definition; of
// everything else nothing is below none, and the highest is a guard rail.
func Plausible(id water.ID) (lowest, highest float64) {
	switch id {
	case water.PHValue:
		return 0, 14
	case water.SampleTemperature:
		return -2, 100
	}
	if v, ok := most[id]; ok {
		return 0, v
	}
	return 0, mostOther
}
