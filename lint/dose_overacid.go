package lint

var doseOverAcid = &Rule{
	Name: "dose/over-acid", Severity: Error, Scope: Whole, Reach: OfRecord, Check: checkDose,
	Title: "the acid takes more alkalinity than the water has, or nearly all of it",
	Settings: []Threshold{
		{"least", "20", "", "alkalinity that should be left, mg/L CaCO3"},
		{"pH", "4.5", "", "lowest pH of a liquor"},
	},
}
