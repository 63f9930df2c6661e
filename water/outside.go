package water

// A figure from outside, a laboratory's or a supplier's, often comes without its uncertainty. What laboratories differ by is published;
// where nothing is declared these figures are taken, as half-widths of 95 %: twice the standard deviation between laboratories, as an
// absolute part and a part of the value, fitted to the levels of the study.
const (
	// Methods for Chemical Analysis of Water and Wastes, EPA-600/4-79-020 (1979, revised 1983), section "Precision and Accuracy": 17 to
	// 20 laboratories and six synthetic waters each. 120.1 was read in a public copy (dnrweblink.state.co.us, document 573131), the
	// others are from memory.
	studyEPA = "EPA-600/4-79-020, method "
	// Directive (EU) 2020/2184, Annex III part B, table 1: what the uncertainty of a laboratory that tests drinking water may be at
	// most (k = 2), as a part of the limit; here as that part of the value and a bench test's absolute part. From memory.
	mostEU = "Directive (EU) 2020/2184, Annex III part B, table 1, from memory"
)

var outside = map[ID]struct {
	Accuracy
	source string
}{
	PHValue:                {Accuracy{Absolute: 0.2}, mostEU},
	Alkalinity:             {Accuracy{Absolute: 2, Relative: 0.075}, studyEPA + "310.1, from memory"},
	Bicarbonate:            {Accuracy{Absolute: 2.4, Relative: 0.075}, studyEPA + "310.1, from memory"},
	TotalHardness:          {Accuracy{Absolute: 4, Relative: 0.035}, studyEPA + "130.2, from memory"},
	CalciumHardness:        {Accuracy{Absolute: 4, Relative: 0.035}, studyEPA + "130.2, from memory"},
	MagnesiumHardness:      {Accuracy{Absolute: 4, Relative: 0.035}, studyEPA + "130.2, from memory"},
	Calcium:                {Accuracy{Absolute: 1.6, Relative: 0.035}, studyEPA + "130.2, from memory"},
	Magnesium:              {Accuracy{Absolute: 1, Relative: 0.035}, studyEPA + "130.2, from memory"},
	Sodium:                 {Accuracy{Absolute: 0.5, Relative: 0.15}, mostEU},
	Potassium:              {Accuracy{Absolute: 0.5, Relative: 0.15}, mostEU + "; as sodium"},
	Chloride:               {Accuracy{Absolute: 1.8, Relative: 0.055}, studyEPA + "325.3, from memory"},
	Sulfate:                {Accuracy{Absolute: 3.2, Relative: 0.095}, studyEPA + "375.4, from memory"},
	Nitrate:                {Accuracy{Absolute: 0.5, Relative: 0.15}, mostEU},
	Nitrite:                {Accuracy{Absolute: 0.02, Relative: 0.2}, mostEU},
	Ammonium:               {Accuracy{Absolute: 0.05, Relative: 0.4}, mostEU},
	Fluoride:               {Accuracy{Absolute: 0.05, Relative: 0.2}, mostEU},
	Iron:                   {Accuracy{Absolute: 0.02, Relative: 0.3}, mostEU},
	Manganese:              {Accuracy{Absolute: 0.01, Relative: 0.3}, mostEU},
	Copper:                 {Accuracy{Absolute: 0.05, Relative: 0.25}, mostEU},
	TurbidityValue:         {Accuracy{Absolute: 0.2, Relative: 0.3}, mostEU},
	ElectricalConductivity: {Accuracy{Absolute: 1, Relative: 0.145}, studyEPA + "120.1"},
}

// Outside is the 95 % accuracy taken for a figure from outside that declares none, and its source: what laboratories differ by, or
// where that was not published what a bench test reaches.
func (a *Analyte) Outside() (Accuracy, string) {
	if row, ok := outside[a.ID]; ok {
		return row.Accuracy, row.source
	}
	return a.Typical, "as a bench test; common practice, no source"
}
