package lint

var doseIonMax = &Rule{
	Name: "dose/ion-max", Severity: Warning, Scope: Whole, Reach: OfRecord, Check: checkDose,
	Title: "the treated liquor holds more of an ion than brewers use or the law allows in drinking water, or a dose is over its bound",
	Settings: []Threshold{
		{"calcium", "200", "", "mg/L"}, {"magnesium", "40", "", "mg/L"}, {"sodium", "150", "", "mg/L"},
		{"chloride", "250", "", "mg/L"}, {"sulfate", "400", "", "mg/L"},
	},
}
